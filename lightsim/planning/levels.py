"""How bright the petal comes out, light by light, and what an exposure of a scene rests on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf, log2
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.exposure_values import ILLUMINANCE_CONSTANT, MID_TONE
from lightsim.optics.lens_train import LensTrain
from lightsim.optics.marks import F_NUMBERS
from lightsim.optics.trade import FLASH, ROOM, FaceSize, Settings, lighting_ratio
from lightsim.photograph.exposing import exposed, petal_luminances
from lightsim.photograph.mix import AMBIENT, sources_of
from lightsim.planning.petal_light import PetalLight, petal_light
from lightsim.report.words import fixed, plain, significant
from lightsim.scene.build import output, room_light_lx
from lightsim.scene.camera import camera_geometry, lens_train
from lightsim.scene.faces import light_face, position
from lightsim.scene.obstruction import hidden_share
from lightsim.scene.records import Light, Scene
from lightsim.scene.stage import Face, Stage, StagedLight

# How near the levels come to a large traced picture's, in stops, measured on the demo scenes with the flash
# from 0 to 180 degrees: see tests/cli/test_shared_figures.py. Light that rakes the petal is hidden by its
# folds, which closed forms leave out.
TRACED_STOPS, CLOSED_FORM_STOPS, RAKING_STOPS = 0.1, 0.5, 1.5
HIDDEN_STOPS = 2.5  # where the lens or another lamp hides most of a light
RAKING_DEG = 20.0  # from the petal's plane


@dataclass(frozen=True)
class Levels:
    """The bare petal's mean on the linear scale where 0.18 is the mid-tone, by light's name.

    flashes : names of the flashes.  traced : whether from a small traced picture.
    within_stops : how near the levels and their ratios are to those of a large traced picture.
    """

    by_light: dict[str, float]
    flashes: tuple[str, ...]
    traced: bool = False
    within_stops: float = TRACED_STOPS

    def part(self, part: str) -> float:
        """The flashes' part together, or the room's (dome and continuous lights)."""
        return sum(
            level for name, level in self.by_light.items() if (name in self.flashes) == (part == FLASH)
        )

    @property
    def whole(self) -> float:
        """All lights together."""
        return sum(self.by_light.values())

    @property
    def room_share(self) -> float:
        """The room's share of the whole, 0..1."""
        return self.part(ROOM) / self.whole if self.whole > 0 else 0.0

    @property
    def room_stops_below_flash(self) -> float:
        """By how many stops the room's part lies below the flash's; inf when it is black."""
        return -stops_above(self.part(ROOM), self.part(FLASH))


def stops_above(level: float, other: float = MID_TONE) -> float:
    """Stops of one level above another, -inf for black, inf above black."""
    if level <= 0:
        return -inf
    return log2(level / other) if other > 0 else inf


Measure = Callable[[Scene], dict[str, NDArray[np.float64]]]


def levels_of(scene: Scene, stage: Stage, light: PetalLight, measure: Measure | None = None) -> Levels:
    """The petal's levels at the scene's settings (automatic exposure left aside).

    In closed form, from `petal_light`; or by `measure`, which gives the petal's mean colour, (3,), by the
    light's name, from a picture with shadows and all.
    """
    colours = light.colours if measure is None else measure(scene)
    key = stage.lights[0].name if stage.lights else AMBIENT
    exposure = replace(scene.exposure, auto=False)
    by_light, _ = exposed(colours, sources_of(stage), exposure, stage.camera.effective_f_number, key)
    within = _closed_form_stops(stage, light) if measure is None else TRACED_STOPS
    flashes = tuple(light.name for light in scene.lights if light.kind == "flash")
    return Levels(petal_luminances(colours, by_light), flashes, measure is not None, within)


def _closed_form_stops(stage: Stage, light: PetalLight) -> float:
    if any(hidden_share(stage, each) > 0.5 for each in stage.lights):
        return HIDDEN_STOPS
    rakes = any(abs(incidence - 90.0) < RAKING_DEG for incidence in light.incidence_deg.values())
    return RAKING_STOPS if rakes else CLOSED_FORM_STOPS


def train_of(scene: Scene) -> LensTrain:
    """The scene's lens train; for a field width the thin lens of pupil ratio 1 that would frame it so.

    From that distance u and magnification m its focal length is u m / (1 + m). Hecht, Optics, ch. 5.
    """
    if scene.lens is not None:
        return lens_train(scene.camera, scene.lens)
    geometry = camera_geometry(scene.camera)
    m = geometry.magnification
    return LensTrain(
        focal_length_mm=geometry.pupil_distance_mm * m / (1 + m),
        f_number=scene.camera.f_number,
        native_magnification=m,
        focal_length_close_mm=geometry.pupil_distance_mm * m / (1 + m),
        native_working_distance_mm=geometry.working_distance_mm,
        sensor_mm=scene.camera.sensor_mm,
        sensor_px=scene.camera.sensor_px,
    )


def face_size(face: Face) -> FaceSize:
    """Size of a glowing face."""
    return FaceSize(2.0 * face.half_width_mm, 2.0 * face.half_height_mm, face.round, 2.0 * face.hole_mm)


