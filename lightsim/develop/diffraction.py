"""Diffraction in the picture: each channel spread by the Airy pattern of the lens as it stands."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import LUMINANCE_WEIGHTS
from lightsim.develop.blur import Kernel, blurred, blurred_channel
from lightsim.optics.airy import airy_pattern
from lightsim.picture import Floats, Layer, Layers

# One wavelength for each channel, near where sRGB's red, green and blue of a camera have their middle; common
# practice, no source.
WAVELENGTHS_NM = (600.0, 540.0, 460.0)

# How far the kernel reaches, in lambda N: 0.5 % of a point's light falls outside and is given back to the
# rest.
_REACH = 40.0
_FINEST = 6.0  # samples of the pattern per lambda N within a pixel
_LARGEST_PX = 512


@dataclass(frozen=True)
class Diffraction:
    """effective_f_number, and the picture's pixel at the sensor in micrometres."""

    effective_f_number: float
    pixel_um: float

    def kernels(self) -> tuple[Kernel, ...]:
        """Airy patterns summed over the area of each pixel, red, green, blue."""
        return tuple(airy_kernel(self.effective_f_number, self.pixel_um, nm) for nm in WAVELENGTHS_NM)


def pixel_at_sensor_um(mm_per_px: float, magnification: float) -> float:
    """The picture's pixel as it lies on the sensor."""
    return 1000.0 * mm_per_px * magnification


def airy_kernel(effective_f_number: float, pixel_um: float, wavelength_nm: float) -> Kernel:
    """Share of a point's light that falls into each pixel round it, (2k + 1, 2k + 1), sum 1."""
    unit_um = wavelength_nm / 1000.0 * effective_f_number
    reach = min(max(1, ceil(_REACH * unit_um / pixel_um)), _LARGEST_PX)
    fine = max(3, ceil(_FINEST * pixel_um / unit_um)) | 1
    quadrant = _pixel_sums(reach, fine, effective_f_number, pixel_um, wavelength_nm)
    half = np.concatenate([quadrant[:0:-1], quadrant])
    kernel = np.concatenate([half[:, :0:-1], half], axis=1)
    return kernel / kernel.sum()


def _pixel_sums(reach: int, fine: int, n_eff: float, pixel_um: float, wavelength_nm: float) -> NDArray:
    """Pixels 0 to reach along both axes, each the sum of fine x fine samples of the pattern."""
    offsets = (np.arange(fine) - fine // 2) / fine
    places = (np.arange(reach + 1)[:, None] + offsets).ravel() * pixel_um
    rows = []
    for row in range(reach + 1):
        y = places[row * fine : (row + 1) * fine]
        light = airy_pattern(np.hypot(y[:, None], places), n_eff, wavelength_nm)
        rows.append(light.reshape(fine, reach + 1, fine).sum(axis=(0, 2)))
    return np.array(rows)


def diffracted(picture: Floats, diffraction: Diffraction) -> Floats:
    """The linear picture, (h, w, 3) float32, as the lens draws it."""
    return blurred(picture, diffraction)


def diffracted_luminance(picture: Floats, diffraction: Diffraction) -> Floats:
    """A picture of one luminance, (h, w) float32, spread as white light is."""
    parts = (
        np.float32(weight) * blurred_channel(picture, diffraction, channel)
        for channel, weight in enumerate(LUMINANCE_WEIGHTS)
    )
    return np.sum(list(parts), axis=0, dtype=np.float32)


def diffract_layers(layers: Layers, diffraction: Diffraction) -> Layers:
    """The same layers as the lens draws them: do it once, and every exposure of them has the diffraction in
    it.

    The fringe of colour round a highlight goes to the layer's `surface`, which may be a little negative
    there.
    """
    by_light = {name: _diffract_layer(layer, diffraction) for name, layer in layers.by_light.items()}
    return replace(layers, by_light=by_light)


def _diffract_layer(layer: Layer, diffraction: Diffraction) -> Layer:
    glint = np.repeat(layer.glint[..., None], 3, axis=2)
    coloured = blurred(glint, diffraction)
    white = (coloured @ np.array(LUMINANCE_WEIGHTS, np.float32)).astype(np.float32)
    return replace(
        layer,
        glint=white,
        surface=blurred(layer.surface, diffraction) + coloured - white[..., None],
        water=blurred(layer.water, diffraction),
        petal=blurred(layer.petal, diffraction),
    )
