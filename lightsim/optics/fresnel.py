"""Light at a smooth surface of water: Snell's law and Fresnel's reflectances.

Everywhere `index` is the index of the far side over that of the side the light comes from: 1.333 from air
into water, 1 / 1.333 from water into air. Born and Wolf, Principles of Optics, sec. 1.5; Hecht, Optics, ch.
4.
"""

from __future__ import annotations

from math import asin, atan, degrees, log

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.constants import WATER_INDEX

Array = NDArray[np.float64]


def refracted_angle_deg(angle_deg: ArrayLike, index: float = WATER_INDEX) -> Array:
    """Angle to the normal after refraction, degrees, any shape; NaN where the light is totally reflected."""
    sine = np.sin(np.radians(np.asarray(angle_deg, dtype=float))) / index
    passes = sine <= 1.0
    return np.where(passes, np.degrees(np.arcsin(np.where(passes, sine, 0.0))), np.nan)


def reflectances(angle_deg: ArrayLike, index: float = WATER_INDEX) -> tuple[Array, Array]:
    """Reflected share of light polarised across (s) and in (p) the plane of incidence; 1 in total
    reflection."""
    angle = np.radians(np.asarray(angle_deg, dtype=float))
    cos_i = np.cos(angle)
    cos_t_squared = 1 - (np.sin(angle) / index) ** 2
    cos_t = np.sqrt(np.maximum(cos_t_squared, 0.0))
    with np.errstate(invalid="ignore"):  # grazing from both sides at once: index 1 at 90 degrees
        s = ((cos_i - index * cos_t) / (cos_i + index * cos_t)) ** 2
        p = ((index * cos_i - cos_t) / (index * cos_i + cos_t)) ** 2
    total = cos_t_squared <= 0.0
    return np.where(total, 1.0, s), np.where(total, 1.0, p)


def reflectance(angle_deg: ArrayLike, index: float = WATER_INDEX) -> Array:
    """Reflected share of unpolarised light, any shape."""
    s, p = reflectances(angle_deg, index)
    return (s + p) / 2


def brewster_angle_deg(index: float = WATER_INDEX) -> float:
    """Where the p-polarised share is zero: atan(index)."""
    return degrees(atan(index))


def critical_angle_deg(index: float = WATER_INDEX) -> float:
    """From inside a medium of this index (over 1): the angle from which all is reflected, asin(1 / index)."""
    return degrees(asin(1 / index))


def diffuse_reflectance_outside(index: float = WATER_INDEX) -> float:
    """Reflected share of light that comes evenly from all sides of the air; 0.0664 for water. index over 1.

    The integral of the Fresnel reflectance times sin(2 angle) in closed form: Walsh (1926), as given by
    Duntley, J. Opt. Soc. Am. 32 (1942) 61.
    """
    n, n2, n4 = index, index**2, index**4
    return (
        0.5
        + (n - 1) * (3 * n + 1) / (6 * (n + 1) ** 2)
        + n2 * (n2 - 1) ** 2 / (n2 + 1) ** 3 * log((n - 1) / (n + 1))
        - 2 * n**3 * (n2 + 2 * n - 1) / ((n2 + 1) * (n4 - 1))
        + 8 * n4 * (n4 + 1) / ((n2 + 1) * (n4 - 1) ** 2) * log(n)
    )


def diffuse_reflectance_inside(index: float = WATER_INDEX) -> float:
    """Share thrown back of light that comes evenly from all sides of the water; 0.4746 for water.

    1 - (1 - Re) / n^2: the same light passes both ways through the surface. Saunderson, J. Opt. Soc. Am. 32
    (1942) 727.
    """
    return 1 - (1 - diffuse_reflectance_outside(index)) / index**2


def wet_albedo(dry_albedo: ArrayLike, index: float = WATER_INDEX) -> Array:
    """Reflected share of diffuse light for a matt petal under a film of water, any shape; 1 stays 1.

    Re + (1 - Re)(1 - Ri) rho / (1 - Ri rho), Saunderson 1942: a petal of middle tone darkens when wet.
    """
    rho = np.asarray(dry_albedo, dtype=float)
    outside, inside = diffuse_reflectance_outside(index), diffuse_reflectance_inside(index)
    return outside + (1 - outside) * (1 - inside) * rho / (1 - inside * rho)
