"""A layer of light as half floats (IEEE 754 binary16), three a pixel, as a browser's texture takes them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lightsim.picture import Floats

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
