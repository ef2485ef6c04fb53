"""Diffraction in the picture: each channel spread by the Airy pattern of the lens as it stands."""

from __future__ import annotations

import weakref
from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import LUMINANCE_WEIGHTS
from lightsim.optics.airy import FIRST_DARK_RING, airy_pattern, encircled_share
from lightsim.photograph.blur import Kernel, blurred, blurred_channel
from lightsim.picture import Floats, Layer, Layers

# The middle of the band that each channel sees, and its width at half height; common practice, no source.
# The width washes out the outer rings, which no picture in white light shows.
WAVELENGTHS_NM = (600.0, 540.0, 460.0)
BAND_NM = 60.0

# How far the kernel reaches, in lambda N: 0.5 % of a point's light falls outside and is given back to the
# rest.
_REACH = 40.0
FINEST = 6.0  # samples of the pattern per lambda N within a pixel
MOST_SAMPLES = 41  # along a pixel's side: a pixel that needs more is integrated by encircled energy
_LARGEST_PX = 512
_TABLE_STEPS = 60  # steps of the radial table per lambda N
_BAND_STEPS = 9


@dataclass(frozen=True)
class Diffraction:
    """effective_f_number, and the picture's pixel at the sensor in micrometres."""

    effective_f_number: float
    pixel_um: float

    def kernels(self) -> tuple[Kernel, ...]:
        """Airy patterns summed over the area of each pixel, red, green, blue."""
        return tuple(
            airy_kernel(self.effective_f_number, self.pixel_um, nm, BAND_NM) for nm in WAVELENGTHS_NM
        )


@dataclass(frozen=True)
class WhiteDiffraction:
    """Diffraction of white light, by the luminance that each channel gives: one kernel for all of it."""

    of: Diffraction

    def kernels(self) -> tuple[Kernel, ...]:
        """The patterns of red, green and blue, by their shares of the luminance."""
        patterns = self.of.kernels()
        side = max(len(pattern) for pattern in patterns)
        white = np.zeros((side, side))
        for pattern, weight in zip(patterns, LUMINANCE_WEIGHTS, strict=True):
            margin = (side - len(pattern)) // 2
            white[margin : side - margin, margin : side - margin] += weight * pattern
        return (white / white.sum(),)


def pixel_at_sensor_um(mm_per_px: float, magnification: float) -> float:
    """The picture's pixel as it lies on the sensor."""
    return 1000.0 * mm_per_px * magnification


def airy_kernel(
    effective_f_number: float, pixel_um: float, wavelength_nm: float, band_nm: float = 0.0
) -> Kernel:
    """Share of a point's light that falls into each pixel round it, (2k + 1, 2k + 1), sum 1.

    band_nm : width at half height of a triangular band round the wavelength; 0 for one pure colour.
    """
    unit_um = wavelength_nm / 1000.0 * effective_f_number
    reach = reach_px(effective_f_number, pixel_um, wavelength_nm)
    fine = max(3, ceil(FINEST * pixel_um / unit_um)) | 1
    if fine > MOST_SAMPLES:
        quadrant = _pixel_energies(reach, pixel_um, effective_f_number, wavelength_nm, band_nm)
    else:
        radius = np.arange(0.0, (reach + 1.5) * pixel_um * 2**0.5, unit_um / _TABLE_STEPS)
        light = _band_pattern(radius, effective_f_number, wavelength_nm, band_nm)
        quadrant = _pixel_sums(reach, fine, pixel_um, radius, light)
    half = np.concatenate([quadrant[:0:-1], quadrant])
    kernel = np.concatenate([half[:, :0:-1], half], axis=1)
    return kernel / kernel.sum()


def reach_px(effective_f_number: float, pixel_um: float, wavelength_nm: float = WAVELENGTHS_NM[0]) -> int:
    """How many pixels a kernel reaches to each side."""
    unit_um = wavelength_nm / 1000.0 * effective_f_number
    return min(max(1, ceil(_REACH * unit_um / pixel_um)), _LARGEST_PX)


