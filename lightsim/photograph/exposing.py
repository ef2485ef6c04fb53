"""Layers of light and the settings of the camera -> the photograph. Nothing here is traced."""

from __future__ import annotations

from collections.abc import Mapping
from math import inf, log2

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.colour import white_of_temperature
from lightsim.optics.exposure_values import MID_TONE, SATURATION
from lightsim.photograph.diffraction import pixel_at_sensor_um
from lightsim.photograph.mix import (
    AMBIENT,
    Matrix,
    Source,
    balance_kelvin,
    matrices,
    mix_layers,
    petal_colours,
    sources_of,
)
from lightsim.photograph.movement import Movement, smeared
from lightsim.photograph.sensor import Sensor, with_noise
from lightsim.picture import Floats, Layers, Photograph, luminance
from lightsim.scene.records import Exposure
from lightsim.scene.stage import Stage


def expose_layers(
    layers: Layers,
    stage: Stage,
    exposure: Exposure,
    *,
    gain_stops: float = 0.0,
    sources: Mapping[str, Source] | None = None,
    movement: Movement | None = None,
    sensor: Sensor | None = None,
) -> Photograph:
    """Expose layers: the photograph that these settings give, its key the stage's first light.

    Parameters
    ----------
    layers : what each light gives per unit of its output, spread by diffraction where that is wanted
        (`diffract_layers`).
    stage : the lights' outputs, and the camera's effective f-number and magnification.
    exposure : ISO, shutter, white balance; `auto` moves the whole so that the bare petal's mean is 0.18.
    gain_stops : brightens the whole picture, as a higher ISO speed would.
    sources : takes the place of the stage's outputs and colour temperatures, by the light's name.
    movement : smears what each light records for as long as it shines: the room's while the shutter is
        open, a flash's for its own duration.
    sensor : adds its noise.

    The notes tell what was set and found; shares are of pixels, stops are of luminance on the bare petal.
    SceneError when the white balance names no light.
    """
    used = used_sources(layers, stage, sources)
    key = stage.lights[0].name if stage.lights else AMBIENT
    camera = stage.camera
    petal = petal_colours(layers)
    by_light, auto_stops = exposed(petal, used, exposure, camera.effective_f_number, key, gain_stops)
    linear, glint = _mixed(layers, used, by_light, exposure, movement, key)
    pixel_um = pixel_at_sensor_um(layers.mm_per_px, camera.magnification)
    if sensor is not None:
        linear = noisy(linear, sensor, exposure, used, key, pixel_um, gain_stops + auto_stops)
    notes = {
        **settings_notes(exposure, camera.effective_f_number, gain_stops, auto_stops),
        **light_notes(petal_luminances(petal, by_light), used),
        **({} if movement is None else movement_notes(movement, exposure, used, layers.mm_per_px)),
        **clipping_notes(linear),
    }
    np.maximum(linear, 0.0, out=linear)
    lit = layers.by_light[key].lit if key in layers.by_light else None
    return Photograph(linear, layers.mm_per_px, SATURATION, glint, lit, layers.maps, notes)


def noisy(
    linear: Floats,
    sensor: Sensor,
    exposure: Exposure,
    used: Mapping[str, Source],
    key: str,
    pixel_um: float,
    gain_stops: float,
    first_row: int = 0,
) -> Floats:
    """The picture with the noise of its ISO speed, raised by the gain, and of its white balance.

    first_row : see `with_noise`.
    """
    iso = exposure.exact_iso * 2.0**gain_stops
    white = white_of_temperature(balance_kelvin(exposure.white_balance, used, key))
    return with_noise(linear, sensor, iso, pixel_um, white, first_row)


def used_sources(
    layers: Layers, stage: Stage, sources: Mapping[str, Source] | None = None
) -> dict[str, Source]:
    """The source of each layer, in the layers' order: those given, else the stage's."""
    known = {**sources_of(stage), **({} if sources is None else sources)}
    return {name: known[name] for name in layers.by_light}


def exposed(
    petal: Mapping[str, NDArray[np.float64]],
    used: Mapping[str, Source],
    exposure: Exposure,
    effective_f_number: float,
    key: str,
    gain_stops: float = 0.0,
) -> tuple[dict[str, Matrix], float]:
    """Each light's matrix, and the stops that automatic exposure moved (0 without it).

    petal : for each light the bare petal's mean colour, from `petal_colours`.
    """
    by_light = matrices(used, exposure, effective_f_number, key, gain_stops)
    if not exposure.auto:
        return by_light, 0.0
    auto_stops = stops_to_mid_tone(sum(petal_luminances(petal, by_light).values()))
    return matrices(used, exposure, effective_f_number, key, gain_stops + auto_stops), auto_stops


