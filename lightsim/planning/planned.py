"""A scene with all that trading and advice rest on, worked out once and without tracing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from lightsim.errors import LightsimError
from lightsim.optics.lens_train import LensTrain
from lightsim.optics.marks import F_NUMBERS
from lightsim.optics.trade import FLASH, ROOM, Settings
from lightsim.planning.levels import (
    Levels,
    LightingRatio,
    Measure,
    levels_of,
    lighting_ratio_of,
    settings_of,
    train_of,
)
from lightsim.planning.petal_light import SeenPetal, petal_light
from lightsim.report.words import significant
from lightsim.scene.build import build, room_light_lx
from lightsim.scene.describe import drops_in_frame
from lightsim.scene.file.check import check_scene
from lightsim.scene.petal.pose import focused_drop
from lightsim.scene.records import Light, Scene
from lightsim.scene.settings.change_light import flash_traded
from lightsim.scene.settings.quantities import changed_scene
from lightsim.scene.stage import Stage

LEAST_MM = 0.1  # a flat subject has no depth; our rule, no source
MOST_MM = 1000.0


def given_depth_mm(text: str) -> float:
    """--depth as a number; LightsimError for anything else."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0.0 < value <= MOST_MM:
        raise LightsimError(f"--depth: found {text.strip()!r}, allowed above 0 to {MOST_MM:g} mm")
    return value


def wanted_depth(scene: Scene, stage: Stage, seen: SeenPetal) -> tuple[float, str]:
    """Depth in mm and what it is: the drop in focus from front to foot, or all that stands in the frame."""
    if scene.camera.focus.on == "drop" and len(stage.drops):
        number = focused_drop(scene.camera.focus, stage.drops)
        radius, angle = stage.drops.radius[number], np.radians(stage.drops.contact_angle_deg[number])
        return float(radius * (1.0 - np.cos(angle))), "the drop in focus, from its front to its foot"
    if len(seen) == 0:
        return LEAST_MM, "nothing stands in the frame; a thin layer is taken"
    nearest, farthest = nearest_in_frame_mm(stage, seen), float(seen.points[:, 2].min())
    depth = nearest - farthest
    if depth < LEAST_MM:
        return LEAST_MM, f"what stands in the frame is flat to {significant(max(depth, 0.0))} mm"
    return depth, "all in the frame, from the nearest drop or petal to the farthest petal"


def nearest_in_frame_mm(stage: Stage, seen: SeenPetal) -> float:
    """How far petal and drops in the frame reach toward the lens from the sharp plane, mm."""
    inside = drops_in_frame(stage)
    tops = (stage.drops.centre[:, 2] + stage.drops.radius)[inside]
    petal = float(seen.points[:, 2].max()) if len(seen) else 0.0
    return max(petal, float(tops.max())) if len(tops) else petal


OF_THE_FLASH = ("power", "distance", "diffuser")


@dataclass(frozen=True)
class Planned:
    """A scene's figures for trading and advice.

    flash : the flash that is traded, None without one.  settings : for that flash.
    depth_mm, depth_from : the depth that is to be sharp, and what it is.
    """

    scene: Scene
    stage: Stage
    train: LensTrain
    flash: Light | None
    settings: Settings
    seen: SeenPetal
    levels: Levels
    ratio: LightingRatio | None
    depth_mm: float
    depth_from: str
    measure: Measure | None = None

    @property
    def part(self) -> str:
        """The part of the exposure that is usually held: the flash's where there is one."""
        return ROOM if self.flash is None else FLASH

    @property
    def widest(self) -> float | None:
        """The lens's widest f-number, exact, where known."""
        mark = self.train.widest_f_number
        return None if mark is None else F_NUMBERS.exact(mark)

    @property
    def flashes(self) -> tuple[Light, ...]:
        """All flashes, the traded one first."""
        others = [light for light in self.scene.lights if light.kind == "flash" and light != self.flash]
        return () if self.flash is None else (self.flash, *others)


def planned(
    scene: Scene, *, light: str | None = None, depth_mm: float | None = None, measure: Measure | None = None
) -> Planned:
    """Work a scene out. depth_mm : wanted; None takes what stands in the frame.

    measure : gives the petal's levels, see `levels_of`; None takes closed forms.
    SceneError for a scene that cannot be built.
    """
    stage = build(scene)
    light_on_it = petal_light(stage)
    depth, depth_from = wanted_depth(scene, stage, light_on_it.seen)
    if depth_mm is not None:
        depth, depth_from = depth_mm, "as asked for"
    flash = flash_traded(scene, light)
    return Planned(
        scene=scene,
        stage=stage,
        train=train_of(scene),
        flash=flash,
        settings=settings_of(scene, flash),
        seen=light_on_it.seen,
        levels=levels_of(scene, stage, light_on_it, measure),
        ratio=lighting_ratio_of(scene, stage, light_on_it),
        depth_mm=depth,
        depth_from=depth_from,
        measure=measure,
    )


def given_scene(scene: Scene, given: Mapping[str, str], light: str | None = None) -> Scene:
    """The scene with other settings, checked.

    given : texts by the option's name without dashes.  light : the flash that power, distance and diffuser
    belong to.
    LightsimError for a value that is not allowed or belongs to nothing on the set; SceneError for values
    that cannot be together.
    """
    flash = flash_traded(scene, light)
    for name in OF_THE_FLASH:
        if name in given and flash is None:
            raise LightsimError(f"--{name}: found {given[name]}, allowed where a flash is on the set")
    room = given.get("room")
    if room is not None and room_light_lx(scene.ambient) <= 0.0:
        raise LightsimError(f"--room: found {room}, allowed where the scene has a room light")
    changed = changed_scene(scene, given, None if flash is None else flash.name)
    if room is not None and room_light_lx(changed.ambient) <= 0.0:
        raise LightsimError(f"--room: found {room}, allowed above 0, since changes are counted in stops")
    return check_scene(changed)


def scaled(levels: Levels, flash_stops: float, room_stops: float) -> Levels:
    """The levels after each part has gained some stops."""
    gains = {True: 2.0**flash_stops, False: 2.0**room_stops}
    by_light = {name: level * gains[name in levels.flashes] for name, level in levels.by_light.items()}
    return replace(levels, by_light=by_light)


@dataclass(frozen=True)
class Advice:
    """One piece of advice.

    topic : a word or two.  sentence : plain words with the number in them.  rule : what is behind it.
    number, unit : for programs.  minds : False where it only says that all is well.
    on : names of the things on the set that bring it, "camera" too.
    """

    topic: str
    sentence: str
    rule: str
    number: float | None = None
    unit: str = ""
    minds: bool = True
    on: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """All of it."""
        return asdict(self)