def _pixel_energies(
    reach: int, pixel_um: float, n_eff: float, wavelength_nm: float, band_nm: float
) -> NDArray:
    """Pixels 0 to reach along both axes where a pixel is many times as wide as the pattern.

    Each pixel is parted into squares, each of which takes the energy of its annulus by its area: the part of
    a square is right however fine the rings in it are, and the middle one has what lies within its area.
    """

    def within(radius_um: NDArray) -> NDArray:
        return _over_band(lambda nm: encircled_share(radius_um, n_eff, nm), wavelength_nm, band_nm)

    side = pixel_um / MOST_SAMPLES
    places = (np.arange((reach + 1) * MOST_SAMPLES) - MOST_SAMPLES // 2) * side
    rows = []
    for row in range(reach + 1):
        y = places[row * MOST_SAMPLES : (row + 1) * MOST_SAMPLES]
        far = np.hypot(y[:, None], places)
        inner, outer = np.maximum(far - 0.5 * side, 0.0), far + 0.5 * side
        energy = side**2 * (within(outer) - within(inner)) / (np.pi * (outer**2 - inner**2))
        energy[far == 0.0] = within(np.array(side / np.pi**0.5))
        rows.append(energy.reshape(MOST_SAMPLES, reach + 1, MOST_SAMPLES).sum(axis=(0, 2)))
    return np.array(rows)


def _band_pattern(radius_um: NDArray, n_eff: float, wavelength_nm: float, band_nm: float) -> NDArray:
    """The pattern by its radius, averaged over the band."""
    return _over_band(lambda nm: airy_pattern(radius_um, n_eff, nm), wavelength_nm, band_nm)


def _over_band(of_wavelength: Callable[[float], NDArray], wavelength_nm: float, band_nm: float) -> NDArray:
    """Something of one wavelength, averaged over the band."""
    if band_nm == 0:
        return of_wavelength(wavelength_nm)
    places = np.linspace(-1.0, 1.0, _BAND_STEPS + 2)[1:-1]
    weights = 1.0 - np.abs(places)
    parts = [
        weight * of_wavelength(wavelength_nm + place * band_nm)
        for place, weight in zip(places, weights, strict=True)
    ]
    return np.sum(parts, axis=0) / weights.sum()


def _pixel_sums(reach: int, fine: int, pixel_um: float, radius_um: NDArray, light: NDArray) -> NDArray:
    """Pixels 0 to reach along both axes, each the sum of fine x fine samples of the pattern."""
    offsets = (np.arange(fine) - fine // 2) / fine
    places = (np.arange(reach + 1)[:, None] + offsets).ravel() * pixel_um
    rows = []
    for row in range(reach + 1):
        y = places[row * fine : (row + 1) * fine]
        samples = np.interp(np.hypot(y[:, None], places), radius_um, light)
        rows.append(samples.reshape(fine, reach + 1, fine).sum(axis=(0, 2)))
    return np.array(rows)


def diffracted(picture: Floats, diffraction: Diffraction) -> Floats:
    """The linear picture, (h, w, 3) float32, as the lens draws it."""
    return blurred(picture, diffraction)


def diffracted_luminance(picture: Floats, diffraction: Diffraction) -> Floats:
    """A picture of one luminance, (h, w) float32, spread as white light is."""
    return blurred_channel(picture, WhiteDiffraction(diffraction), 0)


def within_dark_ring(glint: Floats, diffraction: Diffraction) -> NDArray[np.bool_]:
    """(h, w), where a highlight is, or its Airy disc: the faint light farther out is no highlight."""
    from scipy.ndimage import distance_transform_edt

    lit = glint > 0.0
    if not lit.any():
        return lit
    ring_um = FIRST_DARK_RING * WAVELENGTHS_NM[1] / 1000.0 * diffraction.effective_f_number
    far_px = distance_transform_edt(~lit)
    return np.asarray(far_px <= max(ring_um / diffraction.pixel_um, 1.0))


def diffract_layers(layers: Layers, diffraction: Diffraction) -> Layers:
    """The same layers as the lens draws them: every exposure of them has the diffraction in it.

    What was made of a layer is kept for as long as that layer lives, so asking again costs nothing.
    Of what is seen in drops the highlight within its dark ring stays apart; all else, the highlight's fringe
    of colour too, is in the layer's `surface`, which may be a little negative there.
    """
    by_light = {name: _kept_or_new(layer, diffraction) for name, layer in layers.by_light.items()}
    return replace(layers, by_light=by_light)


# By the id of a layer that lives: how it was drawn last, and what came of it.
_KEPT: dict[int, tuple[Diffraction, Layer]] = {}


def _kept_or_new(layer: Layer, diffraction: Diffraction) -> Layer:
    kept = _KEPT.get(id(layer))
    if kept is not None and kept[0] == diffraction:
        return kept[1]
    drawn = _diffract_layer(layer, diffraction)
    if kept is None:
        weakref.finalize(layer, _KEPT.pop, id(layer), None)
    _KEPT[id(layer)] = (diffraction, drawn)
    return drawn


def _diffract_layer(layer: Layer, diffraction: Diffraction) -> Layer:
    white = diffracted_luminance(layer.glint, diffraction)
    white *= within_dark_ring(layer.glint, diffraction)
    in_drops = layer.surface + layer.water + layer.glint[..., None]
    return replace(
        layer,
        glint=white,
        surface=blurred(in_drops, diffraction) - white[..., None],
        water=np.zeros_like(layer.water),
        petal=blurred(layer.petal, diffraction),
    )