def settings_of(scene: Scene, light: Light | None) -> Settings:
    """What the exposure rests on, in exact numbers; the flash's part for that light.

    The room's lux are the dome's and the continuous lights' together, each facing its light; 1 in the dark.
    """
    train = train_of(scene)
    lit = room_light_lx(scene.ambient) + sum(_facing_lx(each) for each in scene.lights)
    room = Settings(
        f_number=F_NUMBERS.exact(scene.camera.f_number),
        iso=scene.exposure.exact_iso,
        shutter_s=scene.exposure.shutter_s,
        light_lost_stops=2 * log2(train.lens_effective_f_number / train.exact_f_number),
        least_effective=train.second_effective_f_number,
        room_lx=lit if lit > 0 else 1.0,
    )
    if light is None:
        return room
    return replace(
        room,
        power=light.power,
        distance_mm=float(np.linalg.norm(position(light))),
        face=face_size(light_face(light)),
        diffuser_stops=0.0 if light.diffuser is None else light.diffuser.loss_stops,
    )


def _facing_lx(light: Light) -> float:
    if light.kind == "flash":
        return 0.0
    return output(light) * face_size(light_face(light)).lx_per_cd(float(np.linalg.norm(position(light))))


def facing_exposure_lx_s(light: StagedLight, shutter_s: float) -> float:
    """What a meter at the subject that faces the light counts of it, lux seconds."""
    lx = light.output * face_size(light.face).lx_per_cd(float(np.linalg.norm(light.face.centre)))
    return lx if light.kind == "flash" else lx * shutter_s


def incident_stops(scene: Scene, stage: Stage, light: StagedLight) -> float:
    """Stops of that light above the exposure that an incident-light meter reads: log2(E t S / (C N_eff^2)).

    ISO 2720:1974."""
    metered = ILLUMINANCE_CONSTANT * stage.camera.effective_f_number**2 / scene.exposure.exact_iso
    return stops_above(facing_exposure_lx_s(light, scene.exposure.shutter_s), metered)


@dataclass(frozen=True)
class LightingRatio:
    """(key + fill) : fill, of the light on the side of the petal that is seen, shadows left out.

    ratio : inf without fill.  key_lx_s, fill_lx_s : the key's straight light; all other light, the key's by
    way of cards included.
    """

    key: str
    ratio: float
    key_lx_s: float
    fill_lx_s: float


def lighting_ratio_of(scene: Scene, stage: Stage, light: PetalLight) -> LightingRatio | None:
    """The lighting ratio at the scene's settings; None without a key on the seen side."""
    if not stage.lights or light.on_petal[stage.lights[0].name] <= 0.0:
        return None
    key, *others = stage.lights
    times = {each.name: 1.0 if each.kind == "flash" else scene.exposure.shutter_s for each in stage.lights}
    units = {each.name: each.output * times[each.name] for each in stage.lights}
    fill = sum(units[each.name] * light.on_petal[each.name] for each in others)
    fill += sum(units[each.name] * light.by_cards[each.name] for each in stage.lights)
    fill += stage.ambient_illuminance_lx * scene.exposure.shutter_s * light.on_petal[AMBIENT]
    on_key = units[key.name] * light.on_petal[key.name]
    return LightingRatio(key.name, lighting_ratio(on_key, fill), on_key, fill)


def light_figures(scene: Scene, stage: Stage) -> dict[str, Any]:
    """Level of the petal and lighting ratio of a scene in closed form, units in the keys."""
    light = petal_light(stage)
    ratio = lighting_ratio_of(scene, stage, light)
    return {
        "levels": level_figures(levels_of(scene, stage, light)),
        "lighting_ratio": ratio_figures(ratio),
    }


def level_figures(levels: Levels) -> dict[str, Any]:
    """The petal's level, the parts of flash and room light in it, and how far to trust them."""
    return {
        "petal_linear": levels.whole,
        "petal_stops_from_mid_tone": stops_above(levels.whole),
        "flash_stops_from_mid_tone": stops_above(levels.part(FLASH)),
        "room_light_stops_from_mid_tone": stops_above(levels.part(ROOM)),
        "room_light_share": levels.room_share,
        "room_light_stops_below_flash": levels.room_stops_below_flash,
        "petal_linear_by_light": levels.by_light,
        "from": "traced draft" if levels.traced else "closed form",
        "within_stops": levels.within_stops,
    }


def ratio_figures(found: LightingRatio | None) -> dict[str, Any] | None:
    """The lighting ratio with its convention; None without light straight from the key."""
    if found is None:
        return None
    return {
        "convention": "(key + fill) : fill",
        "key": found.key,
        "ratio": found.ratio,
        "stops": log2(found.ratio),
        "key_lx_s": found.key_lx_s,
        "fill_lx_s": found.fill_lx_s,
    }


def trust_words(levels: dict[str, Any]) -> str:
    """How the petal's level was found, and how near it is."""
    if levels["from"] != "closed form":
        return "from a small traced picture"
    return f"in closed form, within {plain(levels['within_stops'], 1)} stops of what a traced picture gives"


def below_words(stops: float) -> str:
    """How far the room's light lies below the flash's on the petal."""
    if abs(stops) == inf:
        return "no light but the flash’s" if stops > 0 else "no flash in it"
    if abs(stops) < 0.05:
        return "level with the flash"
    return f"{fixed(abs(stops), 1)} stops {'below' if stops > 0 else 'above'} the flash"


def ratio_words(ratio: dict[str, Any] | None) -> str:
    """The lighting ratio of a set."""
    if ratio is None:
        return "none: no light comes straight from the key to the seen side of the petal"
    if ratio["ratio"] == inf:
        return "no fill at all"
    return (
        f"{significant(ratio['ratio'])} : 1, {fixed(ratio['stops'], 1)} stops ({ratio['key']} + fill : fill)"
    )
