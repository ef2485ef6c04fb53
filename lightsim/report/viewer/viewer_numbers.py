"""The figures that exposing in a browser rests on, so that the scripts hold none of their own."""

from __future__ import annotations

from functools import cache
from typing import Any

from lightsim.constants import LUMINANCE_WEIGHTS
from lightsim.optics.colour import BRADFORD, SRGB_TO_XYZ, TEMPERATURE_RANGE_K, white_of_temperature
from lightsim.optics.exposure_values import MID_TONE, SATURATION, image_exposure_lxs, linear_per_lxs
from lightsim.photograph.tone import HUE_SHARE, KNEE

MIRED_STEP = 1.0  # of the table of whites: a straight line between two of them is right to 1e-4


@cache
def collect_viewer_numbers() -> dict[str, Any]:
    """Plain values for JSON.

    linear_per_unit : linear value of 1 cd/m2 at an effective f-number of 1, for 1 s at ISO 1.
    cone_of_rgb : (3, 3), linear sRGB to the cone responses that white balance scales.
    whites : linear colour (3,) of light at each mired from `first_mired` in steps of `mired_step`.
    """
    low, high = TEMPERATURE_RANGE_K
    first, last = 1e6 / high, 1e6 / low
    steps = round((last - first) / MIRED_STEP)
    kelvins = [min(max(1e6 / (first + step * MIRED_STEP), low), high) for step in range(steps + 1)]
    return {
        "linear_per_unit": image_exposure_lxs(1.0, 1.0) * linear_per_lxs(1.0),
        "mid_tone": MID_TONE,
        "saturation": SATURATION,
        "knee": KNEE,
        "hue_share": HUE_SHARE,
        "luminance": list(LUMINANCE_WEIGHTS),
        "cone_of_rgb": (BRADFORD @ SRGB_TO_XYZ).tolist(),
        "first_mired": first,
        "mired_step": MIRED_STEP,
        "whites": [[round(float(part), 7) for part in white_of_temperature(kelvin)] for kelvin in kelvins],
    }
