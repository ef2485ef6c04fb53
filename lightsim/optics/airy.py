"""Diffraction and defocus at the image: the Airy disc, and how much contrast is left at a spatial frequency.

Goodman, Introduction to Fourier Optics, ch. 6; Hecht, Optics, ch. 10. f-numbers are effective ones.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

GREEN_NM = 550.0

# First zero of J1(x) / x over pi: the first dark ring has the radius 1.21967 lambda N.
FIRST_DARK_RING = 1.2196698912665045


def airy_diameter_um(effective_f_number: ArrayLike, wavelength_nm: float = GREEN_NM) -> Array:
    """Diameter of the first dark ring at the sensor, micrometres: 2.44 lambda N_eff."""
    return 2 * FIRST_DARK_RING * wavelength_nm / 1000.0 * np.asarray(effective_f_number, dtype=float)


def airy_pattern(radius_um: ArrayLike, effective_f_number: float, wavelength_nm: float = GREEN_NM) -> Array:
    """Light at a distance from the image of a point, per square micrometre and unit of light, any shape.

    pi / (4 (lambda N)^2) (2 J1(v) / v)^2 with v = pi r / (lambda N).
    """
    from scipy.special import j1

    unit = wavelength_nm / 1000.0 * effective_f_number
    v = np.pi * np.asarray(radius_um, dtype=float) / unit
    small = v < 1e-6
    safe = np.where(small, 1.0, v)
    return np.pi / (4 * unit**2) * np.where(small, 1.0, (2 * j1(safe) / safe) ** 2)


def encircled_share(
    radius_um: ArrayLike, effective_f_number: float, wavelength_nm: float = GREEN_NM
) -> Array:
    """Share of a point's light within a radius: 1 - J0(v)^2 - J1(v)^2 (Rayleigh 1881), any shape; 0.838
    at the ring."""
    from scipy.special import j0, j1

    v = np.pi * np.asarray(radius_um, dtype=float) / (wavelength_nm / 1000.0 * effective_f_number)
    return 1 - j0(v) ** 2 - j1(v) ** 2


def cut_off_per_mm(effective_f_number: float, wavelength_nm: float = GREEN_NM) -> float:
    """Finest frequency that any contrast is left at, cycles/mm at the sensor: 1 / (lambda N_eff)."""
    return 1e6 / (wavelength_nm * effective_f_number)


def diffraction_contrast(
    per_mm: ArrayLike, effective_f_number: float, wavelength_nm: float = GREEN_NM
) -> Array:
    """MTF of a perfect round lens, any shape: (2/pi)(acos x - x sqrt(1 - x^2)), x = frequency / cut-off."""
    share = np.asarray(per_mm, dtype=float) / cut_off_per_mm(effective_f_number, wavelength_nm)
    x = np.clip(share, 0.0, 1.0)
    return 2 / np.pi * (np.arccos(x) - x * np.sqrt(1 - x * x))


def resolved_detail_um(
    effective_f_number: ArrayLike, magnification: float, wavelength_nm: float = GREEN_NM
) -> Array:
    """Two points at the subject just told apart, micrometres: 1.22 lambda N_eff / m (Rayleigh), 0.61
    lambda / NA."""
    return airy_diameter_um(effective_f_number, wavelength_nm) / 2 / magnification


def object_aperture(effective_f_number: float, magnification: float) -> float:
    """Numerical aperture on the subject's side, paraxial: m / (2 N_eff)."""
    return magnification / (2 * effective_f_number)
