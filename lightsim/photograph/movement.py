"""Movement during the exposure: the room's light is smeared for as long as the shutter is open, the
flash's only for its own duration. The smear under a sharp flash picture is the ghost."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, cos, pi, sin

import numpy as np

from lightsim.photograph.blur import Kernel, blurred
from lightsim.picture import Floats

_LEAST_PX = 0.05  # a shorter smear is not seen
_STEPS_PER_PX = 16


@dataclass(frozen=True)
class Movement:
    """A flower that sways, or a camera that shakes.

    speed_mm_s : at the subject.  clock : where to, in the picture (12 up, 3 right).
    """

    speed_mm_s: float
    clock: float = 3.0

    def smear_px(self, time_s: float, mm_per_px: float) -> float:
        """Length of the smear in pixels."""
        return self.speed_mm_s * time_s / mm_per_px


@dataclass(frozen=True)
class Smear:
    """A straight smear of that many pixels."""

    length_px: float
    clock: float

    def kernels(self) -> tuple[Kernel, ...]:
        """A line, its light shared between the pixels it runs through."""
        angle = self.clock * pi / 6
        steps = max(2, ceil(self.length_px * _STEPS_PER_PX))
        along = ((np.arange(steps) + 0.5) / steps - 0.5) * self.length_px
        return (_splat(-cos(angle) * along, sin(angle) * along),)


def _splat(rows: np.ndarray, columns: np.ndarray) -> Kernel:
    """Points (n,), in pixels from the middle, shared linearly between the four pixels round each; sum 1."""
    reach_r, reach_c = (int(np.ceil(np.abs(side).max() - 1e-9)) for side in (rows, columns))
    kernel = np.zeros((2 * reach_r + 1, 2 * reach_c + 1))
    for point_row, part_row in _neighbours(rows, reach_r):
        for point_column, part_column in _neighbours(columns, reach_c):
            np.add.at(kernel, (point_row, point_column), part_row * part_column)
    return kernel / kernel.sum()


def _neighbours(places: np.ndarray, reach: int) -> list[tuple[np.ndarray, np.ndarray]]:
    """The pixels below and above each place, as indices, and their parts."""
    below = np.floor(places).astype(int)
    part = places - below
    last = 2 * reach
    return [
        (np.clip(below + reach, 0, last), 1 - part),
        (np.clip(below + reach + 1, 0, last), part),
    ]


def smeared(picture: Floats, movement: Movement, time_s: float, mm_per_px: float) -> Floats:
    """What a light that shines for `time_s` records of the moving subject; the picture itself if it moves
    too little."""
    smear = smear_of(movement, time_s, mm_per_px)
    return picture if smear is None else blurred(picture, smear)


def smear_of(movement: Movement, time_s: float, mm_per_px: float) -> Smear | None:
    """The smear of a light that shines for `time_s`; None if the subject moves too little for one."""
    length = movement.smear_px(time_s, mm_per_px)
    return Smear(length, movement.clock) if length >= _LEAST_PX else None
