"""The linear photograph -> eight-bit sRGB to look at.

Up to a knee the picture is shown as it is; above, a smooth shoulder brings the sensor's saturation down to
white, so that the half stop which a sensor keeps above white (ISO 12232) still shows shape.
"""

from __future__ import annotations

import io
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.colour import srgb_encode
from lightsim.picture import Floats, Photograph

KNEE = 0.8
_STEPS = 65535
_STRIPE_PX = 3
_ROWS_PIXELS = 40_000  # pixels worked on at a time, so that they stay in the processor's cache
# How much of the shoulder works on all three channels alike, which keeps the hue; the rest works on each
# channel, which lets a very bright colour go toward white, as the eye expects of it. A matter of taste.
_HUE_SHARE = 0.5

Bytes = NDArray[np.uint8]


def shoulder(linear: NDArray, saturation: float, knee: float = KNEE) -> NDArray:
    """Identity up to the knee, then a smooth, rising curve that reaches 1 at `saturation`; any shape.

    1 - (1 - knee) (1 - t)^p with t from 0 at the knee to 1 at saturation, and p such that the slope at the
    knee is 1. With a saturation of 1 it is the identity throughout.
    """
    if saturation <= 1.0:
        return np.clip(linear, 0.0, 1.0)
    span = saturation - knee
    t = np.clip((linear - knee) / span, 0.0, 1.0)
    curved = 1.0 - (1.0 - knee) * (1.0 - t) ** (span / (1.0 - knee))
    return np.where(linear <= knee, np.maximum(linear, 0.0), curved)


@lru_cache(maxsize=8)
def _codes(saturation: float) -> Bytes:
    """Eight-bit code for each of 65,536 steps from 0 to saturation."""
    linear = np.linspace(0.0, max(saturation, 1.0), _STEPS + 1)
    return np.round(255.0 * srgb_encode(shoulder(linear, saturation))).astype(np.uint8)


def to_srgb8(photo: Photograph, clip_overlay: bool = False) -> Bytes:
    """The photograph in eight-bit sRGB, (h, w, 3) uint8.

    clip_overlay : mark the pixels with a clipped channel by stripes, black and the colour of the channels
    that are clipped (white for all three).
    """
    saturation = float(photo.saturation)
    height, width = photo.shape
    picture = np.empty((height, width, 3), np.uint8)
    step = max(1, _ROWS_PIXELS // width)
    for start in range(0, height, step):
        rows = slice(start, start + step)
        _show(photo.linear[rows], saturation, picture[rows])
    if clip_overlay:
        _mark(picture, clipped(photo))
    return picture


def _show(linear: Floats, saturation: float, into: Bytes) -> None:
    """Some rows of the picture as codes."""
    steps = linear * np.float32(_STEPS / max(saturation, 1.0))
    if saturation > 1.0:
        _keep_hue(linear, saturation, steps)
    steps += np.float32(0.5)
    np.clip(steps, 0.0, _STEPS, out=steps)
    np.take(_codes(saturation), steps.astype(np.uint16), out=into)


def _keep_hue(linear: Floats, saturation: float, steps: Floats) -> None:
    """Where a channel is above the knee, move the steps so that the shoulder, which works on each channel
    alone, keeps more of the hue."""
    brightest = np.maximum(np.maximum(linear[..., 0], linear[..., 1]), linear[..., 2])
    bright = np.nonzero(brightest > KNEE)
    if bright[0].size == 0:
        return
    colour, most = linear[bright], brightest[bright][:, None]
    wanted = _HUE_SHARE * colour * (shoulder(most, saturation) / most)
    wanted += (1.0 - _HUE_SHARE) * shoulder(colour, saturation)
    steps[bright] = _inverse_shoulder(wanted, saturation) * (_STEPS / saturation)


def _inverse_shoulder(shown: NDArray, saturation: float, knee: float = KNEE) -> NDArray:
    span = saturation - knee
    rest = np.clip((1.0 - shown) / (1.0 - knee), 0.0, 1.0)
    bent = knee + span * (1.0 - rest ** ((1.0 - knee) / span))
    return np.where(shown <= knee, shown, bent)


def clipped(photo: Photograph) -> NDArray[np.bool_]:
    """(h, w, 3) bool: channels at the sensor's limit."""
    return photo.linear >= np.float32(photo.saturation) * np.float32(1 - 1e-6)


def _mark(picture: Bytes, over: NDArray[np.bool_]) -> None:
    rows, columns = np.nonzero(over.any(axis=-1))
    stripe = ((rows + columns) // _STRIPE_PX) % 2 == 0
    colour = np.where(over[rows, columns], 255, 0).astype(np.uint8)
    picture[rows, columns] = np.where(stripe[:, None], colour, np.uint8(0))


def png_bytes(photo: Photograph, clip_overlay: bool = False) -> bytes:
    """The photograph as a PNG file's bytes, eight-bit sRGB."""
    from PIL import Image

    file = io.BytesIO()
    Image.fromarray(to_srgb8(photo, clip_overlay)).save(file, format="PNG")
    return file.getvalue()
