"""A card's part of every layer: what it sends by each pattern of its radiance, found once for all lights."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.first_irradiance import FirstIrradiance, first_irradiances, weighed
from lightsim.tracer.kernels import card_patterns
from lightsim.tracer.kernels.card_patterns import PATTERNS, Sent, patterns
from lightsim.tracer.kernels.emitters import Lamp
from lightsim.tracer.kernels.path_store import Parts
from lightsim.tracer.kernels.visibility_cache import COARSE
from lightsim.tracer.light_tables import cell_grid, drop_visibility_of, reach_for
from lightsim.tracer.main_card import MainCard
from lightsim.tracer.pack import PATCHES, pack_face
from lightsim.tracer.path_blocks import Block, numbered
from lightsim.tracer.prepared_scene import Ground

MAIN = 0.5  # of a lamp's own light on the set, more than which makes a card a main light
INDIRECT_PATTERNS = 3  # of the indirect light: even, and growing along either side


class CardLight:
    """What one card sends, for any radiance of it.

    The parts of the card that each block of rows sees are found first, as for a light's own work; then, when
    those of the rows below are known too, `send` finds what the card sends to its paths.
    """

    def __init__(self, ground: Ground, number: int):
        self.ground = ground
        self._card = ground.boards.cards[number]
        self._lamp = self._packed(np.ones((1, 1)))
        self._boards = ground.boards.may_hide(self._card, ground.boards.camera, number)
        self._state = drop_visibility_of(ground, self._lamp)
        blocks = cell_grid(*ground.shape, COARSE)
        self._given = card_patterns.Card(
            self._lamp,
            self._boards,
            ground.seed,
            *self._at_nodes(),
            np.zeros((*blocks, len(self._lamp.node)), dtype=np.float32),
            np.ascontiguousarray(self._state[0][:, 1]),
        )
        self._looked: set[int] = set()
        self._first: list[FirstIrradiance] = []
        self._main: MainCard | None = None

    def lit_by(self, lamp: Lamp | None, glow: NDArray[np.float64]) -> CardLight | MainCard:
        """What sends the card's light of this radiance (PATCHES, PATCHES): another, more exact, where the
        card lights the middle of the set by more than MAIN of what the lamp (None: the dome) does itself."""
        if lamp is None or _on_the_middle(self._packed(glow)) <= MAIN * _on_the_middle(lamp):
            return self
        if self._main is None:
            self._main = MainCard(self.ground, self._card, self._given, self.classify_coarse)
        return self._main

    def _packed(self, radiance: NDArray[np.float64]) -> Lamp:
        return pack_face(self._card, radiance)

    def classify_coarse(self, block: Block) -> None:
        """Find which parts of the card coarse blocks of pixels see: once for both ways of tracing it."""
        if block.paths.first in self._looked:
            return
        self._looked.add(block.paths.first)
        card_patterns.find_visible(-(-block.paths.rows // COARSE), block.view, self._given)

    def classify_fine(self, block: Block) -> None:
        """Nothing: shadows in its light are soft."""

    def send(self, block: Block) -> Sent:
        """What the card sends to the block's paths."""
        paths = block.paths
        by_drop = paths.whole == 0
        number = numbered(by_drop)
        size = (int(by_drop.sum()), PATTERNS, 3)
        sent = Sent(
            np.zeros((len(number), PATTERNS, 3), dtype=np.float32),
            number,
            np.zeros(size, dtype=np.float32),
            np.zeros(size, dtype=np.float32),
        )
        card_patterns.send(paths.rows, block.view, self._given, sent)
        return sent

    def add_sent(self, block: Block, sent: Sent, shares: NDArray[np.float64], into: Parts) -> None:
        """Add what the card sent to the block's paths with its patterns weighed by shares (PATTERNS,)."""
        card_patterns.add_sent(block.paths.rows, block.paths.width, sent, shares, into)

    def _at_nodes(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The patterns at the lamp's quadrature points, (m, PATTERNS), and the part of the face that each
        stands for, (m, 4): see `kernels.card_patterns.Card`."""
        off = self._lamp.node - self._card.centre
        x = off @ self._card.right / self._card.half_width_mm
        y = off @ self._card.up / self._card.half_height_mm
        side = round(len(off) ** 0.5)
        _, weight = np.polynomial.legendre.leggauss(side)
        ends = np.concatenate([[0.0], np.cumsum(weight) / 2.0])
        u, v = (0.5 * (one + 1.0) for one in (x, y))
        i, j = (np.searchsorted(ends, one) - 1 for one in (u, v))
        part = np.stack([ends[i], ends[i + 1], ends[j], ends[j + 1]], axis=-1)
        return np.ascontiguousarray(np.stack(patterns(x, y), axis=-1)), np.ascontiguousarray(part)

    def first(self, shares: NDArray[np.float64]) -> FirstIrradiance:
        """The card's light on the places of indirect light, its radiance taken as even or growing along its
        sides. shares: of each pattern."""
        if not self._first:
            self._first = self._first_of(_positive_patterns())
        even, across, upward = shares[:INDIRECT_PATTERNS]
        return weighed(self._first, (even - across - upward, 2.0 * across, 2.0 * upward))

    def _first_of(self, radiances: Sequence[NDArray[np.float64]]) -> list[FirstIrradiance]:
        ground, lamps = self.ground, [self._packed(radiance) for radiance in radiances]
        reach = reach_for(ground, lamps[0])
        return first_irradiances(ground.indirect, ground.packed, lamps, self._boards, self._state, reach, 0.0)


def shares_of(radiance: NDArray[np.float64]) -> NDArray[np.float64]:
    """By how much each pattern is in a card's radiance (PATCHES, PATCHES): the nearest sum of them."""
    t = (np.arange(PATCHES) + 0.5) / PATCHES * 2.0 - 1.0
    y, x = (one.ravel() for one in np.meshgrid(t, t, indexing="ij"))
    columns = np.stack(patterns(x, y), axis=-1)
    found: NDArray[np.float64] = np.linalg.lstsq(columns, radiance.ravel(), rcond=None)[0]
    return found


def _on_the_middle(lamp: Lamp) -> float:
    """Unoccluded irradiance that a face sends to the point of sharp focus, as if that faced it."""
    r2 = np.sum(lamp.node * lamp.node, axis=1)
    return float(np.sum(lamp.flux * np.maximum(lamp.node @ -lamp.frame[9:], 0.0) / r2**1.5))


def _positive_patterns() -> list[NDArray[np.float64]]:
    """Radiance of 1, and such as grows from 0 to 1 along either side: none of them negative."""
    t = (np.arange(PATCHES) + 0.5) / PATCHES
    return [np.ones((PATCHES, PATCHES)), np.tile(t, (PATCHES, 1)), np.tile(t[:, None], (1, PATCHES))]
