"""The highlight: a light's mirror image in a drop, seen by a distant camera.

It lies where the sphere's normal halves the angle between camera and light. Lengths are over the drop's
radius, x is toward the light in the picture and y across. The simple forms hold for a distant light whose
angular diameter is small against `crescent_limit_deg`; the outline holds for any light.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.constants import WATER_INDEX
from lightsim.optics.fresnel import reflectance
from lightsim.optics.radiometry import cone_solid_angle_sr

Array = NDArray[np.float64]


class Ellipse(NamedTuple):
    """A shape by its moments: full axes of the ellipse with the same second moments, place of its
    centroid."""

    area: float
    x: float
    y: float
    long: float
    short: float

    @property
    def aspect(self) -> float:
        """long / short."""
        return self.long / self.short


def highlight_place(phase_deg: ArrayLike) -> Array:
    """Distance of its centre from the drop's, toward the light: sin(t/2); any shape."""
    return np.sin(np.radians(np.asarray(phase_deg, dtype=float)) / 2)


def highlight_width(phase_deg: ArrayLike, diameter_deg: ArrayLike) -> Array:
    """Full width toward the light, exact for a distant disc of that angular diameter: 2 cos(t/2)
    sin(diameter/4)."""
    half = np.radians(np.asarray(phase_deg, dtype=float)) / 2
    return 2 * np.cos(half) * np.sin(np.radians(np.asarray(diameter_deg, dtype=float)) / 4)


def highlight_height(phase_deg: ArrayLike, diameter_deg: ArrayLike) -> Array:
    """Full width across, for a small disc: (diameter / 2) / cos(t/2)."""
    half = np.radians(np.asarray(phase_deg, dtype=float)) / 2
    return np.radians(np.asarray(diameter_deg, dtype=float)) / 2 / np.cos(half)


def highlight_aspect(phase_deg: ArrayLike) -> Array:
    """Height over width, for a small disc: 1 / cos^2(t/2)."""
    return 1 / np.cos(np.radians(np.asarray(phase_deg, dtype=float)) / 2) ** 2


def highlight_area(diameter_deg: ArrayLike) -> Array:
    """Area over R^2, exact, the same at every phase angle until the drop's rim cuts it: solid angle / 4.

    Each patch dA of the drop's disc sends its light into a solid angle of 4 dA / R^2, whichever way.
    """
    return cone_solid_angle_sr(diameter_deg) / 4


def highlight_luminance_share(phase_deg: ArrayLike, index: float = WATER_INDEX) -> Array:
    """Highlight's luminance over the light's own: Fresnel's reflectance at half the phase angle."""
    return reflectance(np.asarray(phase_deg, dtype=float) / 2, index)


def highlight_over_petal(phase_deg: float, diameter_deg: float, reflectance_share: float) -> float:
    """Luminance over that of a matt petal which faces the same light: F(t/2) / (rho sin^2(diameter/2)).

    Below 1 the light is so large that its mirror image is darker than the petal.
    """
    share = float(highlight_luminance_share(phase_deg))
    return share / (reflectance_share * float(np.sin(np.radians(diameter_deg) / 2)) ** 2)


def crescent_limit_deg(phase_deg: float) -> float:
    """Diameter of the light that the simple forms must stay well under: 16 cos^3(t/2) sin(t/2) radians.

    Beyond it the highlight bends into a crescent; the area stays right.
    """
    half = np.radians(phase_deg) / 2
    return float(np.degrees(16 * np.cos(half) ** 3 * np.sin(half)))


def mirrored_points(light_points: ArrayLike) -> Array:
    """Where the drop shows each point of a light: (n, 3) -> (n, 2), radius 1, camera far away on +z.

    The normal stands at an angle p off the axis, in the plane of axis and point, such that the point's
    direction from the surface stands p further: solved by halving, which cannot miss, the difference rising
    with p.
    """
    points = np.asarray(light_points, dtype=float)
    off_axis = np.hypot(points[:, 0], points[:, 1])
    low, high = np.zeros(len(points)), np.full(len(points), np.pi / 2)
    for _ in range(54):
        p = (low + high) / 2
        beyond = np.arctan2(off_axis - np.sin(p), points[:, 2] - np.cos(p))
        too_far = 2 * p > beyond
        low, high = np.where(too_far, low, p), np.where(too_far, p, high)
    safe = np.where(off_axis > 0, off_axis, 1.0)
    return points[:, :2] * (np.sin(low) / safe)[:, None]


def disc_light(phase_deg: float, diameter_deg: float, distance: float = 1e9, count: int = 720) -> Array:
    """Edge of a round light that faces the drop, (count, 3), distance over the radius, off the axis
    toward +x."""
    phase, half = np.radians(phase_deg), np.radians(diameter_deg) / 2
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)
    toward = np.array([np.sin(phase), 0.0, np.cos(phase)])
    right = np.array([np.cos(phase), 0.0, -np.sin(phase)])
    radius = distance * np.tan(half)
    edge = np.cos(turn)[:, None] * right + np.sin(turn)[:, None] * np.array([0.0, 1.0, 0.0])
    return distance * toward + radius * edge


def outline_ellipse(outline: ArrayLike) -> Ellipse:
    """Area, centroid and axes (4 sqrt of the second moments, Hu 1962) of a closed outline, (n, 2), by
    Green's sums."""
    points = np.asarray(outline, dtype=float)
    x0, y0 = (points - points.mean(axis=0)).T
    x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
    cross = x0 * y1 - x1 * y0
    area = cross.sum() / 2
    cx = ((x0 + x1) * cross).sum() / (6 * area)
    cy = ((y0 + y1) * cross).sum() / (6 * area)
    xx = ((x0 * x0 + x0 * x1 + x1 * x1) * cross).sum() / (12 * area) - cx**2
    yy = ((y0 * y0 + y0 * y1 + y1 * y1) * cross).sum() / (12 * area) - cy**2
    xy = ((x0 * y1 + 2 * x0 * y0 + 2 * x1 * y1 + x1 * y0) * cross).sum() / (24 * area) - cx * cy
    short, long = 4 * np.sqrt(np.linalg.eigvalsh(np.array([[xx, xy], [xy, yy]])))
    mean_x, mean_y = points.mean(axis=0)
    return Ellipse(abs(float(area)), float(mean_x + cx), float(mean_y + cy), float(long), float(short))
