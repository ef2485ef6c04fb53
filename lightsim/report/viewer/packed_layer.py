"""A layer of light packed for a page that has all its pictures within itself.

Luminance goes in steps of a fixed part of a stop; colour as the ratios red : luminance and blue : luminance,
in coarser steps for squares of 2 x 2 pixels. Each number is foretold from its neighbours to the left, above
and above left (the median predictor of ISO/IEC 14495-1, clause A.4.1), and what is left over is deflated (RFC
1951). `packed_layer.js` undoes it.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import LUMINANCE_WEIGHTS
from lightsim.picture import Floats

DEEPEST_STOPS = 24.0  # below the brightest pixel; what is darker counts as black
RATIO_STEPS_PER_STOP = 24
WIDEST_RATIO_STOPS = 10.0
ESCAPE = 255  # a byte that is followed by two more


@dataclass(frozen=True)
class PackedPlanes:
    """data : deflated.  brightest : luminance of the code `top`.  steps_per_stop : of the luminance."""

    data: bytes
    brightest: float
    top: int
    steps_per_stop: int


def packed_layer(colours: Floats, steps_per_stop: int = 64) -> PackedPlanes:
    """Colours (h, w, 3), linear and at least 0, packed with luminance right to half a step."""
    weights = np.asarray(LUMINANCE_WEIGHTS, np.float32)
    light = np.maximum(colours, 0.0)
    luminance = light @ weights
    brightest = max(float(luminance.max(initial=0.0)), 1e-30)
    top = round(DEEPEST_STOPS * steps_per_stop)
    with np.errstate(divide="ignore"):
        codes = np.rint(top + steps_per_stop * np.log2(luminance / brightest))
    codes = np.where(np.isfinite(codes), np.clip(codes, 0, top), 0).astype(np.int32)
    small = _halved(light)
    base = np.maximum(small @ weights, 1e-30)
    planes = [codes, *(_ratio_codes(small[..., channel], base) for channel in (0, 2))]
    return PackedPlanes(
        zlib.compress(b"".join(map(_coded, planes)), 9, wbits=-15), brightest, top, steps_per_stop
    )


def _ratio_codes(part: Floats, luminance: Floats) -> NDArray[np.int32]:
    limit = round(WIDEST_RATIO_STOPS * RATIO_STEPS_PER_STOP)
    with np.errstate(divide="ignore"):
        codes = np.rint(RATIO_STEPS_PER_STOP * np.log2(part / luminance))
    return np.clip(np.where(np.isnan(codes), 0, codes), -limit, limit).astype(np.int32)


def _halved(light: Floats) -> Floats:
    """Means of squares of 2 x 2 pixels; the last column or row is doubled where their number is odd."""
    height, width = light.shape[:2]
    padded = np.pad(light, ((0, height % 2), (0, width % 2), (0, 0)), mode="edge")
    return padded.reshape((height + 1) // 2, 2, (width + 1) // 2, 2, 3).mean(axis=(1, 3))


def _coded(plane: NDArray[np.int32]) -> bytes:
    """What the predictor leaves over, signs folded into the last bit, as bytes with escapes."""
    left, above = np.zeros_like(plane), np.zeros_like(plane)
    left[:, 1:], above[1:] = plane[:, :-1], plane[:-1]
    corner = np.zeros_like(plane)
    corner[1:, 1:] = plane[:-1, :-1]
    low, high = np.minimum(left, above), np.maximum(left, above)
    foretold = np.where(corner >= high, low, np.where(corner <= low, high, left + above - corner))
    rest = (plane - foretold).ravel()
    folded = np.where(rest >= 0, 2 * rest, -2 * rest - 1).astype(np.uint32)
    long = folded >= ESCAPE
    sizes = np.where(long, 3, 1)
    places = np.concatenate([[0], np.cumsum(sizes)])
    out = np.empty(int(places[-1]), np.uint8)
    out[places[:-1]] = np.where(long, ESCAPE, folded)
    at = places[:-1][long]
    out[at + 1], out[at + 2] = folded[long] & 255, folded[long] >> 8
    return out.tobytes()


# The brightest value is put here, a little below the largest half float (65504): the dark parts then keep all
# eleven bits of precision down to a millionth of it.
BRIGHTEST = 60_000.0


@dataclass(frozen=True)
class LayerBytes:
    """data : (h, w, 3) half floats, little-endian, rows from the top.  scale : their common factor."""

    data: bytes
    scale: float


def half_floats(colours: Floats) -> LayerBytes:
    """Colours (h, w, 3) as half floats with one scale, to a relative precision of 2^-11."""
    brightest = float(np.abs(colours).max(initial=0.0))
    scale = brightest / BRIGHTEST if brightest > 0.0 else 1.0
    return LayerBytes((colours * np.float32(1.0 / scale)).astype("<f2").tobytes(), scale)
