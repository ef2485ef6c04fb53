"""Drops that stand already, held in a grid of cells so that a newcomer meets only its neighbours."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import product
from math import floor

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.stage import DropSet

Point = tuple[float, float, float]
Cell = tuple[int, int, int]


@dataclass(frozen=True)
class Standing:
    """One drop in its place: its sphere, the disc it stands on (radius disc_mm about foot), mm."""

    centre: Point
    radius_mm: float
    foot: Point
    disc_mm: float
    normal: Point
    contact_angle_deg: float


class Crowd:
    """Drops in their places, each a gap apart from all others.

    Parameters
    ----------
    cell_mm : edge of a grid cell; any value is right, one near the drops' usual diameter is fast.
    gap_mm : least clear distance between two spheres, and between two contact discs.
    """

    def __init__(self, cell_mm: float, gap_mm: float):
        self._cell_mm = cell_mm
        self._gap_mm = gap_mm
        self._cells: defaultdict[Cell, list[int]] = defaultdict(list)
        self._drops: list[Standing] = []

    def __len__(self) -> int:
        return len(self._drops)

    def met_by(self, point: Point, radius_mm: float) -> int | None:
        """The number of a drop whose sphere is nearer than the gap to a ball, or None."""
        for cell in self._cells_within(point, radius_mm):
            for number in self._cells.get(cell, ()):
                other = self._drops[number]
                if _nearer(point, other.centre, radius_mm + other.radius_mm + self._gap_mm):
                    return number
        return None

    def in_the_way_of(self, drop: Standing) -> int | None:
        """The number of a drop whose sphere or contact disc is nearer than the gap to another's, or None."""
        met = self.met_by(drop.centre, drop.radius_mm)
        if met is not None:
            return met
        for cell in self._cells_within(drop.foot, drop.disc_mm):
            for number in self._cells.get(cell, ()):
                other = self._drops[number]
                if _nearer(drop.foot, other.foot, drop.disc_mm + other.disc_mm + self._gap_mm):
                    return number
        return None

    def add(self, drop: Standing) -> None:
        """Let a drop stand. It is entered in every cell that its sphere comes within a gap of."""
        for cell in self._cells_within(drop.centre, drop.radius_mm + self._gap_mm):
            self._cells[cell].append(len(self._drops))
        self._drops.append(drop)

    def drop_set(self, wanted: int) -> DropSet:
        """All drops that stand, as arrays."""
        return DropSet(
            centre=_points([drop.centre for drop in self._drops]),
            radius=np.array([drop.radius_mm for drop in self._drops], dtype=float),
            foot=_points([drop.foot for drop in self._drops]),
            normal=_points([drop.normal for drop in self._drops]),
            contact_angle_deg=np.array([drop.contact_angle_deg for drop in self._drops], dtype=float),
            wanted=wanted,
        )

    def _cells_within(self, point: Point, reach_mm: float) -> product[Cell]:
        edge = self._cell_mm
        spans = [range(floor((p - reach_mm) / edge), floor((p + reach_mm) / edge) + 1) for p in point]
        return product(*spans)  # type: ignore[return-value]


def _nearer(a: Point, b: Point, distance: float) -> bool:
    x, y, z = a[0] - b[0], a[1] - b[1], a[2] - b[2]
    return x * x + y * y + z * z < distance * distance


def _points(rows: list[Point]) -> NDArray[np.float64]:
    return np.array(rows, dtype=float).reshape(-1, 3)
