"""The pictures of a comparison, worked out before anything is traced."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from lightsim.errors import LightsimError, printable
from lightsim.optics.trade import FLASH, ROOM, change_stops
from lightsim.planning.levels import settings_of
from lightsim.planning.settings_words import settings_words
from lightsim.report.words import power_words, signed, significant
from lightsim.report.words import quantity as in_unit
from lightsim.runs.frame import Frame
from lightsim.scene.build import build
from lightsim.scene.file.check import check_scene
from lightsim.scene.records import Scene
from lightsim.scene.settings.change_light import light_named
from lightsim.scene.settings.quantities import OF_THE_LIGHT, QUANTITIES, change_scene, read_lists
from lightsim.scene.settings.value_list import Values

MOST_PICTURES = 6


@dataclass(frozen=True)
class Shot:
    """One picture to be made.

    name : of the scene.  label : of the picture.  scene : as it is photographed.
    light : the light that the comparison changes; None when each scene is taken as it stands.
    varied : what of it differs from picture to picture ("angle", "diffuser").
    moved_stops : by how many stops each part of the exposure ("flash", "room") moved when it was put at the
        first picture's; empty when it was not.
    """

    name: str
    label: str
    scene: Scene
    light: str | None = None
    varied: tuple[str, ...] = ()
    moved_stops: Mapping[str, float] = field(default_factory=dict)


def plan_shots(
    scenes: Sequence[Scene],
    varied: Mapping[str, Values],
    *,
    light: str | None = None,
    same_exposure: bool = False,
) -> tuple[Shot, ...]:
    """The pictures of a comparison: each scene as it stands, or with each value of what is varied.

    same_exposure : all get the first one's f-number, shutter, ISO and automatic exposure.
    LightsimError unless there are 2 to 6; SceneError when one cannot be built.
    """
    changes = _changes(varied)
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
    if same_exposure:
        shots = [_exposed_as(shot, shots[0].scene) for shot in shots]
    for shot in shots:
        build(check_scene(shot.scene))
    return tuple(shots)


def scene_names(scenes: Sequence[Scene]) -> list[str]:
    """A name for each scene: its title, or its file's name as words; its path where two are alike; or its
    number."""
    titles = [
        printable(scene.shown_title) if scene.path is not None or scene.title else f"scene {i}"
        for i, scene in enumerate(scenes, 1)
    ]
    return [
        title if titles.count(title) == 1 or scene.path is None else printable(scene.path)
        for title, scene in zip(titles, scenes, strict=True)
    ]


def _changes(varied: Mapping[str, Values]) -> list[dict[str, float]]:
    lists = read_lists(varied)
    several = [QUANTITIES[name].option for name, values in lists.items() if len(values) > 1]
    if len(several) > 1:
        raise LightsimError(f"{' and '.join(several)}: found several values in each, allowed in one of them")
    changes: list[dict[str, float]] = [{}]
    for key, values in lists.items():
        changes = [{**change, key: value} for change in changes for value in values]
    return changes


def _shot(name: str, scene: Scene, change: Mapping[str, float], light: str | None, alone: bool) -> Shot:
    if light is not None or change.keys() & OF_THE_LIGHT:
        light = light_named(scene, light).name
    if not change:
        return Shot(name, name, scene, light)
    what = ", ".join(value_words(key, value) for key, value in change.items())
    changed = change_scene(scene, change, light)
    return Shot(name, what if alone else f"{name}, {what}", changed, light, tuple(change))


def value_words(name: str, value: float) -> str:
    """A value of a quantity as captions write it: "75°", "9 o’clock", "diffuser off"."""
    quantity = QUANTITIES[name]
    return quantity.caption_of(value) or in_unit(value, quantity.unit)


def _exposed_as(shot: Shot, first: Scene) -> Shot:
    """The shot with the first scene's f-number, shutter and ISO, and its own white balance."""
    exposure = replace(first.exposure, white_balance=shot.scene.exposure.white_balance)
    camera = replace(shot.scene.camera, f_number=first.camera.f_number)
    scene = replace(shot.scene, exposure=exposure, camera=camera)
    before, after = settings_of(shot.scene, None), settings_of(scene, None)
    has_flash = any(light.kind == "flash" for light in scene.lights)
    parts = (FLASH, ROOM) if has_flash else (ROOM,)
    moved = {part: change_stops(before, after, part) for part in parts}
    return replace(shot, scene=scene, moved_stops=moved)


SAID_STOPS = 0.05  # a smaller change is not said
PARTS = {FLASH: "flash", ROOM: "room light"}


def own_settings(shot: Shot, frame: Frame) -> tuple[str, ...]:
    """The settings of one picture, and the smears that they make, in lines."""
    scene = shot.scene
    lines = [settings_words(scene)]
    flashes = [light for light in scene.lights if light.kind == "flash"]
    if flashes:
        named = [f"{light.name} {power_words(light.power)}" for light in flashes]
        lines.append(", ".join(named) if len(flashes) > 1 else f"power {power_words(flashes[0].power)}")
    if scene.exposure.auto and not shot.moved_stops:
        lines[0] += f", automatic {signed(frame.exposure_stops)} stops"
    lines += moved_words(shot)
    if "ghost_mm" in frame.notes:
        room, flash = frame.notes["ghost_mm"], frame.notes["flash_smear_px"] * frame.mm_per_px
        sharp = f", of the flash {significant(flash)} mm" if flash > 0.0 else ""
        lines.append(f"smear {significant(room)} mm{sharp}")
    return tuple(lines)


def moved_words(shot: Shot) -> list[str]:
    """By how many stops a picture was moved to the first one's exposure, part by part where they differ."""
    moved = shot.moved_stops
    if len({round(stops, 2) for stops in moved.values()}) == 1:
        moved = {"": next(iter(moved.values()))}
    return [
        f"{PARTS.get(part, '')} moved by {signed(stops)} stops".strip()
        for part, stops in moved.items()
        if abs(stops) > SAID_STOPS
    ]


def moved_row(shot: Shot) -> dict[str, float]:
    """The same for a row of measures."""
    return {f"{part}_moved_stops": stops for part, stops in shot.moved_stops.items()}
