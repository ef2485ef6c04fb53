"""A card's part of every layer: what it sends by each pattern of its radiance, found once for all lights."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.trace.first import First, first_light, weighed
from lightsim.trace.ground import Ground
from lightsim.trace.kernels import blocks
from lightsim.trace.kernels import card as kcard
from lightsim.trace.kernels.card import PATTERNS, Sent, patterns
from lightsim.trace.kernels.faces import Lamp
from lightsim.trace.pack import FINEST, PATCHES, pack_face
from lightsim.trace.paths import Block
from lightsim.trace.shadows import SOFT_FINEST, drop_state, no_looks, reach_for

SOFT_PATTERNS = 3  # of the soft light: even, and growing along either side


class CardLight:
    """What one card sends, for any radiance of it.

    Each block of rows is looked at widely, then closely, as for a light's own work; then `send` finds what
    the card sends to its paths.
    """

    def __init__(self, ground: Ground, number: int):
        self.ground = ground
        self._card = ground.boards.cards[number]
        self._lamp = self._packed(np.ones((1, 1)))
        self._boards = ground.boards.may_hide(self._card, number)
        self._state = drop_state(ground, self._lamp, False)
        self._looks = no_looks(*ground.shape)
        self._first: list[First] = []

    def _packed(self, radiance: NDArray[np.float64], finest: int = FINEST) -> Lamp:
        distance = float(np.linalg.norm(self._card.centre))
        return pack_face(self._card, radiance, distance, finest)

    def look_widely(self, block: Block) -> None:
        """What the petal leaves of the card's light, from wide blocks of pixels."""
        rows = -(-block.paths.rows // blocks.WIDE)
        blocks.look_widely(rows, block.paths, self.ground.packed.petal, self._lamp, self._looks)

    def look_closely(self, block: Block) -> None:
        """The same from blocks of pixels."""
        packed, paths, rows = self.ground.packed, block.paths, -(-block.paths.rows // blocks.BLOCK)
        pitch = float(self.ground.lens.pitch)
        blocks.look_closely(rows, paths, packed.petal, packed.drops, True, pitch, self._lamp, self._looks)

    def send(self, block: Block) -> Sent:
        """What the card sends to the block's paths."""
        ground, paths, packed = self.ground, block.paths, self.ground.packed
        by_drop = paths.whole == 0
        number = np.where(by_drop, np.cumsum(by_drop) - 1, -1).astype(np.int32)
        size = (int(by_drop.sum()), PATTERNS, 3)
        sent = Sent(
            np.zeros((len(number), PATTERNS, 3), dtype=np.float32),
            number,
            np.zeros(size, dtype=np.float32),
            np.zeros(size, dtype=np.float32),
        )
        card = kcard.Card(
            np.ascontiguousarray(self._at_nodes()),
            np.ascontiguousarray(self._state[0][:, 1]),
            np.array([0.0, 0.0, ground.lens.pupil_distance]),
            float(ground.lens.pitch),
            ground.seed,
        )
        kcard.send(
            paths.rows, paths, packed.petal, packed.drops, self._boards, self._lamp, self._looks, card, sent
        )
        return sent

    def _at_nodes(self) -> NDArray[np.float64]:
        """The patterns at the lamp's quadrature points, (m, PATTERNS)."""
        off = self._lamp.node - self._card.centre
        x = off @ self._card.right / self._card.half_width_mm
        y = off @ self._card.up / self._card.half_height_mm
        return np.stack(patterns(x, y), axis=-1)

    def shares(self, radiance: NDArray[np.float64]) -> NDArray[np.float64]:
        """By how much each pattern is in the card's radiance (PATCHES, PATCHES): the nearest sum of them."""
        t = (np.arange(PATCHES) + 0.5) / PATCHES * 2.0 - 1.0
        y, x = (one.ravel() for one in np.meshgrid(t, t, indexing="ij"))
        columns = np.stack(patterns(x, y), axis=-1)
        found: NDArray[np.float64] = np.linalg.lstsq(columns, radiance.ravel(), rcond=None)[0]
        return found

    def first(self, shares: NDArray[np.float64]) -> First:
        """The card's light on the places of soft light, its radiance taken as even or growing along its
        sides. shares: of each pattern."""
        if not self._first:
            self._first = [self._first_of(radiance) for radiance in _soft_patterns()]
        even, across, upward = shares[:SOFT_PATTERNS]
        return weighed(self._first, (even - across - upward, 2.0 * across, 2.0 * upward))

    def _first_of(self, radiance: NDArray[np.float64]) -> First:
        ground, lamp = self.ground, self._packed(radiance, SOFT_FINEST)
        reach = reach_for(ground, lamp)
        return first_light(ground.soft, ground.packed, lamp, self._boards, self._state, reach, 0.0)


def _soft_patterns() -> list[NDArray[np.float64]]:
    """Radiance of 1, and such as grows from 0 to 1 along either side: none of them negative."""
    t = (np.arange(PATCHES) + 0.5) / PATCHES
    return [np.ones((PATCHES, PATCHES)), np.tile(t, (PATCHES, 1)), np.tile(t[:, None], (1, PATCHES))]
