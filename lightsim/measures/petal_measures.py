"""All that is measured of the bare petal and of the picture as a whole."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from lightsim.measures.bare_petal import PetalPlaces, PetalTones
from lightsim.measures.highlight_patch import Found, sort_out
from lightsim.measures.measure_records import FrameMeasures, LightPlace
from lightsim.measures.petal_contrast import measure_petal_contrast, measure_texture
from lightsim.measures.shadow_depth import measure_shadow_depth
from lightsim.measures.window import Frame
from lightsim.optics.exposure_values import stops
from lightsim.optics.sensitivity import MID_TONE

OF_PETAL = tuple(
    field.name
    for field in fields(FrameMeasures)
    if field.name.startswith(("petal_", "shadow_depth_", "cast_shadow_", "facing_away_", "texture_"))
)
LIGHTING = ("lighting_ratio", "lighting_stops")

NO_MASK = "which part is petal is not known: give a mask or the drops"
NO_PETAL = "no bare petal in the frame"
NO_LIGHTS = "the lights of the set are not known"
BLACK = "the petal is black"


def measure_petal(frame: Frame, places: PetalPlaces | None, key: LightPlace | None = None) -> Found:
    """Contrast, shadows, texture and level of the bare petal, and the picture's clipped share.

    places : where the bare petal is; None where that is not known.  key : where the key stands.
    """
    values = {"clipped_share": float(frame.clipped.mean())}
    missing = dict.fromkeys(LIGHTING, NO_LIGHTS)
    if places is None or not places.mask.any():
        return values, missing | dict.fromkeys(OF_PETAL, NO_MASK if places is None else NO_PETAL)
    tones, petal = PetalTones.of(frame, places), places.mask
    clipped = float(frame.clipped[petal].mean())
    for found, empty in (
        measure_petal_contrast(frame, clipped, tones),
        measure_shadow_depth(frame, places, key),
        measure_texture(frame, clipped, tones),
        _level(frame, petal, clipped),
    ):
        values |= found
        missing |= empty
    return values, missing


def _level(frame: Frame, petal: NDArray, clipped_share: float) -> Found:
    mean = float(frame.light[petal].mean(dtype=np.float64))
    return sort_out(
        {
            "petal_linear": (mean, ""),
            "petal_stops_from_mid_tone": (stops(mean / MID_TONE) if mean > 0.0 else None, BLACK),
            "petal_clipped_share": (clipped_share, ""),
        }
    )
