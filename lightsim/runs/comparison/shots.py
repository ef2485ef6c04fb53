"""The pictures of a comparison, worked out before anything is traced."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from lightsim.errors import LightsimError, printable
from lightsim.report.words import clock_words, degrees
from lightsim.scene.build import build
from lightsim.scene.file.check import check_scene
from lightsim.scene.records import Scene
from lightsim.scene.settings.change_light import light_named
from lightsim.scene.settings.change_scene import change_scene
from lightsim.scene.settings.quantities import QUANTITIES
from lightsim.scene.settings.value_list import Values, values_of

MOST_PICTURES = 6


@dataclass(frozen=True)
class Shot:
    """One picture to be made.

    name : of the scene.  label : of the picture.  scene : with the common exposure set and its light moved.
    light : the light that the comparison moves; None when each scene is taken as it stands.
    varied : what of it differs from picture to picture ("angle", "clock").
    """

    name: str
    label: str
    scene: Scene
    light: str | None = None
    varied: tuple[str, ...] = ()


def plan_shots(
    scenes: Sequence[Scene], angles: Values | None, clock: Values | None, light: str | None
) -> tuple[Shot, ...]:
    """The pictures of a comparison: each scene as it stands, or at each angle and clock position given.

    All get the first scene's ISO and shutter. LightsimError unless there are 2 to 6; SceneError when one
    cannot be built.
    """
    changes = _changes(angles, clock)
    names = scene_names(scenes)
    shots = [
        _shot(name, scene, change, light, alone=len(scenes) == 1)
        for name, scene in zip(names, scenes, strict=True)
        for change in changes
    ]
    if not 2 <= len(shots) <= MOST_PICTURES:
        found = f"{len(shots)} picture{'' if len(shots) == 1 else 's'}"
        raise LightsimError(
            f"compare: found {found}, allowed 2 to {MOST_PICTURES} "
            "(several scenes, or one scene with several --angles)"
        )
    shots = [_exposed_as(shot, scenes[0]) for shot in shots]
    for shot in shots:
        build(check_scene(shot.scene))
    return tuple(shots)


def scene_names(scenes: Sequence[Scene]) -> list[str]:
    """A name for each scene: its file's, with the folder where two are alike, or its number."""
    stems = [
        printable(scene.path.stem) if scene.path is not None else f"scene {i}"
        for i, scene in enumerate(scenes, 1)
    ]
    return [
        stem if stems.count(stem) == 1 or scene.path is None else printable(scene.path)
        for stem, scene in zip(stems, scenes, strict=True)
    ]


def _changes(angles: Values | None, clock: Values | None) -> list[dict[str, float]]:
    asked = {"angle": angles, "clock": clock}
    lists = {key: values_of(values, QUANTITIES[key]) for key, values in asked.items() if values is not None}
    if sum(len(values) > 1 for values in lists.values()) > 1:
        raise LightsimError("--angles and --clock: found several values in each, allowed in one of them")
    changes: list[dict[str, float]] = [{}]
    for key, values in lists.items():
        changes = [{**change, key: value} for change in changes for value in values]
    return changes


def _shot(name: str, scene: Scene, change: Mapping[str, float], light: str | None, alone: bool) -> Shot:
    if light is not None or change:
        light = light_named(scene, light).name
    if not change:
        return Shot(name, name, scene)
    where = ", ".join(
        degrees(value) if key == "angle" else clock_words(value) for key, value in change.items()
    )
    moved = change_scene(scene, change, light)
    return Shot(name, where if alone else f"{name}, {where}", moved, light, tuple(change))


def _exposed_as(shot: Shot, first: Scene) -> Shot:
    """The shot with the first scene's ISO and shutter, and its own white balance."""
    exposure = replace(first.exposure, white_balance=shot.scene.exposure.white_balance)
    return replace(shot, scene=replace(shot.scene, exposure=exposure))
