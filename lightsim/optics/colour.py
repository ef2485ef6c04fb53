"""Colour without a scene: the sRGB encoding, XYZ, the colour of light by its temperature, white balance.

Colours are linear sRGB with luminance as the weighted sum of ITU-R BT.709. Of the two matrices in use
(the four-place one printed in IEC 61966-2-1:1999, and one derived from the primaries; they differ by up to
4e-5) the printed one serves here, since its second row is exactly those weights.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.constants import LUMINANCE_WEIGHTS
from lightsim.optics.cie1931 import WAVELENGTHS_NM, XYZ_BAR

Array = NDArray[np.floating]

# Linear sRGB to XYZ. IEC 61966-2-1:1999.
SRGB_TO_XYZ: Array = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]],
)
XYZ_TO_SRGB: Array = np.linalg.inv(SRGB_TO_XYZ)

# XYZ to the sharpened cone responses of the Bradford transform. Lam 1985, as printed in ICC.1:2010, annex E.
BRADFORD: Array = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]],
)

# Second radiation constant hc/k, m K, rounded as in CIE 015 (CODATA: 0.01438777).
SECOND_RADIATION_CONSTANT_M_K = 0.014388

# Blackbody at and below the first, daylight at and above the second, and between them a blend that is
# linear in the reciprocal temperature. CIE 015 gives the daylight locus from 4000 K up.
BLACKBODY_BELOW_K = 4000.0
DAYLIGHT_ABOVE_K = 5000.0

# The temperatures for which the formulas hold: below, the blackbody is redder than sRGB's red; above, CIE
# 015's daylight locus ends.
TEMPERATURE_RANGE_K = (1000.0, 25000.0)


def srgb_encode(linear: ArrayLike) -> Array:
    """Linear light 0..1 to the sRGB signal 0..1, any shape. IEC 61966-2-1:1999."""
    linear = np.asarray(linear, dtype=float)
    curved = 1.055 * np.maximum(linear, 0.0031308) ** (1 / 2.4) - 0.055
    return np.where(linear <= 0.0031308, 12.92 * linear, curved)


def srgb_decode(signal: ArrayLike) -> Array:
    """sRGB signal 0..1 to linear light 0..1, any shape; the inverse of `srgb_encode`. IEC 61966-2-1:1999."""
    signal = np.asarray(signal, dtype=float)
    curved = ((np.maximum(signal, 0.04045) + 0.055) / 1.055) ** 2.4
    return np.where(signal <= 0.04045, signal / 12.92, curved)


def srgb_of_xyz(xyz: ArrayLike) -> Array:
    """XYZ (..., 3) to linear sRGB (..., 3), which is negative outside the gamut. IEC 61966-2-1:1999."""
    return np.asarray(xyz, dtype=float) @ XYZ_TO_SRGB.T


def xyz_of_xy(xy: ArrayLike) -> Array:
    """Chromaticity (..., 2) to XYZ (..., 3) with Y = 1."""
    xy = np.asarray(xy, dtype=float)
    x, y = xy[..., 0], xy[..., 1]
    return np.stack([x / y, np.ones_like(x), (1 - x - y) / y], axis=-1)


def xy_of_xyz(xyz: ArrayLike) -> Array:
    """XYZ (..., 3) to chromaticity (..., 2)."""
    xyz = np.asarray(xyz, dtype=float)
    return xyz[..., :2] / xyz.sum(axis=-1, keepdims=True)


def blackbody_xy(kelvin: float) -> Array:
    """Chromaticity (2,) of a blackbody, CIE 1931 observer: Planck's law summed every 5 nm, 380 to 780 nm."""
    wavelength_m = WAVELENGTHS_NM * 1e-9
    spectrum = wavelength_m**-5 / np.expm1(SECOND_RADIATION_CONSTANT_M_K / (wavelength_m * kelvin))
    return xy_of_xyz(spectrum @ XYZ_BAR)


def daylight_xy(kelvin: float) -> Array:
    """Chromaticity (2,) of a phase of daylight, 4000 to 25000 K. CIE 015:2018, the D series."""
    if kelvin <= 7000.0:
        cubic = (-4.6070e9, 2.9678e6, 99.11, 0.244063)
    else:
        cubic = (-2.0064e9, 1.9018e6, 247.48, 0.237040)
    x = np.polyval(cubic, 1.0 / kelvin)
    return np.array([x, -3.0 * x * x + 2.870 * x - 0.275])


def light_xy(kelvin: float) -> Array:
    """Chromaticity (2,) of a light of that colour temperature: blackbody up to 4000 K, daylight from 5000
    K, and between them a blend linear in the reciprocal temperature."""
    if kelvin <= BLACKBODY_BELOW_K:
        return blackbody_xy(kelvin)
    if kelvin >= DAYLIGHT_ABOVE_K:
        return daylight_xy(kelvin)
    span = 1 / BLACKBODY_BELOW_K - 1 / DAYLIGHT_ABOVE_K
    day = (1 / BLACKBODY_BELOW_K - 1 / kelvin) / span
    return (1 - day) * blackbody_xy(kelvin) + day * daylight_xy(kelvin)


@lru_cache(maxsize=256)
def _white(kelvin: float) -> Array:
    low, high = TEMPERATURE_RANGE_K
    if not low <= kelvin <= high:
        raise ValueError(f"a colour temperature of {kelvin:g} K was given, {low:g} to {high:g} K is allowed")
    rgb = np.maximum(srgb_of_xyz(xyz_of_xy(light_xy(kelvin))), 0.0)
    white = rgb / (rgb @ np.array(LUMINANCE_WEIGHTS))
    white.flags.writeable = False
    return white


def white_of_temperature(kelvin: float) -> Array:
    """Colour of a light in linear sRGB, (3,), luminance 1, by its colour temperature in kelvin (1000 to
    25000).

    A blackbody below about 1900 K lies outside sRGB; its missing blue is put at zero. ValueError outside
    the range.
    """
    return _white(float(kelvin))


def adaptation_matrix(from_white: ArrayLike, to_white: ArrayLike) -> Array:
    """Von Kries scaling in the Bradford cone space, (3, 3) on XYZ columns. ICC.1:2010, annex E.

    from_white, to_white : (3,) XYZ of the white to be taken for `to_white`.
    """
    gains = (BRADFORD @ np.asarray(to_white, dtype=float)) / (BRADFORD @ np.asarray(from_white, dtype=float))
    return np.linalg.inv(BRADFORD) @ np.diag(gains) @ BRADFORD


def white_balance_matrix(white: ArrayLike) -> Array:
    """(3, 3) on linear sRGB columns that turns `white`, (3,) linear sRGB, into a neutral of the same
    luminance."""
    white = np.asarray(white, dtype=float)
    neutral = np.full(3, white @ np.array(LUMINANCE_WEIGHTS))
    adapt = adaptation_matrix(SRGB_TO_XYZ @ white, SRGB_TO_XYZ @ neutral)
    return XYZ_TO_SRGB @ adapt @ SRGB_TO_XYZ
