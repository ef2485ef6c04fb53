"""Drops on a petal: cap geometry, Young and Laplace's equation, the limits of small and of large drops."""

from math import pi, radians, sin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightsim.optics.drop import (
    cap_of_radius,
    cap_of_volume,
    flattening,
    puddle_height_mm,
    sessile_of_volume,
    sessile_profile,
    sphere_volume_mm3,
)

CAPILLARY_20_C_MM = 2.72587


# Spherical cap of 1 microlitre: geometry, V = pi R^3 (2 - 3 cos + cos^3) / 3.
@pytest.mark.parametrize(
    ("angle_deg", "radius", "foot", "height"),
    [
        (30, 2.647782, 1.323891, 0.354735),
        (60, 1.151765, 0.997458, 0.575882),
        (90, 0.781593, 0.781593, 0.781593),
        (110, 0.683846, 0.642605, 0.917734),
        (120, 0.656497, 0.568543, 0.984745),
        (150, 0.623033, 0.311516, 1.162595),
    ],
)
def test_cap_of_one_microlitre(angle_deg, radius, foot, height):
    cap = cap_of_volume(1.0, angle_deg)
    assert (cap.radius_mm, cap.foot_radius_mm, cap.height_mm) == pytest.approx(
        (radius, foot, height), abs=1e-6
    )
    # The other form of the volume, by height and foot.
    assert pi * height * (3 * foot**2 + height**2) / 6 == pytest.approx(1.0, abs=1e-5)


@given(st.floats(0.01, 10), st.floats(5, 175))
def test_cap_by_radius_and_by_volume_are_inverse(radius_mm, angle_deg):
    cap = cap_of_radius(radius_mm, angle_deg)
    assert cap_of_volume(cap.volume_mm3, angle_deg).radius_mm == pytest.approx(radius_mm, rel=1e-9)


def test_volume_of_a_falling_droplet():
    assert 1e6 * sphere_volume_mm3(0.050) == pytest.approx(65.4498, abs=1e-3)  # picolitres, pi d^3 / 6


# Bashforth and Adams' form of Young and Laplace's equation (1883), solved by an independent program at rtol
# 1e-11; no printed table was found. Radius, depth and volume in units of the apex's radius of curvature.
PROFILES = [
    (0.1, 60, 0.856698, 0.490759, 0.629499),
    (0.1, 90, 0.984150, 0.963127, 1.950491),
    (0.1, 150, 0.558831, 1.723270, 3.756376),
    (0.5, 90, 0.932831, 0.854908, 1.549716),
    (1.0, 60, 0.791606, 0.429185, 0.474769),
    (1.0, 90, 0.885291, 0.766710, 1.249722),
    (1.0, 150, 0.647200, 1.214280, 2.196472),
    (2.0, 90, 0.818223, 0.657168, 0.914933),
    (5.0, 60, 0.650863, 0.311905, 0.239118),
    (5.0, 90, 0.704414, 0.500952, 0.519260),
    (5.0, 150, 0.583911, 0.729731, 0.843209),
    (10.0, 90, 0.608078, 0.390742, 0.304157),
]


@pytest.mark.parametrize(("beta", "slope_deg", "x", "z", "volume"), PROFILES)
def test_flattened_profile(beta, slope_deg, x, z, volume):
    assert sessile_profile(beta, slope_deg) == pytest.approx((x, z, volume), abs=2e-5)


@pytest.mark.parametrize("beta", [0.1, 1.0, 5.0])
@pytest.mark.parametrize("slope_deg", [40, 90, 150])
def test_profile_balances_its_forces(beta, slope_deg):
    # Weight, pressure on the foot and surface tension: exact, whatever the solver.
    x, z, volume = sessile_profile(beta, slope_deg)
    balance = (pi * x**2 * (beta * z + 2) - 2 * pi * x * sin(radians(slope_deg))) / beta
    assert volume == pytest.approx(balance, abs=1e-7)


# Water at 20 C, solved by an independent program.
@pytest.mark.parametrize(
    ("angle_deg", "microlitres", "height", "foot"),
    [
        (90, 1, 0.7723, 0.7869),
        (90, 10, 1.5973, 1.7334),
        (110, 5, 1.5049, 1.1368),
        (150, 1, 1.1304, 0.3406),
        (150, 10, 2.2549, 0.8847),
    ],
)
def test_drop_of_a_volume(angle_deg, microlitres, height, foot):
    drop = sessile_of_volume(microlitres, angle_deg, CAPILLARY_20_C_MM)
    assert (drop.height_mm, drop.foot_radius_mm) == pytest.approx((height, foot), abs=3e-4)
    assert drop.volume_mm3 == pytest.approx(microlitres, rel=1e-6)


# The limit of a large drop: 2 lc sin(angle / 2); de Gennes, Brochard-Wyart and Quere (2004).
@pytest.mark.parametrize(
    ("angle_deg", "height"), [(60, 2.7259), (90, 3.8550), (110, 4.4658), (150, 5.2660), (180, 5.4517)]
)
def test_puddle(angle_deg, height):
    assert puddle_height_mm(angle_deg, CAPILLARY_20_C_MM) == pytest.approx(height, abs=1e-3)


def test_large_drop_comes_near_the_puddle_from_above():
    # 50 mL at 90 degrees stands 1.8 % above the infinite puddle: a finite drop still pulls inward.
    drop = sessile_of_volume(50_000, 90, CAPILLARY_20_C_MM)
    assert drop.height_mm == pytest.approx(3.925, abs=2e-3)


@given(st.floats(0.01, 0.05), st.floats(40, 150))
@settings(max_examples=10, deadline=None)
def test_tiny_drop_is_a_cap(radius_mm, angle_deg):
    height_ratio, foot_ratio = flattening(radius_mm, angle_deg)
    assert height_ratio == pytest.approx(1, abs=2e-3)
    assert foot_ratio == pytest.approx(1, abs=1e-2)


def test_flattening_grows_with_the_drop():
    heights = [flattening(radius, 110).height_ratio for radius in (0.2, 0.5, 0.86, 1.5)]
    assert heights == sorted(heights, reverse=True)
    # 1 and 10 microlitres at 110 degrees stand 1.5 and 6.2 % lower than their caps.
    for microlitres, loss in ((1, 0.015), (10, 0.062)):
        radius = cap_of_volume(microlitres, 110).radius_mm
        assert 1 - flattening(radius, 110).height_ratio == pytest.approx(loss, abs=1e-3)
