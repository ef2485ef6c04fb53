"""Layers of light and the settings of the camera -> the photograph. Nothing here is traced."""

from __future__ import annotations

from collections.abc import Mapping
from math import inf, log2

import numpy as np
from numpy.typing import NDArray

from lightsim.develop.mix import AMBIENT, Matrix, Source, matrices, mix, petal_colours, sources_of
from lightsim.optics.sensitivity import MID_TONE, SATURATION
from lightsim.picture import Floats, Layers, Photograph, luminance
from lightsim.scene.records import Exposure
from lightsim.scene.stage import Stage


def develop(
    layers: Layers,
    stage: Stage,
    exposure: Exposure,
    *,
    gain_stops: float = 0.0,
    sources: Mapping[str, Source] | None = None,
    clip: bool = True,
) -> Photograph:
    """The photograph that these settings give.

    Parameters
    ----------
    layers : what each light gives per unit of its output.
    stage : the lights' outputs and the camera's effective f-number.
    exposure : ISO, shutter, white balance; `auto` moves the whole so that the bare petal's mean is 0.18.
    gain_stops : brightens the whole picture, as a higher ISO speed would.
    sources : takes the place of the stage's outputs and colour temperatures, by the light's name.
    clip : cut at the sensor's saturation; False keeps what the sensor would lose.

    The notes tell what was set and found; shares are of pixels, stops are of luminance on the bare petal.
    """
    known = {**sources_of(stage), **(sources or {})}
    used = {name: known[name] for name in layers.by_light}
    key = stage.lights[0].name if stage.lights else AMBIENT
    n_eff = stage.camera.effective_f_number
    petal = petal_colours(layers)
    auto_stops = 0.0
    if exposure.auto:
        metered = matrices(used, exposure, n_eff, key, gain_stops)
        auto_stops = stops_to_mid_tone(sum(petal_luminances(petal, metered).values()))
    by_light = matrices(used, exposure, n_eff, key, gain_stops + auto_stops)
    linear = mix(layers, by_light)
    notes = {
        **settings_notes(exposure, n_eff, gain_stops, auto_stops),
        **light_notes(petal_luminances(petal, by_light), used, key),
        **clipping_notes(linear),
    }
    if clip:
        np.clip(linear, 0.0, np.float32(SATURATION), out=linear)
    key_layer = layers.by_light.get(key)
    return Photograph(
        linear=linear,
        mm_per_px=layers.mm_per_px,
        saturation=SATURATION,
        glint=None if key_layer is None else key_layer.glint * _glint_gain(by_light[key]),
        lit=None if key_layer is None else key_layer.lit,
        maps=layers.maps,
        notes=notes,
    )


def _glint_gain(matrix: Matrix) -> np.float32:
    """Luminance in the picture of a white layer of 1 cd/m2 per unit."""
    return np.float32(luminance(np.ones(3) @ matrix))


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


def light_notes(petal_mean: Mapping[str, float], used: Mapping[str, Source], key: str) -> dict[str, object]:
    """How bright the petal comes out, and how the lights share in it."""
    whole = sum(petal_mean.values())
    room = sum(mean for name, mean in petal_mean.items() if used[name].kind != "flash")
    return {
        "petal_mean": whole,
        "petal_stops_above_mid_tone": log2(whole / MID_TONE) if whole > 0 else -inf,
        "petal_mean_by_light": dict(petal_mean),
        "room_light_share": room / whole if whole > 0 else 0.0,
        "room_light_stops_below_key": _stops_below(room, petal_mean.get(key, 0.0)),
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
