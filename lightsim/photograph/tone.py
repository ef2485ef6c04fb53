"""The linear photograph -> eight-bit sRGB to look at.

Up to a knee the picture is shown as it is; above, a smooth shoulder brings the sensor's saturation down to
white, so that the half stop which a sensor keeps above white (ISO 12232) still shows shape.
"""

from __future__ import annotations

import io
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.colour import srgb_encode

if TYPE_CHECKING:  # a photograph shows itself in a notebook by way of this file
    from PIL.Image import Image

    from lightsim.picture import Floats, Photograph

KNEE = 0.8
_STEPS = 65535
_ROWS_PIXELS = 40_000  # pixels worked on at a time, so that they stay in the processor's cache
# How much of the shoulder works on all three channels alike, which keeps the hue; the rest works on each
# channel, which lets a very bright colour go toward white, as the eye expects of it. A matter of taste.
HUE_SHARE = 0.5
_MOST = 0.2  # share of bright pixels from which it is quicker to work on all

Bytes = NDArray[np.uint8]


def shoulder(linear: NDArray, saturation: float) -> NDArray:
    """Identity up to the knee, then a smooth, rising curve that reaches 1 at `saturation`; any shape.

    1 - (1 - knee) (1 - t)^p with t from 0 at the knee to 1 at saturation, and p such that the slope at the
    knee is 1. With a saturation of 1 it is the identity throughout.
    """
    if saturation <= 1.0:
        return np.clip(linear, 0.0, 1.0)
    span = saturation - KNEE
    t = np.clip((linear - KNEE) / span, 0.0, 1.0)
    curved = 1.0 - (1.0 - KNEE) * (1.0 - t) ** (span / (1.0 - KNEE))
    return np.where(linear <= KNEE, np.maximum(linear, 0.0), curved)


@lru_cache(maxsize=8)
def _curve(saturation: float) -> Floats:
    """The shoulder at each of 65,536 steps from 0 to saturation."""
    linear = np.linspace(0.0, max(saturation, 1.0), _STEPS + 1)
    return shoulder(linear, saturation).astype(np.float32)


@lru_cache(maxsize=8)
def _codes(saturation: float) -> Bytes:
    """Eight-bit code for each of 65,536 steps from 0 to saturation."""
    linear = np.linspace(0.0, max(saturation, 1.0), _STEPS + 1)
    return np.round(255.0 * srgb_encode(shoulder(linear, saturation))).astype(np.uint8)


def to_srgb8(photo: Photograph) -> Bytes:
    """The photograph in eight-bit sRGB, (h, w, 3) uint8."""
    saturation = float(photo.saturation)
    height, width = photo.shape
    picture = np.empty((height, width, 3), np.uint8)
    step = max(1, _ROWS_PIXELS // width)
    for start in range(0, height, step):
        rows = slice(start, start + step)
        _show(photo.linear[rows], saturation, picture[rows])
    return picture


def _show(linear: Floats, saturation: float, into: Bytes) -> None:
    """Some rows of the picture as codes."""
    step = _step(linear, max(saturation, 1.0))
    np.take(_codes(saturation), step, out=into)
    if saturation > 1.0:
        _keep_hue(linear, step, saturation, into)


def _step(values: Floats, top: float) -> NDArray[np.uint16]:
    """The nearest of 65,536 steps from 0 to the top."""
    steps = values * np.float32(_STEPS / top)
    steps += np.float32(0.5)
    np.clip(steps, 0.0, _STEPS, out=steps)
    return steps.astype(np.uint16)


def _keep_hue(linear: Floats, step: NDArray[np.uint16], saturation: float, into: Bytes) -> None:
    """Where a channel is above the knee, replace the codes, for which the shoulder worked on each channel
    alone, by others that keep more of the hue."""
    brightest = np.maximum(np.maximum(linear[..., 0], linear[..., 1]), linear[..., 2])
    above = brightest > KNEE
    share = np.count_nonzero(above) / above.size
    if share > _MOST:
        kept = _hue_kept(linear, brightest, step, saturation)
        np.copyto(into, kept, where=above[..., None])
    elif share > 0.0:
        bright = np.nonzero(above)
        into[bright] = _hue_kept(linear[bright], brightest[bright], step[bright], saturation)


def _hue_kept(colour: Floats, most: Floats, step: NDArray[np.uint16], saturation: float) -> Bytes:
    """Codes of colours (..., 3) whose brightest channel is `most`; the sensor cuts each channel first."""
    colour, most = np.minimum(colour, np.float32(saturation)), np.minimum(most, np.float32(saturation))
    curve = _curve(saturation)
    gain = np.float32(HUE_SHARE) * curve[_step(most, saturation)]
    gain /= np.maximum(most, np.float32(KNEE))
    shown: Floats = colour * gain[..., None]
    shown += np.float32(1.0 - HUE_SHARE) * curve[step]
    return _codes(1.0)[_step(shown, 1.0)]


def clipped(photo: Photograph) -> NDArray[np.bool_]:
    """(h, w, 3) bool: channels at the sensor's limit."""
    return photo.linear >= np.float32(photo.saturation) * np.float32(1 - 1e-6)


def clipped_bits(photo: Photograph) -> NDArray[np.uint8]:
    """(h, w), a bit for each channel at the sensor's limit: 1 red, 2 green, 4 blue."""
    return np.packbits(clipped(photo), axis=-1, bitorder="little")[..., 0]


def to_srgb16(photo: Photograph) -> NDArray[np.uint16]:
    """The photograph in sixteen-bit sRGB, (h, w, 3), by the curve of `to_srgb8`."""
    saturation = float(photo.saturation)
    picture = np.empty((*photo.shape, 3), np.uint16)
    step = max(1, _ROWS_PIXELS // photo.shape[1])
    for start in range(0, photo.shape[0], step):
        rows = slice(start, start + step)
        shown = _shown(np.asarray(photo.linear[rows], np.float64), saturation)
        picture[rows] = np.round(65535.0 * srgb_encode(np.clip(shown, 0.0, 1.0)))
    return picture


def _shown(linear: NDArray[np.float64], saturation: float) -> NDArray[np.float64]:
    """Linear values as they are shown, in full precision."""
    linear = np.minimum(linear, saturation)  # the sensor cuts each channel
    alone = shoulder(linear, saturation)
    if saturation <= 1.0:
        return alone
    most = linear.max(axis=-1, keepdims=True)
    gain = shoulder(most, saturation) / np.maximum(most, KNEE)
    together = HUE_SHARE * linear * gain + (1.0 - HUE_SHARE) * alone
    return np.where(most > KNEE, together, alone)


def png_bytes(picture: NDArray[np.uint8] | Image) -> bytes:
    """A picture, (h, w, 3) or pillow's, as a PNG file's bytes."""
    from PIL import Image

    file = io.BytesIO()
    image = Image.fromarray(picture) if isinstance(picture, np.ndarray) else picture
    image.save(file, format="PNG")
    return file.getvalue()