def _mixed(
    layers: Layers,
    used: Mapping[str, Source],
    by_light: Mapping[str, Matrix],
    exposure: Exposure,
    movement: Movement | None,
    key: str,
) -> tuple[Floats, Floats | None]:
    """The linear picture, and the key's glint in it, both smeared by movement if there is any."""
    glint = None
    if key in layers.by_light:
        glint = layers.by_light[key].glint * np.float32(luminance(np.ones(3) @ by_light[key]))
    if movement is None:
        return mix_layers(layers, by_light), glint
    times = {name: used[name].shines_s(exposure.shutter_s) for name in by_light}
    parts = []
    for time_s in sorted(set(times.values())):
        chosen = {name: by_light[name] for name in by_light if times[name] == time_s}
        parts.append(smeared(mix_layers(layers, chosen), movement, time_s, layers.mm_per_px))
        if glint is not None and key in chosen:
            glint = smeared(glint[..., None], movement, time_s, layers.mm_per_px)[..., 0]
    return sum(parts[1:], start=parts[0]), glint


def movement_notes(
    movement: Movement, exposure: Exposure, used: Mapping[str, Source], mm_per_px: float
) -> dict[str, object]:
    """How long the smears are: the room's light's, and the longest of the flashes'."""
    flashes = [source.shines_s(exposure.shutter_s) for source in used.values() if source.kind == "flash"]
    return {
        "ghost_px": movement.smear_px(exposure.shutter_s, mm_per_px),
        "ghost_mm": movement.speed_mm_s * exposure.shutter_s,
        "flash_smear_px": movement.smear_px(max(flashes, default=0.0), mm_per_px),
    }


def petal_luminances(
    petal: Mapping[str, NDArray[np.float64]], by_light: Mapping[str, Matrix]
) -> dict[str, float]:
    """The bare petal's mean linear luminance, light by light."""
    return {name: float(luminance(petal[name] @ matrix)) for name, matrix in by_light.items()}


def stops_to_mid_tone(petal_mean: float) -> float:
    """Stops by which the exposure has to move for the petal to come out at 0.18; 0 when all is black."""
    return log2(MID_TONE / petal_mean) if petal_mean > 0 else 0.0


def settings_notes(
    exposure: Exposure, n_eff: float, gain_stops: float, auto_stops: float
) -> dict[str, object]:
    """What was set."""
    return {
        "iso": exposure.iso,
        "shutter_s": exposure.shutter_s,
        "effective_f_number": n_eff,
        "white_balance": exposure.white_balance,
        "gain_stops": gain_stops,
        "auto_stops": auto_stops,
    }


def light_notes(petal_mean: Mapping[str, float], used: Mapping[str, Source]) -> dict[str, object]:
    """How bright the petal comes out, and how the lights share in it: the flashes, and the room with its
    lamps."""
    whole = sum(petal_mean.values())
    room = sum(mean for name, mean in petal_mean.items() if used[name].kind != "flash")
    return {
        "petal_mean": whole,
        "petal_stops_above_mid_tone": log2(whole / MID_TONE) if whole > 0 else -inf,
        "petal_mean_by_light": dict(petal_mean),
        "room_light_share": room / whole if whole > 0 else 0.0,
        "room_light_stops_below_flash": _stops_below(room, whole - room),
    }


def _stops_below(lesser: float, greater: float) -> float:
    """By how many stops the one lies below the other; inf when it is black."""
    if lesser <= 0:
        return inf
    return log2(greater / lesser) if greater > 0 else -inf


def clipping_notes(linear: Floats) -> dict[str, object]:
    """Share of pixels at or above the sensor's saturation: in any channel, and in each."""
    over = linear >= np.float32(SATURATION)
    pixels = linear.shape[0] * linear.shape[1]
    anywhere = over[..., 0] | over[..., 1] | over[..., 2]
    by_channel = tuple(int(np.count_nonzero(over[..., channel])) / pixels for channel in range(3))
    return {"clipped_share": int(np.count_nonzero(anywhere)) / pixels, "clipped_share_rgb": by_channel}
