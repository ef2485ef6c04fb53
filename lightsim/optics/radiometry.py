"""Light on a small flat patch, in closed form: discs, rectangles, any polygon, a sphere, a dome.

A configuration factor F gives the irradiance E = pi L F of a patch from a face of even luminance L. Sources:
Howell, A Catalog of Radiation Heat Transfer Configuration Factors; Siegel and Howell, Thermal Radiation Heat
Transfer. Lengths in any one unit.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def disc_factor(radius: ArrayLike, distance: ArrayLike) -> Array:
    """Disc seen square on from a point of its axis: R^2 / (R^2 + h^2)."""
    r2 = np.asarray(radius, dtype=float) ** 2
    return r2 / (r2 + np.asarray(distance, dtype=float) ** 2)


def offset_disc_factor(radius: float, distance: float, offset: float) -> float:
    """Disc in a plane parallel to the patch, whose centre is `offset` to the side of the patch's normal
    (over 0)."""
    h, r = distance / offset, radius / offset
    z = 1 + h * h + r * r
    return 0.5 * (1 - (z - 2 * r * r) / float(np.sqrt(z * z - 4 * r * r)))


def corner_rectangle_factor(width: float, height: float, distance: float) -> float:
    """Rectangle parallel to the patch, one corner straight above it."""
    a, b = width / distance, height / distance
    ra, rb = np.hypot(1, a), np.hypot(1, b)
    return float((a / ra * np.arctan(b / ra) + b / rb * np.arctan(a / rb)) / (2 * np.pi))


def centred_rectangle_factor(width: float, height: float, distance: float) -> float:
    """Rectangle parallel to the patch, its centre straight above it."""
    return 4 * corner_rectangle_factor(width / 2, height / 2, distance)


def upright_rectangle_factor(height: float, width: float, distance: float) -> float:
    """Rectangle that stands at right angles to the patch's plane, its lower corner in that plane at
    `distance` along its own normal; `width` runs along the plane."""
    x, y = height / width, distance / width
    r = np.hypot(x, y)
    return float((np.arctan(1 / y) - y / r * np.arctan(1 / r)) / (2 * np.pi))


def polygon_factor(corners: ArrayLike, point: ArrayLike, normal: ArrayLike) -> float:
    """Any flat polygon, whichever way it turns; what lies below the patch's horizon is cut off.

    corners : (n, 3), in order round the polygon, either way.  point, normal : (3,).
    Lambert's sum over the edges (1760); Baum, Rushmeier and Winget, SIGGRAPH 1989.
    """
    return float(polygon_factors(corners, np.array([point], float), np.array([normal], float))[0])


def polygon_factors(corners: ArrayLike, points: Array, normals: Array) -> Array:
    """`polygon_factor` of one polygon for many patches, (m,).  points, normals : (m, 3)."""
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


def sphere_factor(radius: float, distance: float, angle_deg: float = 0.0) -> float:
    """A glowing sphere wholly above the patch's horizon: (R/d)^2 cos(angle)."""
    return (radius / distance) ** 2 * float(np.cos(np.radians(angle_deg)))


def rectangle_solid_angle_sr(width: float, height: float, distance: float) -> float:
    """Centred rectangle seen square on: 4 atan(a b / (c sqrt(a^2 + b^2 + c^2))) with half sides a and b."""
    a, b, c = width / 2, height / 2, distance
    return 4 * float(np.arctan(a * b / (c * np.sqrt(a * a + b * b + c * c))))


def cone_solid_angle_sr(diameter_deg: ArrayLike) -> Array:
    """A round light by its angular diameter: 2 pi (1 - cos(diameter / 2))."""
    return 4 * np.pi * np.sin(np.radians(np.asarray(diameter_deg, dtype=float)) / 4) ** 2


def dome_factor(tilt_deg: ArrayLike = 0.0) -> Array:
    """An even half-dome of sky over a patch tilted from straight up: (1 + cos(tilt)) / 2."""
    return (1 + np.cos(np.radians(np.asarray(tilt_deg, dtype=float)))) / 2


def inverse_square_share(distance_over_diameter: ArrayLike) -> Array:
    """Light from a disc, on its axis, over what the inverse-square law promises: 1 / (1 + 1 / (4 k^2)).

    0.8 at one diameter, 0.94 at two: a guide number overstates a flash that stands close.
    """
    return 1 / (1 + 1 / (4 * np.asarray(distance_over_diameter, dtype=float) ** 2))


def lambert_sphere_phase(phase_deg: ArrayLike) -> Array:
    """A matt sphere's brightness over that at full phase, by the angle between light and camera: Lambert
    1760."""
    t = np.radians(np.asarray(phase_deg, dtype=float))
    return (np.sin(t) + (np.pi - t) * np.cos(t)) / np.pi


# Mean luminance of a matt sphere's disc at full phase over that of a flat patch facing the light. Lambert
# 1760.
LAMBERT_SPHERE_FULL = 2 / 3


def cavity_gain(albedo: ArrayLike) -> Array:
    """Luminance in a closed matt cavity over what its walls emit: 1 / (1 - rho), the integrating sphere's
    law."""
    return 1 / (1 - np.asarray(albedo, dtype=float))


def penumbra_width(light_size: float, light_to_edge: float, edge_to_surface: float) -> float:
    """Width of a shadow's soft edge, by similar triangles."""
    return light_size * edge_to_surface / light_to_edge
