"""What the camera's own meter would say to the room's light: it does not know that a flash will fire, and
a dark frame with bright drops fools it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf, log2

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.colour import white_of_temperature
from lightsim.optics.exposure_values import MID_TONE, ev100, ev100_of_luminance
from lightsim.photograph.exposing import exposed, petal_luminances
from lightsim.photograph.mix import AMBIENT, Source, petal_colours, sources_of
from lightsim.picture import Layers, luminance
from lightsim.scene.records import Exposure
from lightsim.scene.stage import Stage

# A centre-weighted meter gives three quarters of its weight to a disc a third as wide as the frame. Common
# practice, no source; makers differ.
CENTRE_WEIGHT = 0.75
CENTRE_WIDTH = 1 / 3


@dataclass(frozen=True)
class MeterReading:
    """Readings of the room's light (all but the flashes) as EV at ISO 100, -inf in the dark.

    settings_ev100 : the light for which the settings are right, light lost to extension counted.
    averaging_stops, centre_weighted_stops : reading less settings; above 0 the meter expects a bright
    picture.
    petal_stops : how far the petal itself, in the room's light alone, comes out above the mid-tone 0.18, as
    the photograph's notes have it.
    """

    averaging_ev100: float
    centre_weighted_ev100: float
    settings_ev100: float
    averaging_stops: float
    centre_weighted_stops: float
    petal_stops: float


def meter(layers: Layers, stage: Stage, exposure: Exposure) -> MeterReading:
    """Meter the room's light with the camera as it stands."""
    sources = sources_of(stage)
    room = {name: source for name, source in sources.items() if source.kind != "flash" and source.output > 0}
    seen = _room_luminance(layers, room)
    n_eff = stage.camera.effective_f_number
    settings = ev100(n_eff, exposure.shutter_s, exposure.exact_iso)
    averaging = _ev(float(seen.mean()))
    centre = _ev(float((seen * centre_weights(layers.shape)).sum()))
    key = stage.lights[0].name if stage.lights else AMBIENT
    used = {name: sources[name] for name in layers.by_light}
    petal = petal_colours(layers)
    by_light, _ = exposed(petal, used, replace(exposure, auto=False), n_eff, key)
    linear = sum(level for name, level in petal_luminances(petal, by_light).items() if name in room)
    return MeterReading(
        averaging_ev100=averaging,
        centre_weighted_ev100=centre,
        settings_ev100=settings,
        averaging_stops=averaging - settings,
        centre_weighted_stops=centre - settings,
        petal_stops=log2(linear / MID_TONE) if linear > 0 else -inf,
    )


def _ev(luminance_cd_m2: float) -> float:
    return ev100_of_luminance(luminance_cd_m2) if luminance_cd_m2 > 0 else -inf


def _room_luminance(layers: Layers, room: dict[str, Source]) -> NDArray[np.float64]:
    """(h, w), cd/m2."""
    seen = np.zeros(layers.shape)
    for name, source in room.items():
        if name in layers.by_light:
            colour = white_of_temperature(source.colour_temperature_k)
            seen += source.output * luminance(layers.by_light[name].total() * colour)
    return seen


def centre_weights(shape: tuple[int, int]) -> NDArray[np.float64]:
    """(h, w), sum 1: CENTRE_WEIGHT on a disc in the middle, the rest even over the rest."""
    height, width = shape
    y, x = np.mgrid[0:height, 0:width] + 0.5
    inside = np.hypot(x - width / 2, y - height / 2) <= CENTRE_WIDTH * width / 2
    within, without = inside.sum(), inside.size - inside.sum()
    if within == 0 or without == 0:
        return np.full(shape, 1 / inside.size)
    return np.where(inside, CENTRE_WEIGHT / within, (1 - CENTRE_WEIGHT) / without)
