"""Cards and backdrop of a stage, and what they send in a layer."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.stage import Stage
from lightsim.trace.kernels.faces import Boards, Lamp
from lightsim.trace.pack import PATCHES, irradiance_on, pack_boards


class StageBoards:
    """Cards and backdrop of a stage, and what they send in a layer."""

    def __init__(self, stage: Stage):
        self.stage = stage
        self.cards = [card.face for card in stage.cards]
        self.backdrop = [] if stage.backdrop is None else [stage.backdrop]

    def standing(self) -> Boards:
        """Cards, then the backdrop, sending nothing."""
        faces = self.cards + self.backdrop
        return pack_boards(faces, [np.zeros((PATCHES, PATCHES, 3)) for _ in faces])

    def hiding(self) -> Boards:
        """The cards alone: they stand in a light's way."""
        return pack_boards(self.cards, [np.zeros((PATCHES, PATCHES, 3)) for _ in self.cards])

    def card_glow(self, lit_by: list[Lamp], dome: NDArray | None) -> list[NDArray]:
        """Radiance of each card's patches, (PATCHES, PATCHES)."""
        return [
            card.reflectance / np.pi * (irradiance_on(card.face, lit_by) + _dome_on(card.face.out, dome))
            for card in self.stage.cards
        ]

    def backdrop_glow(self, lit_by: list[Lamp], dome: NDArray | None) -> list[NDArray]:
        """Radiance of the backdrop's patches, (PATCHES, PATCHES, 3), in a list of none or one."""
        glow = []
        for face in self.backdrop:
            e = irradiance_on(face, lit_by) + _dome_on(face.out, dome)
            glow.append(e[..., None] * self.stage.backdrop_reflectance / np.pi)
        return glow


def _dome_on(out: NDArray, dome: NDArray | None) -> float:
    """Irradiance of a face that sees half of the dome: pi L (1 + 2/3 gradient cos(tilt))."""
    if dome is None:
        return 0.0
    return np.pi * dome[0] * (1.0 + 2.0 / 3.0 * dome[1] * float(np.dot(out, dome[2:])))
