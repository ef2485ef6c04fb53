"""Light on a small flat patch, from rectangles and polygons, in closed form.

A configuration factor F gives the irradiance E = pi L F of a patch from a face of even luminance L. Sources:
Howell, A Catalog of Radiation Heat Transfer Configuration Factors; Siegel and Howell, Thermal Radiation Heat
Transfer. Lengths in any one unit.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def corner_rectangle_factor(width: float, height: float, distance: float) -> float:
    """Rectangle parallel to the patch, one corner straight above it."""
    a, b = width / distance, height / distance
    ra, rb = np.hypot(1, a), np.hypot(1, b)
    return float((a / ra * np.arctan(b / ra) + b / rb * np.arctan(a / rb)) / (2 * np.pi))


def centred_rectangle_factor(width: float, height: float, distance: float) -> float:
    """Rectangle parallel to the patch, its centre straight above it."""
    return 4 * corner_rectangle_factor(width / 2, height / 2, distance)


def polygon_factors(corners: ArrayLike, points: Array, normals: Array) -> Array:
    """Any flat polygon, whichever way it turns, for many patches, (m,); what lies below a patch's horizon is
    cut off.

    corners : (n, 3), in order round the polygon, either way.  points, normals : (m, 3) of the patches.
    Lambert's sum over the edges (1760); Baum, Rushmeier and Winget, SIGGRAPH 1989.
    """
    up = normals / np.linalg.norm(normals, axis=1, keepdims=True)
    rays = np.asarray(corners, dtype=float) - points[:, None]
    above = np.einsum("mni,mi->mn", rays, up) >= 0.0
    whole, cut = above.all(axis=1), above.any(axis=1) & ~above.all(axis=1)
    factors = np.zeros(len(points))
    factors[whole] = _edge_sum(rays[whole], up[whole])
    for k in np.flatnonzero(cut):
        factors[k] = _edge_sum(_above_horizon(rays[k], up[k])[None], up[k : k + 1])[0]
    return factors


def _edge_sum(rays: Array, up: Array) -> Array:
    """Lambert's sum, (m,), over the edges of polygons (m, n, 3) relative to patches that face `up` (m, 3)."""
    following = np.roll(rays, -1, axis=1)
    across = np.cross(rays, following)
    length = np.linalg.norm(across, axis=2)
    angle = np.arctan2(length, np.sum(rays * following, axis=2))
    per_length = np.divide(angle, length, out=np.zeros_like(angle), where=length > 0.0)
    return np.asarray(np.abs(np.sum(per_length * np.einsum("mni,mi->mn", across, up), axis=1)) / (2 * np.pi))


def _above_horizon(rays: Array, normal: Array) -> Array:
    """Cut a polygon, (n, 3) relative to the patch, at the patch's own plane. Sutherland and Hodgman 1974."""
    kept = []
    for here, there in zip(rays, np.roll(rays, -1, axis=0), strict=True):
        up_here, up_there = here @ normal, there @ normal
        if up_here >= 0:
            kept.append(here)
        if up_here * up_there < 0:
            kept.append(here + (there - here) * up_here / (up_here - up_there))
    return np.array(kept).reshape(-1, 3)
