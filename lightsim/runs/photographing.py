"""Layers and a scene -> the exposed and measured photograph of one of its lights."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from math import inf
from typing import Any

import numpy as np

from lightsim.measures import FrameMeasures, measure_frame
from lightsim.measures.frame_measures import with_lighting_ratio
from lightsim.measures.measure_records import with_light_named
from lightsim.measures.patch_shape import RECTANGLE, ROUND, Outline, ring
from lightsim.photograph.diffraction import Diffraction, diffract_layers, diffracted, pixel_at_sensor_um
from lightsim.photograph.exposing import expose_layers, stops_to_mid_tone
from lightsim.photograph.mix import sources_of
from lightsim.photograph.movement import Movement, smeared
from lightsim.photograph.sensor import Sensor
from lightsim.photograph.strips import ExposureSettings
from lightsim.picture import Floats, Layers, Photograph
from lightsim.planning.levels import lighting_ratio_of
from lightsim.planning.petal_light import petal_light
from lightsim.scene.build import build
from lightsim.scene.faces import angle_and_clock, light_face, position
from lightsim.scene.records import Exposure, Light, Scene
from lightsim.scene.settings.change_light import light_named
from lightsim.scene.stage import Face, Stage

NO_KEY_LIGHT = "the key lights the petal from behind only"
NO_FILL = "there is no fill at all"


def photograph(
    layers: Layers,
    scene: Scene,
    stage: Stage,
    *,
    light: str | None = None,
    gain_stops: float = 0.0,
    auto: bool | None = None,
) -> Photograph:
    """The photograph with the scene's settings: diffraction, movement and noise as the scene has them.

    light : the light whose highlights are known, the key when None; the notes tell where it stands.
    auto : takes the place of the scene's exposure.auto.
    """
    key = light_named(scene, light) if scene.lights else None
    exposure = exposure_of(scene, auto)
    photo = expose_layers(
        through_lens(layers, scene, stage),
        put_light_first(stage, key),
        exposure,
        gain_stops=gain_stops,
        movement=movement_of(scene),
        sensor=sensor_of(scene),
    )
    if key is None:
        return photo
    place = position(key)
    angle_deg, clock = angle_and_clock(place)
    distance_mm = float(np.linalg.norm(place))
    return photo.with_notes(
        light=key.name,
        light_angle_deg=angle_deg,
        light_clock=clock,
        light_distance_mm=distance_mm,
        light_outline=_outline(light_face(key)),
    )


def exposure_of(scene: Scene, auto: bool | None = None) -> Exposure:
    """The scene's exposure, its white balance that of the scene's key; auto as for `photograph`."""
    exposure = scene.exposure if auto is None else replace(scene.exposure, auto=auto)
    if exposure.white_balance == "key" and scene.lights:
        exposure = replace(exposure, white_balance=scene.lights[0].name)
    return exposure


def exposure_settings_of(scene: Scene, stage: Stage, light: str | None, mm_per_px: float) -> ExposureSettings:
    """The exposure settings of a picture of that many mm a pixel, for exposing it strip by strip."""
    key = light_named(scene, light) if scene.lights else None
    return ExposureSettings(
        put_light_first(stage, key),
        exposure_of(scene),
        diffraction_of(scene, stage, mm_per_px),
        movement_of(scene),
        sensor_of(scene),
    )


def diffraction_of(scene: Scene, stage: Stage, mm_per_px: float) -> Diffraction | None:
    """How the lens spreads light over pixels of that many mm; None where the scene shows no diffraction."""
    if not scene.camera.diffraction:
        return None
    camera = stage.camera
    return Diffraction(camera.effective_f_number, pixel_at_sensor_um(mm_per_px, camera.magnification))


def through_lens(layers: Layers, scene: Scene, stage: Stage) -> Layers:
    """The layers as the lens draws them, diffraction and all; made once for all exposures of them."""
    spread = diffraction_of(scene, stage, layers.mm_per_px)
    return layers if spread is None else diffract_layers(layers, spread)


def movement_of(scene: Scene) -> Movement | None:
    """How the subject moves during the exposure."""
    return None if scene.motion is None else Movement(scene.motion.speed_mm_s, scene.motion.clock)


def sensor_of(scene: Scene) -> Sensor | None:
    """The sensor whose noise is shown, its pixels those of the camera."""
    noise, camera = scene.noise, scene.camera
    if noise is None:
        return None
    pixel_um = 1000.0 * camera.sensor_mm[0] / camera.sensor_px[0]
    return Sensor(noise.full_well_e, noise.base_iso, noise.read_noise_e, pixel_um, noise.seed)


def put_light_first(stage: Stage, light: Light | None) -> Stage:
    """The same stage with one of its lights named first, so that it counts as the key."""
    if light is None:
        return stage
    ordered = sorted(stage.lights, key=lambda staged: staged.name != light.name)
    return replace(stage, lights=tuple(ordered))


def without_light(layers: Layers, scene: Scene, stage: Stage, photo: Photograph) -> Floats | None:
    """The same photograph with its key switched off, (h, w, 3); None when there is no key."""
    name = photo.notes.get("light")
    if not isinstance(name, str):
        return None
    known = sources_of(stage)[name]
    dark = {name: replace(known, output=0.0)}
    stops = _number(photo, "gain_stops") + _number(photo, "auto_stops")
    drawn, movement = through_lens(layers, scene, stage), movement_of(scene)
    exposure = exposure_of(scene, auto=False)
    return expose_layers(drawn, stage, exposure, gain_stops=stops, sources=dark, movement=movement).linear


def _number(photo: Photograph, note: str) -> float:
    value = photo.notes.get(note, 0.0)
    return float(value) if isinstance(value, int | float) else 0.0


def measures_of(
    photo: Photograph, layers: Layers, scene: Scene, stage: Stage, reference_drop: int | None = None
) -> FrameMeasures:
    """The measures of a photograph made by `photograph` from the same layers, scene and stage."""
    measures = measure_frame(
        photo,
        **measured_light(photo),
        fill_linear=without_light(layers, scene, stage, photo),
        reference_drop=reference_drop,
    )
    name = photo.notes.get("light")
    if isinstance(name, str) and name != scene.lights[0].name:
        measures = with_light_named(measures, name)
    found = lighting_ratio_of(scene, stage, petal_light(stage))
    ratio = None if found is None or found.ratio == inf else found.ratio
    return with_lighting_ratio(measures, ratio, NO_KEY_LIGHT if found is None else NO_FILL)


def measured_light(photo: Photograph) -> dict[str, Any]:
    """The arguments of `measure_frame` about the light whose highlights are known."""
    keys = ("light_clock", "light_angle_deg", "light_distance_mm", "light_outline")
    return {key: photo.notes[key] for key in keys if key in photo.notes}


def _outline(face: Face) -> Outline:
    if face.hole_mm > 0.0:
        return ring(face.hole_mm / face.half_width_mm)
    return ROUND if face.round else RECTANGLE


def common_gain_stops(traced: Iterable[tuple[Scene, Layers]]) -> float:
    """Stops by which one exposure for several frames has to move for their petals to be at mid-tone."""
    photos = (photograph(layers, scene, build(scene), auto=False) for scene, layers in traced)
    means = [_number(photo, "petal_mean") for photo in photos]
    return stops_to_mid_tone(sum(means) / len(means))


def drawn_layers(layers: Layers, scene: Scene, stage: Stage) -> dict[str, Floats]:
    """Each light's layer (h, w, 3), all its parts added, with diffraction and movement in
    it: what a browser exposes, and no longer needs to blur."""
    spread, movement = diffraction_of(scene, stage, layers.mm_per_px), movement_of(scene)
    sources, found = sources_of(stage), {}
    for name, layer in layers.by_light.items():
        light = layer.total()
        if spread is not None:
            light = diffracted(light, spread)
        if movement is not None:
            light = smeared(
                light, movement, sources[name].shines_s(scene.exposure.shutter_s), layers.mm_per_px
            )
        found[name] = np.ascontiguousarray(light)
    return found
