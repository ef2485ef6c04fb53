"""All solids of a set, and how high the subject must stand above the table for them to clear it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.colour import srgb_encode
from lightsim.report.setup.plan_records import BACKDROP, room_axes
from lightsim.report.setup.solid.camera_and_lights import (
    Floor,
    backdrop_part,
    camera_foot,
    camera_parts,
    card_parts,
    light_parts,
    stand_parts,
)
from lightsim.report.setup.solid.part import Part, box_at, rod, spheres
from lightsim.report.theme import RGB8
from lightsim.scene.faces import corners
from lightsim.scene.records import Scene
from lightsim.scene.solid_bodies import CAMERA, camera_bodies
from lightsim.scene.stage import Face, Stage

FLOWER, TABLE = "flower", "table"
BEYOND = 10.0  # the same for the 3-D view
FAR = 2.5  # times the camera's reach: a light farther away than that does not stand on the table
LEAST_ABOVE_TABLE_MM = 80.0
LYING_DEG = 45.0  # a camera that looks down more than this has its backdrop on the table
MOST_DROPS = 1500  # the largest are drawn
_TABLE: RGB8 = (240, 238, 234)
_GRID: RGB8 = (206, 203, 198)
_STEM: RGB8 = (150, 176, 138)
_HOLDER: RGB8 = (200, 200, 203)
_WATER: RGB8 = (214, 232, 246)
_SPACINGS_MM = (50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0)


@dataclass(frozen=True)
class Solids:
    """The parts of a set.

    up : (3,) against gravity.  subject_above_table_mm : the subject's height there.
    far : names of lights and cards too far away to stand on the table; they are off the flat drawings.
    beyond : those of them that are too far away for the 3-D view too.
    grid_mm : spacing of the table's lines.  backdrop_centre : (0 or 1, 3) mm.
    """

    parts: tuple[Part, ...]
    up: NDArray[np.float64]
    subject_above_table_mm: float
    far: tuple[str, ...]
    beyond: tuple[str, ...]
    grid_mm: float
    backdrop_centre: NDArray[np.float64]

    def of(self, thing: str) -> list[Part]:
        """The parts of one thing."""
        return [part for part in self.parts if part.thing == thing]


def solids(scene: Scene, stage: Stage) -> Solids:
    """Make all solids."""
    return _Builder(scene, stage).made()


class _Builder:
    def __init__(self, scene: Scene, stage: Stage):
        self.scene, self.stage = scene, stage
        self.axes = room_axes(stage.up)
        self.camera = camera_parts(camera_bodies(scene.camera, scene.lens, stage.camera))
        self.back_mm = max(float(part.bounds[1, 2]) for part in self.camera)
        self.lying = stage.backdrop is not None and scene.camera.looks_down_deg > LYING_DEG
        self.far = self._farther(FAR)
        self.below_mm = self._table_below()
        self.floor = self._floor()

    def _faces(self) -> Iterator[tuple[str, Face]]:
        for light in self.stage.lights:
            yield light.name, light.face
        for card in self.stage.cards:
            yield card.name, card.face

    def _farther(self, times: float) -> tuple[str, ...]:
        reach = times * self.back_mm
        return tuple(name for name, face in self._faces() if float(np.linalg.norm(face.centre)) > reach)

    def made(self) -> Solids:
        """All parts, the table last since it lies under all feet."""
        parts = [*self._flower(), *self.camera, *self._camera_stand()]
        parts += [*self._lights(), *self._cards(), *self._backdrop()]
        table, grid = self._table(parts)
        backdrop = self.stage.backdrop
        centre = np.zeros((0, 3)) if backdrop is None else backdrop.centre[None]
        beyond = self._farther(BEYOND)
        return Solids((*parts, *table), self.stage.up, self.below_mm, self.far, beyond, grid, centre)

    def _heights(self, points: NDArray) -> NDArray[np.float64]:
        return points @ self.stage.up

    def _table_below(self) -> float:
        """How far the table lies below the subject, in whole centimetres."""
        lowest = [self._heights(part.vertices).min() for part in self.camera]
        lowest.append(self._heights(self.stage.petal.vertices).min() - 30.0)
        lights = zip(self.scene.lights, self.stage.lights, strict=True)
        near = [light_parts(light, staged.face)[0] for light, staged in lights if light.name not in self.far]
        lowest += [self._heights(part.vertices).min() for parts in near for part in parts]
        for card in self.stage.cards:
            if card.name not in self.far:
                lowest.append(self._heights(corners(card.face)).min())
        if self.lying and self.stage.backdrop is not None:
            lowest.append(self._heights(corners(self.stage.backdrop)).min() + 4.0)
        return 10.0 * ceil(max(LEAST_ABOVE_TABLE_MM, 5.0 - float(min(lowest))) / 10.0)

    def _ground(self, right: float, toward: float) -> float:
        """Height of what a foot stands on: the table, or the backdrop that lies on it."""
        board = self.stage.backdrop
        if self.lying and board is not None:
            angle = radians(self.scene.camera.looks_down_deg)
            height = -(-board.centre[2] + toward * cos(angle)) / sin(angle)  # where z = -distance
            offset = np.array([right, toward, height]) @ self.axes - board.centre
            half = board.half_width_mm
            if abs(offset @ board.right) <= half and abs(offset @ board.up) <= half:
                return float(max(height, -self.below_mm))
        return -self.below_mm

    def _floor(self) -> Floor:
        petal = self.stage.petal.vertices @ self.axes.T
        backdrop = self.stage.backdrop
        return Floor(
            self.axes,
            self._ground,
            float(np.hypot(petal[:, 0], petal[:, 1]).max()),
            self.stage.camera,
            self.axes @ [0.0, 0.0, self.stage.camera.working_distance_mm],
            self.axes @ [0.0, 0.0, self.back_mm],
            None if backdrop is None else -float(backdrop.centre[2]),
            tuple(face for name, face in self._faces() if name not in self.far),
        )

    def _flower(self) -> Iterator[Part]:
        petal = self.stage.petal
        colours = np.round(255.0 * srgb_encode(petal.reflectance)).astype(np.uint8)
        yield Part(FLOWER, "petal", petal.vertices, petal.faces, (200, 160, 170), colours, True)
        drops = self.stage.drops
        if len(drops):
            largest = np.argsort(-drops.radius)[:MOST_DROPS]
            finer = 2 if len(largest) < 200 else 1
            yield spheres(FLOWER, "drops", drops.centre[largest], drops.radius[largest], _WATER, finer)
        yield from self._stem()

    def _stem(self) -> Iterator[Part]:
        """A stem from the petal's lowest point to a holder on the ground below it."""
        vertices = self.stage.petal.vertices
        top = vertices[int(np.argmin(self._heights(vertices)))]
        right, toward, height = (self.axes @ top).tolist()
        ground = self._ground(right, toward)
        room = height - ground
        holder = min(max(room - 45.0, 0.6 * room), room)

        def at(up: float) -> NDArray[np.float64]:
            return np.array([right, toward, up]) @ self.axes

        yield rod(FLOWER, "stem", at(ground + 0.5 * holder), at(height), 1.2, _STEM)
        yield rod(FLOWER, "holder", at(ground), at(ground + holder), 4.0, _HOLDER)
        yield rod(FLOWER, "holder", at(ground), at(ground + min(12.0, holder)), 16.0, _HOLDER)

    def _camera_stand(self) -> list[Part]:
        seat, below = camera_foot(self.camera)
        over, foot = self.floor.foot(below, outward=np.array([0.0, -0.2, 1.0]), camera=True)
        return [rod(CAMERA, "seat", seat, below, 9.0, _HOLDER), *stand_parts(CAMERA, below, over, foot)]

    def _lights(self) -> Iterator[Part]:
        for light, staged in zip(self.scene.lights, self.stage.lights, strict=True):
            parts, hold = light_parts(light, staged.face)
            yield from parts
            if light.name not in self.far:
                yield from stand_parts(light.name, hold, *self.floor.foot(hold, own=staged.face))

    def _cards(self) -> Iterator[Part]:
        for card in self.stage.cards:
            parts, hold = card_parts(card.name, card.face, card.reflectance)
            yield from parts
            if card.name not in self.far:
                yield from stand_parts(card.name, hold, *self.floor.foot(hold, own=card.face))

    def _backdrop(self) -> Iterator[Part]:
        if self.stage.backdrop is not None:
            tone = srgb_encode(np.asarray(self.stage.backdrop_reflectance, float))
            red, green, blue = (int(150 + 90 * float(part)) for part in tone)
            yield backdrop_part(BACKDROP, self.stage.backdrop, (red, green, blue))

    def _table(self, parts: Sequence[Part]) -> tuple[list[Part], float]:
        """The table under all feet and the camera, lines at round distances from below the subject."""
        feet = [part.vertices for part in parts if part.what in ("foot", "holder", "body", "lens")]
        if self.lying and self.stage.backdrop is not None:
            feet.append(corners(self.stage.backdrop))
        level = np.vstack(feet) @ self.axes.T
        low, high = level[:, :2].min(axis=0) - 45.0, level[:, :2].max(axis=0) + 45.0
        if self.stage.backdrop is not None and not self.lying:
            low[1] = max(low[1], min(self._backdrop_toward() + 8.0, -60.0))
        top = Face(
            np.array([0.0, 0.0, -self.below_mm]) @ self.axes, self.axes[0], -self.axes[1], self.axes[2], 1, 1
        )
        # the face's own axes are right, away, up
        lowest, highest = (low[0], -high[1], -16.0), (high[0], -low[1], 0.0)
        spacing = next((s for s in _SPACINGS_MM if max(high - low) / s <= 12.0), _SPACINGS_MM[-1])
        lines = list(_grid(top, (low[0], -high[1]), (high[0], -low[1]), spacing))
        return [box_at(TABLE, "top", top, lowest, highest, _TABLE), *lines], spacing

    def _backdrop_toward(self) -> float:
        """Where the backdrop's plane meets the table's."""
        angle = radians(self.scene.camera.looks_down_deg)
        assert self.stage.backdrop is not None
        return -(-float(self.stage.backdrop.centre[2]) - self.below_mm * sin(angle)) / cos(angle)


def _grid(top: Face, low: tuple, high: tuple, spacing: float) -> Iterator[Part]:
    thick = 0.006 * spacing + 0.4
    for axis in (0, 1):
        first = ceil(low[axis] / spacing)
        for place in np.arange(first, high[axis] / spacing) * spacing:
            start, end = [low[0], low[1], 0.0], [high[0], high[1], 0.5]
            start[axis], end[axis] = place - thick, place + thick
            yield box_at(TABLE, "grid", top, tuple(start), tuple(end), _GRID)
