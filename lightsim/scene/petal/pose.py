"""The petal turned and tilted, and the point of sharp focus on it."""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import SceneError
from lightsim.scene.faces import direction
from lightsim.scene.petal.size import reach_words
from lightsim.scene.petal.surface import Surface
from lightsim.scene.records import Focus, Petal
from lightsim.scene.stage import DropSet, PetalMesh

TOWARD_LENS = np.array([0.0, 0.0, 1.0])


def turned_and_tilted(petal: Petal) -> NDArray[np.float64]:
    """Rotation (3, 3) from the petal's own frame to the picture's: turned in its plane, then leaning back."""
    turn, tilt = radians(petal.turn_deg), radians(petal.tilt_deg)
    spin = np.array([[cos(turn), -sin(turn), 0.0], [sin(turn), cos(turn), 0.0], [0.0, 0.0, 1.0]])
    back = direction(90.0, petal.tilt_clock)
    level = np.cross(TOWARD_LENS, back)
    before = np.stack([back, level, TOWARD_LENS], axis=1)
    leaning = cos(tilt) * back - sin(tilt) * TOWARD_LENS
    facing = cos(tilt) * TOWARD_LENS + sin(tilt) * back
    return np.stack([leaning, level, facing], axis=1) @ before.T @ spin


def posed(mesh: PetalMesh, drops: DropSet, petal: Petal, focus: Focus) -> tuple[PetalMesh, DropSet]:
    """Petal and drops from the petal's own frame to the stage's, its origin the point of sharp focus."""
    rotation = turned_and_tilted(petal).T
    mesh = replace(mesh, vertices=mesh.vertices @ rotation, normals=mesh.normals @ rotation)
    drops = replace(
        drops, centre=drops.centre @ rotation, foot=drops.foot @ rotation, normal=drops.normal @ rotation
    )
    point = focus_point(focus, mesh, drops)
    mesh = replace(mesh, vertices=mesh.vertices - point)
    return mesh, replace(drops, centre=drops.centre - point, foot=drops.foot - point)


def focus_point(focus: Focus, mesh: PetalMesh, drops: DropSet) -> NDArray[np.float64]:
    """Where it is sharp, (3,) mm, in picture directions from the petal's centre. SceneError off the petal."""
    if focus.on == "drop":
        return drop_front(focused_drop(focus, drops), drops)
    [place] = Surface(mesh).below(np.array([[focus.x_mm, focus.y_mm]]))
    if place is None:
        raise SceneError(
            f"camera.focus: found x_mm {focus.x_mm:g}, y_mm {focus.y_mm:g}, which is off the petal as the "
            f"camera sees it, allowed any place on it ({reach_words(mesh.vertices)})"
        )
    offset = focus.offset_mm if focus.on == "offset" else 0.0
    return place.point + offset * TOWARD_LENS


def focused_drop(focus: Focus, drops: DropSet) -> int:
    """The number of the drop that a focus names, the largest without a name. SceneError for none such."""
    if len(drops) == 0:
        raise SceneError(
            'camera.focus.on: found "drop", but no drop is on the petal, allowed "petal" or "offset"'
        )
    if focus.drop is None:
        return int(np.argmax(drops.radius))
    if focus.drop >= len(drops):
        raise SceneError(
            f"camera.focus.drop: found {focus.drop}, but {len(drops)} drops are on the petal, "
            f"allowed a whole number from 0 to {len(drops) - 1}"
        )
    return focus.drop


def drop_front(drop: int, drops: DropSet) -> NDArray[np.float64]:
    """The point of a drop's surface that is nearest to the lens, (3,) mm.

    The sphere's foremost point or, where the petal cuts that off, the foremost point of the cut's circle.
    """
    front = drops.centre[drop] + drops.radius[drop] * TOWARD_LENS
    normal = drops.normal[drop]
    if (front - drops.foot[drop]) @ normal >= 0.0:
        return front
    along = TOWARD_LENS - (TOWARD_LENS @ normal) * normal
    disc = drops.radius[drop] * sin(radians(drops.contact_angle_deg[drop]))
    return drops.foot[drop] + disc * along / np.linalg.norm(along)
