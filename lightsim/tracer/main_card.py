"""A card that lights the set at least half as much as its lamp does is traced as a lamp's face is."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.stage import Face
from lightsim.tracer.area_light import FaceWork, empty_parts
from lightsim.tracer.first_irradiance import FirstIrradiance, weighed
from lightsim.tracer.kernels import main_card_patterns
from lightsim.tracer.kernels.card_patterns import Card, patterns
from lightsim.tracer.kernels.main_card_patterns import SLOTS, THREES, Even, Seen
from lightsim.tracer.kernels.path_store import Parts
from lightsim.tracer.pack import PATCHES, pack_face
from lightsim.tracer.path_blocks import Block, numbered
from lightsim.tracer.prepared_scene import Ground


class MainCard(FaceWork):
    """What a card sends as if it shone evenly, and how its radiance is seen from each pixel.

    given : the card as kernels take it.  find_visible : finds which parts of it a block's paths see."""

    def __init__(
        self,
        ground: Ground,
        card: Face,
        given: Card,
        find_visible: Callable[[Block], None],
    ):
        super().__init__(ground, card, 1.0, given.boards)
        self._given, self._find_visible = given, find_visible
        self._first = self.first_of([pack_face(card, radiance) for radiance in _lifted_patterns()])
        self._seen = self._by_drops()

    def classify_coarse(self, block: Block) -> None:
        """Classify the visibility of the card and of each part of it, from coarse blocks of pixels."""
        super().classify_coarse(block)
        self._find_visible(block)

    def send(self, block: Block) -> Even:
        """What the card sends to the block's paths."""
        paths = block.paths
        parts = empty_parts(paths.rows * paths.width)
        self.add(block, parts)
        by_drop = paths.whole == 0
        even = Even(
            parts.petal,
            np.zeros((len(by_drop), SLOTS), dtype=np.float32),
            numbered(by_drop),
            parts.surface[by_drop],
            parts.water[by_drop],
            np.zeros((int(by_drop.sum()), 2, SLOTS), dtype=np.float32),
        )
        main_card_patterns.count(paths.rows, block.view, self._given, self._seen, block.rings, even)
        return even

    def add_sent(self, block: Block, sent: Even, shares: NDArray[np.float64], into: Parts) -> None:
        """Add what the card sent to the block's paths with its patterns weighed by shares (PATTERNS,)."""
        main_card_patterns.add_even(block.paths.rows, block.paths.width, sent, shares, into)

    def first(self, shares: NDArray[np.float64]) -> FirstIrradiance:
        """The card's light on the places of indirect light. shares: of each pattern."""
        return weighed(self._first, (2.0 * shares[0] - shares.sum(), *(2.0 * shares[1:])))

    def _by_drops(self) -> Seen:
        """How the patterns are seen past and through drops."""
        detail, many = self.ground.indirect.detail, len(self.ground.packed.rims)
        even, *patterned = self._first
        round_them = np.zeros((THREES, many, detail.rings, detail.spokes, 3), dtype=np.float32)
        base = np.zeros((THREES, many, detail.grid, detail.grid, 3), dtype=np.float32)
        for i, one in enumerate(patterned):
            change = _mean_seen(one.ring, even.ring) - _mean_seen(one.beside, even.beside)
            change = np.where(even.beside > 0.0, change, 0.0)
            round_them[i // 3, ..., i % 3] = change.reshape(many, detail.rings, detail.spokes)
            base[i // 3, ..., i % 3] = _mean_seen(one.base, even.base).reshape(many, detail.grid, detail.grid)
        return Seen(round_them, base)


def _lifted_patterns() -> list[NDArray[np.float64]]:
    """The first pattern, and the mean of it and each other one, by patches: none of them negative."""
    t = (np.arange(PATCHES) + 0.5) / PATCHES * 2.0 - 1.0
    even, *others = patterns(*np.meshgrid(t, t))
    return [even, *(0.5 * (even + one) for one in others)]


def _mean_seen(lifted: NDArray[np.float64], even: NDArray[np.float64]) -> NDArray[np.float64]:
    """The mean of a pattern over light (n, m) that a face sends with a radiance of it, lifted, and with one
    of 1; over all m places together where one gets none."""
    total = even.sum(axis=1, keepdims=True)
    share = np.divide(lifted.sum(axis=1, keepdims=True), total, out=np.full_like(total, 0.5), where=total > 0)
    share = np.divide(lifted, even, out=np.broadcast_to(share, even.shape).copy(), where=even > 0.0)
    return np.clip(2.0 * share - 1.0, -1.0, 1.0)
