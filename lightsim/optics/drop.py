"""The shape of a drop on a petal: a spherical cap, or flattened by gravity (Young and Laplace)."""

from __future__ import annotations

from math import cos, pi, radians, sin
from typing import NamedTuple

from lightsim.optics.water import capillary_length_mm


class Cap(NamedTuple):
    """A sphere cut by a plane. radius_mm is the sphere's, foot_radius_mm that of the wet disc."""

    radius_mm: float
    foot_radius_mm: float
    height_mm: float
    volume_mm3: float


class Sessile(NamedTuple):
    """A drop that gravity flattens, cut where its slope is the contact angle."""

    apex_radius_mm: float
    foot_radius_mm: float
    height_mm: float
    volume_mm3: float


def _cap_share(contact_angle_deg: float) -> float:
    """Volume of a cap / R^3."""
    c = cos(radians(contact_angle_deg))
    return pi * (2 - 3 * c + c**3) / 3


def cap_of_radius(radius_mm: float, contact_angle_deg: float) -> Cap:
    """The cap by its sphere: a = R sin(angle), h = R (1 - cos(angle)), V = pi R^3 (2 - 3 cos + cos^3) / 3."""
    angle = radians(contact_angle_deg)
    return Cap(
        radius_mm,
        radius_mm * sin(angle),
        radius_mm * (1 - cos(angle)),
        _cap_share(contact_angle_deg) * radius_mm**3,
    )


def cap_of_volume(volume_mm3: float, contact_angle_deg: float) -> Cap:
    """The cap that holds this volume (1 mm3 is 1 microlitre)."""
    return cap_of_radius((volume_mm3 / _cap_share(contact_angle_deg)) ** (1 / 3), contact_angle_deg)


def sphere_volume_mm3(diameter_mm: float) -> float:
    """pi d^3 / 6: a drop in the air."""
    return pi * diameter_mm**3 / 6


def sessile_profile(beta: float, slope_deg: float) -> tuple[float, float, float]:
    """Young and Laplace's drop: radius, depth below the apex and volume, where its surface has this slope.

    In units of the apex's radius of curvature b; beta = (b / capillary length)^2. Bashforth and Adams (1883):
    dx/ds = cos p, dz/ds = sin p, dp/ds = 2 + beta z - sin p / x, dV/ds = pi x^2 sin p, with p the slope.
    Solved with p as the variable, which grows all the way to the foot.
    """
    from scipy.integrate import solve_ivp

    start = 1e-4  # a cap of this slope is a sphere to within rounding
    first = (sin(start), 1 - cos(start), _cap_share(start * 180 / pi))

    def slopes(p: float, state):
        x, z, _ = state
        curving = 2 + beta * z - sin(p) / x
        return (cos(p) / curving, sin(p) / curving, pi * x**2 * sin(p) / curving)

    end = max(radians(slope_deg), 2 * start)
    path = solve_ivp(slopes, (start, end), first, rtol=1e-10, atol=1e-13)
    x, z, volume = (float(column[-1]) for column in path.y)
    return x, z, volume


def sessile_of_volume(
    volume_mm3: float, contact_angle_deg: float, capillary_mm: float | None = None
) -> Sessile:
    """The flattened drop that holds this volume on a level petal."""
    from scipy.optimize import brentq

    length = capillary_length_mm() if capillary_mm is None else capillary_mm

    def excess(apex_mm: float) -> float:
        return sessile_profile((apex_mm / length) ** 2, contact_angle_deg)[2] * apex_mm**3 - volume_mm3

    low = (
        cap_of_volume(volume_mm3, contact_angle_deg).radius_mm * 0.999
    )  # gravity only makes the apex flatter
    high = 2 * low
    while excess(high) < 0:
        high *= 2
    apex = float(brentq(excess, low, high, rtol=1e-10))
    x, z, volume = sessile_profile((apex / length) ** 2, contact_angle_deg)
    return Sessile(apex, x * apex, z * apex, volume * apex**3)


def puddle_height_mm(contact_angle_deg: float, capillary_mm: float | None = None) -> float:
    """2 lc sin(angle / 2): the height that a very large drop cannot pass, mm. de Gennes et al. 2004."""
    length = capillary_length_mm() if capillary_mm is None else capillary_mm
    return 2 * length * sin(radians(contact_angle_deg) / 2)


class Flattening(NamedTuple):
    """The real drop's height and foot over those of the spherical cap of the same volume."""

    height_ratio: float
    foot_ratio: float


def flattening(radius_mm: float, contact_angle_deg: float) -> Flattening:
    """How far a water drop, drawn as a sphere of this radius cut by a level petal, is from the real shape."""
    cap = cap_of_radius(radius_mm, contact_angle_deg)
    real = sessile_of_volume(cap.volume_mm3, contact_angle_deg)
    return Flattening(real.height_mm / cap.height_mm, real.foot_radius_mm / cap.foot_radius_mm)
