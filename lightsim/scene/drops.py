"""Placing drops on a petal: by hand first, then scattered by area, never overlapping.

A scattered drop depends on the seed, on its own number and on the drops before it, so a set that grows
keeps the drops it had. Its diameter and the places it tries come from streams of random numbers drawn in
the order of the drops.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import product
from math import cos, floor, log, radians, sin

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import SceneError
from lightsim.scene.petal.size import reach_words
from lightsim.scene.petal.surface import Place, Surface
from lightsim.scene.records import Drops
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


TRIES = 64  # places that one drop tries before it is given up
AT_ONCE = 4  # of these, how many are looked up for a whole batch of drops together
BATCH = 1024  # drops whose random numbers are drawn together; the draws do not depend on it
GIVEN_UP_IN_A_ROW = 40  # drops given up in a row after which the petal counts as full
SIZE_LIMIT = 3.0  # standard deviations beyond which no drop is larger or smaller


def place_drops(drops: Drops, surface: Surface) -> DropSet:
    """Drops on a petal, in the petal's own frame.

    Raises SceneError when a drop placed by hand lies off the petal or on another, or when drops were asked
    for and none fits.
    """
    crowd = Crowd(cell_mm=drops.diameter_mm + drops.gap_mm, gap_mm=drops.gap_mm)
    feet = surface.below(np.array([(placed.x_mm, placed.y_mm) for placed in drops.placed]).reshape(-1, 2))
    for number, place in enumerate(feet):
        _place_by_hand(number, place, drops, surface, crowd)
    _scatter(drops, surface, crowd)
    wanted = len(drops.placed) + drops.count
    if wanted and not len(crowd):
        raise SceneError(
            f"drops.diameter_mm: found {drops.diameter_mm:g}, but none of {drops.count} such drops fits on "
            "the petal, allowed drops small enough to stand wholly on it"
        )
    return crowd.drop_set(wanted)


def _place_by_hand(number: int, place: Place | None, drops: Drops, surface: Surface, crowd: Crowd) -> None:
    placed = drops.placed[number]
    found = f"drops.placed[{number}]: found x_mm {placed.x_mm:g}, y_mm {placed.y_mm:g}"
    if place is None:
        reach = reach_words(surface.mesh.vertices)
        raise SceneError(f"{found}, which is off the petal, allowed any place on it ({reach})")
    angle = drops.contact_angle_deg if placed.contact_angle_deg is None else placed.contact_angle_deg
    drop = _standing(place, 0.5 * placed.diameter_mm, angle, surface)
    if not surface.inside_by(place.point[None], np.array([drop.disc_mm]))[0]:
        raise SceneError(
            f"{found}, where a drop of {placed.diameter_mm:g} mm hangs over the petal's edge, allowed any "
            f"place at least {drop.disc_mm:.2g} mm (the radius it stands on) inside the edge"
        )
    other = crowd.in_the_way_of(drop)
    if other is not None:
        raise SceneError(
            f"{found}, where it is nearer than {drops.gap_mm:g} mm to drops.placed[{other}], "
            "allowed drops that keep gap_mm between them"
        )
    crowd.add(drop)


def _scatter(drops: Drops, surface: Surface, crowd: Crowd) -> None:
    given_up = 0
    for radius, places in _tries(drops, surface):
        drop = _first_that_fits(radius, places, drops.contact_angle_deg, surface, crowd)
        if drop is not None:
            crowd.add(drop)
        given_up = 0 if drop is not None else given_up + 1
        if given_up == GIVEN_UP_IN_A_ROW:
            return


def _first_that_fits(
    radius: float, places: Iterator[Place], angle: float, surface: Surface, crowd: Crowd
) -> Standing | None:
    # However the petal faces, the centre stands within radius |cos| of the foot, so this ball about the
    # foot lies inside the drop: a cheap first look.
    core = radius * (1.0 - abs(cos(radians(angle))))
    for place in places:
        if crowd.met_by(_point(place.point), core) is not None:
            continue
        drop = _standing(place, radius, angle, surface)
        if crowd.in_the_way_of(drop) is None:
            return drop
    return None


def _standing(place: Place, radius: float, angle: float, surface: Surface) -> Standing:
    """A drop on a place: the centre stands -radius cos(contact angle) above the petal."""
    disc = radius * sin(radians(angle))
    normal = surface.facing(place, disc)
    centre = place.point - radius * cos(radians(angle)) * normal
    return Standing(_point(centre), radius, _point(place.point), disc, _point(normal), angle)


def _tries(drops: Drops, surface: Surface) -> Iterator[tuple[float, Iterator[Place]]]:
    """Each scattered drop's radius, and the places that it tries in their order."""
    sizes, sites = np.random.default_rng([drops.seed, 0]), np.random.default_rng([drops.seed, 1])
    disc_share = sin(radians(drops.contact_angle_deg))
    for start in range(0, drops.count, BATCH):
        n = min(BATCH, drops.count - start)
        spread = np.clip(sizes.standard_normal(n), -SIZE_LIMIT, SIZE_LIMIT)
        radii = 0.5 * drops.diameter_mm * np.exp(spread * log(drops.diameter_spread))
        random = sites.random((n, TRIES, 3))
        early = _places_inside(surface, random[:, :AT_ONCE], disc_share * radii)
        for i, radius in enumerate(radii.tolist()):
            late = partial(
                _places_inside, surface, random[i : i + 1, AT_ONCE:], disc_share * radii[i : i + 1]
            )
            yield radius, _in_order(early[i], late)


def _places_inside(surface: Surface, random: NDArray, disc_mm: NDArray) -> list[list[Place]]:
    """For each drop those of its random places (n, tries, 3) where its foot lies wholly on the petal."""
    faces, weights, points = surface.spread(random)
    margins = np.repeat(disc_mm, faces.shape[1])
    inside = surface.inside_by(points.reshape(-1, 3), margins).reshape(faces.shape)
    return [
        [Place(int(faces[i, j]), weights[i, j], points[i, j]) for j in np.flatnonzero(inside[i])]
        for i in range(len(faces))
    ]


def _in_order(early: list[Place], late: Callable[[], list[list[Place]]]) -> Iterator[Place]:
    yield from early
    yield from late()[0]


def _point(vector: NDArray) -> tuple[float, float, float]:
    x, y, z = vector.tolist()
    return x, y, z
