"""From a place in the picture to a place on the petal: where to focus, where a drop is put."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import LightsimError
from lightsim.scene.build import build, petal_and_drops
from lightsim.scene.camera import half_field_mm, toward_lens
from lightsim.scene.petal.pose import turned_and_tilted
from lightsim.scene.petal.surface import Surface
from lightsim.scene.records import Focus, PlacedDrop, Scene
from lightsim.scene.stage import Stage

STEPS = 24  # of the search along a line of sight
OFF_PETAL = "found a place off the petal, allowed one on it"


def line_of_sight(stage: Stage, x: float, y: float) -> tuple[NDArray, NDArray]:
    """The line of sight through a place of the picture, x and y as shares of its width and height: a point at
    the plane of sharp focus and the direction away from the lens."""
    half = half_field_mm(stage.camera)
    point = np.array([(2.0 * x - 1.0) * half[0], (1.0 - 2.0 * y) * half[1], 0.0])
    away = -toward_lens(stage.camera, point)
    return point, away / np.linalg.norm(away)


def petal_point(stage: Stage, x: float, y: float) -> NDArray:
    """The foremost point of the petal, (3,) mm, on a line of sight. LightsimError off the petal."""
    start, away = line_of_sight(stage, x, y)
    surface = Surface(stage.petal)
    # The line is nearly parallel to the lens axis, so a few steps toward the height found settle the place.
    point = found = start
    for _ in range(STEPS):
        [place] = surface.below(point[None, :2])
        if place is None:
            raise LightsimError(OFF_PETAL)
        found, before = place.point, point
        point = start + away * ((found[2] - start[2]) / away[2])
        if float(np.abs(point - before).max()) < 1e-4:
            break
    return np.asarray(found)


def drop_at(stage: Stage, x: float, y: float) -> int | None:
    """The foremost drop on a line of sight, None where there is none."""
    start, away = line_of_sight(stage, x, y)
    offset = stage.drops.centre - start
    along = offset @ away
    gap = np.linalg.norm(offset - along[:, None] * away, axis=1)
    hit = np.flatnonzero(gap <= stage.drops.radius)
    return int(hit[np.argmin(along[hit])]) if len(hit) else None


def focused_at(scene: Scene, x: float, y: float) -> Scene:
    """The scene focused on what is seen at a place of the picture: a drop's front, or the petal."""
    stage = build(scene)
    drop = drop_at(stage, x, y)
    if drop is not None:
        focus = Focus(on="drop", drop=drop)
    else:
        place = petal_point(stage, x, y) + _focus_from_centre(scene)
        focus = Focus(on="petal", x_mm=round(float(place[0]), 3), y_mm=round(float(place[1]), 3))
    return replace(scene, camera=replace(scene.camera, focus=focus))


def _focus_from_centre(scene: Scene) -> NDArray:
    """The point of sharp focus, (3,) mm, in the picture's directions from the petal's centre.

    Any vertex tells it, since petals are turned about their centre and then shifted.
    """
    own, _ = petal_and_drops(scene)
    return np.asarray(turned_and_tilted(scene.petal) @ own.vertices[0] - build(scene).petal.vertices[0])


def _on_petal(scene: Scene, x: float, y: float) -> tuple[float, float]:
    """A place of the picture as x_mm, y_mm in the petal's own frame."""
    point = petal_point(build(scene), x, y) + _focus_from_centre(scene)
    own = point @ turned_and_tilted(scene.petal)
    return round(float(own[0]), 3), round(float(own[1]), 3)


def by_hand(scene: Scene) -> Scene:
    """The same drops, each put by hand, so that one of them can be moved or taken away."""
    drops = scene.drops
    if drops.count == 0:
        return scene
    _, own = petal_and_drops(scene)
    placed = tuple(
        PlacedDrop(
            round(float(foot[0]), 4), round(float(foot[1]), 4), round(2.0 * float(radius), 4),
            None if abs(angle - drops.contact_angle_deg) < 1e-9 else float(angle),
        )
        for foot, radius, angle in zip(own.foot, own.radius, own.contact_angle_deg, strict=True)
    )  # fmt: skip
    # Rounding may bring two drops nearer to each other by so much.
    gap = max(0.0, round(drops.gap_mm - 0.001, 4))
    return replace(scene, drops=replace(drops, count=0, placed=placed, gap_mm=gap))


def with_drop_at(scene: Scene, x: float, y: float, diameter_mm: float) -> Scene:
    """The scene with one more drop put by hand."""
    drop = PlacedDrop(*_on_petal(scene, x, y), diameter_mm)
    return replace(scene, drops=replace(scene.drops, placed=(*scene.drops.placed, drop)))


def with_drop_moved(scene: Scene, number: int, x: float, y: float) -> Scene:
    """The scene with one drop elsewhere; if it was sprayed, all drops are put by hand from then on."""
    x_mm, y_mm = _on_petal(scene, x, y)
    scene = _hand_placed(scene, number)
    placed = list(scene.drops.placed)
    placed[number] = replace(placed[number], x_mm=x_mm, y_mm=y_mm)
    return replace(scene, drops=replace(scene.drops, placed=tuple(placed)))


def without_drop(scene: Scene, number: int) -> Scene:
    """The scene without one drop; if it was sprayed, all others are put by hand from then on."""
    scene = _hand_placed(scene, number)
    placed = (*scene.drops.placed[:number], *scene.drops.placed[number + 1 :])
    focus = scene.camera.focus
    sharp = focus.drop if focus.on == "drop" else None
    if sharp is not None and sharp >= number:
        focus = replace(focus, drop=None if sharp == number else sharp - 1)
    if not placed and focus.on == "drop":
        focus = Focus(on="petal")
    camera = replace(scene.camera, focus=focus)
    return replace(scene, camera=camera, drops=replace(scene.drops, placed=placed))


def _hand_placed(scene: Scene, number: int) -> Scene:
    if number >= len(scene.drops.placed):
        scene = by_hand(scene)
    if not 0 <= number < len(scene.drops.placed):
        raise LightsimError(f"found drop {number}, allowed 0 to {len(scene.drops.placed) - 1}")
    return scene
