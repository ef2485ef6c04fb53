"""Fresnel's reflectances of a smooth surface, and with them the highlight in a drop.

`index` is that of the far side over that of the side the light comes from: 1.333 from air into water, 1 /
1.333 from water into air. Born and Wolf, Principles of Optics, sec. 1.5; Hecht, Optics, ch. 4. The
highlight is a distant light's mirror image, seen by a distant camera. It lies where the sphere's normal
halves the phase angle t, the angle between camera and light.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.constants import WATER_INDEX

Array = NDArray[np.float64]


def reflectances(angle_deg: ArrayLike, index: float = WATER_INDEX) -> tuple[Array, Array]:
    """Reflected shares of light polarised across (s) and in (p) the plane of incidence, any shape.

    Both are 1 in total reflection.
    """
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


def highlight_place(phase_deg: ArrayLike) -> Array:
    """Distance of the highlight from the drop's centre, over its radius, toward the light: sin(t/2)."""
    return np.sin(np.radians(np.asarray(phase_deg, dtype=float)) / 2)


def highlight_luminance_share(phase_deg: ArrayLike, index: float = WATER_INDEX) -> Array:
    """Luminance of the highlight over the light's own: Fresnel's reflectance at t/2; any shape."""
    return reflectance(np.asarray(phase_deg, dtype=float) / 2, index)
