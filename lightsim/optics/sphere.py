"""Light in and through a ball of water, and under a drop: what a single ray does, in units of the radius.

The phase angle is the angle at the drop between the direction to the camera and the direction to the light;
the impact parameter is a ray's distance from the parallel axis through the centre. Hecht, Optics, ch. 4 to
6.
"""

from __future__ import annotations

from math import acos, asin, degrees, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.constants import WATER_INDEX
from lightsim.optics.fresnel import critical_angle_deg, reflectance

Array = NDArray[np.float64]


class Rainbow(NamedTuple):
    """Descartes' ray, at which light gathers. impact is over the radius."""

    incidence_deg: float
    refraction_deg: float
    deviation_deg: float
    phase_deg: float
    impact: float


def rainbow(index: float = WATER_INDEX, bounces: int = 1) -> Rainbow:
    """The rainbow of k reflections inside: cos^2 i = (n^2 - 1) / (k (k + 2)), D = 2 (i - r) + k (180 - 2 r).

    Descartes (1637); Greenler, Rainbows, Halos, and Glories (1980). The phase angle is that between camera
    and light.
    """
    incidence = acos(sqrt((index**2 - 1) / (bounces * (bounces + 2))))
    sine = sqrt(1 - (index**2 - 1) / (bounces * (bounces + 2)))
    refraction = asin(sine / index)
    deviation = degrees(2 * (incidence - refraction)) + bounces * (180 - 2 * degrees(refraction))
    phase = abs((deviation % 360) - 180)
    return Rainbow(degrees(incidence), degrees(refraction), deviation, phase, sine)


def ball_focal_length(index: float = WATER_INDEX) -> float:
    """Focal length from the centre, over the ball's diameter: n / (4 (n - 1)). Hecht, ch. 6."""
    return index / (4 * (index - 1))


def ball_back_focal_length(index: float = WATER_INDEX) -> float:
    """Focus behind the back surface, over the ball's diameter."""
    return ball_focal_length(index) - 0.5


def transmitted_deviation_deg(impact: ArrayLike, index: float = WATER_INDEX) -> Array:
    """How far a ray that goes straight through is bent, degrees, any shape: 2 (i - r), impact = sin i."""
    h = np.asarray(impact, dtype=float)
    return np.degrees(2 * (np.arcsin(h) - np.arcsin(h / index)))


def axis_crossing(impact: ArrayLike, index: float = WATER_INDEX) -> Array:
    """Where the ray that goes through crosses the axis, from the centre over the radius, any shape.

    It leaves at the same distance from the centre as it came in, so the crossing is at impact /
    sin(deviation).
    """
    h = np.asarray(impact, dtype=float)
    return h / np.sin(np.radians(transmitted_deviation_deg(h, index)))


def greatest_deviation_deg(index: float = WATER_INDEX) -> float:
    """Bending of the grazing ray: 180 - 2 asin(1/n)."""
    return 180 - 2 * critical_angle_deg(index)


def refracted_glint_least_phase_deg(index: float = WATER_INDEX) -> float:
    """A light is seen through a whole ball only at phase angles over 2 asin(1/n): 97.2 for water."""
    return 2 * critical_angle_deg(index)


def refracted_glint_place(phase_deg: ArrayLike, index: float = WATER_INDEX) -> Array:
    """Distance over the radius of that image from the ball's centre, on the side away from the light; any
    shape.

    From 2 (i - r) = 180 - phase and Snell: tan i = n sin(d) / (n cos(d) - 1) with d = (180 - phase) / 2.
    NaN where there is none.
    """
    phase = np.asarray(phase_deg, dtype=float)
    half = np.radians(180 - phase) / 2
    tangent = np.arctan2(index * np.sin(half), index * np.cos(half) - 1)
    return np.where(phase >= refracted_glint_least_phase_deg(index), np.sin(tangent), np.nan)


# The mirror image of a distant light in a ball stands half a radius behind the surface. Hecht, ch. 5.
MIRROR_FOCAL_LENGTH = 0.5


def mirror_image_width(light_width: float, distance: float) -> float:
    """Full width of a light's mirror image in a ball in front of the camera, over the radius; light and
    camera on one side, sizes and the distance to the ball's centre over the radius: w / (2 s - 1)."""
    return light_width / (2 * distance - 1)


def mirrored_intensity(
    irradiance: float, radius: float, phase_deg: float, index: float = WATER_INDEX
) -> float:
    """Intensity that a ball in parallel light mirrors into a direction: E R^2 F(phase / 2) / 4."""
    return irradiance * radius**2 / 4 * float(reflectance(phase_deg / 2, index))


def cap_gain(height: ArrayLike, index: float = WATER_INDEX) -> Array:
    """How much a cap of water brightens the petal under its middle, in light that comes straight down; any
    shape.

    (1 - h (n - 1) / n)^-2 with the height h over the sphere's radius; paraxial, and before the 2 % that its
    surface mirrors (`cap_gain_with_loss`).
    """
    return (1 - np.asarray(height, dtype=float) * (index - 1) / index) ** -2.0


def cap_gain_with_loss(height: ArrayLike, index: float = WATER_INDEX) -> Array:
    """The same, less what the surface mirrors: 1.741 for a half ball of water."""
    return cap_gain(height, index) * (1 - reflectance(0.0, index))


def apparent_magnification(depth: ArrayLike, index: float = WATER_INDEX) -> Array:
    """How much larger the petal looks through the drop above it, from straight up; any shape.

    1 / (1 - (n - 1) d / n) with the depth d over the radius; n itself when the petal is at the sphere's
    centre.
    """
    return 1 / (1 - (index - 1) / index * np.asarray(depth, dtype=float))
