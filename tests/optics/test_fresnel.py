"""Reflection and refraction at water: Born and Wolf, Principles of Optics, sec. 1.5; Hecht, Optics, ch. 4."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.constants import CUTICLE_INDEX
from lightsim.optics.fresnel import (
    reflectance,
    reflectances,
)

# Angle, s, p, unpolarised; n = 1.333.
FRESNEL = [
    (0, 0.020373, 0.020373, 0.020373),
    (30, 0.030934, 0.011939, 0.021436),
    (45, 0.052989, 0.002808, 0.027898),
    (60, 0.115068, 0.004314, 0.059691),
    (70, 0.219672, 0.047278, 0.133475),
    (75, 0.314017, 0.110738, 0.212378),
    (80, 0.457017, 0.238816, 0.347917),
    (85, 0.673757, 0.493290, 0.583523),
    (89, 0.923858, 0.868695, 0.896276),
]


@pytest.mark.parametrize(("angle_deg", "s", "p", "mean"), FRESNEL)
def test_reflectance_of_water(angle_deg, s, p, mean):
    found_s, found_p = reflectances(angle_deg, 1.333)
    assert (found_s, found_p) == pytest.approx((s, p), abs=2e-6)
    assert reflectance(angle_deg, 1.333) == pytest.approx(mean, abs=2e-6)


# Schlick, Computer Graphics Forum 13 (1994) 233, an approximation: these are its values, which ours must
# not be.
@pytest.mark.parametrize(("angle_deg", "schlick"), [(60, 0.050987), (75, 0.239493), (85, 0.641305)])
def test_reflectance_is_not_the_common_approximation(angle_deg, schlick):
    normal = (0.333 / 2.333) ** 2
    assert schlick == pytest.approx(
        normal + (1 - normal) * (1 - np.cos(np.radians(angle_deg))) ** 5, abs=2e-6
    )
    assert abs(reflectance(angle_deg, 1.333) / schlick - 1) > 0.05


def test_brewster_angle():
    s, p = reflectances(np.degrees(np.arctan(1.333)), 1.333)
    assert p == pytest.approx(0, abs=1e-12)
    assert s == pytest.approx(0.078271, abs=2e-6)


@pytest.mark.parametrize(
    ("inside_deg", "expected"),
    [(0, 0.020373), (30, 0.025519), (40, 0.055582), (45, 0.139458), (48, 0.433077)],
)
def test_reflectance_from_inside(inside_deg, expected):
    assert reflectance(inside_deg, 1 / 1.333) == pytest.approx(expected, abs=2e-6)


@given(st.floats(48.607, 90))
def test_all_is_reflected_past_the_critical_angle(inside_deg):
    assert reflectance(inside_deg, 1 / 1.333) == 1


@given(st.floats(0, 89.9), st.floats(1.01, 2.0))
def test_a_surface_reflects_alike_from_both_sides(angle_deg, index):
    inside = np.degrees(np.arcsin(np.sin(np.radians(angle_deg)) / index))  # Snell
    assert reflectance(inside, 1 / index) == pytest.approx(
        float(reflectance(angle_deg, index)), rel=1e-6, abs=1e-9
    )


# Leaf cuticle: index 1.425, Gausman, Allen and Escobar, Appl. Opt. 13 (1974) 109; McClendon, Am. J. Bot. 71
# (1984) finds less than 10 % of the light at 60 degrees reflected by it.
def test_cuticle():
    assert reflectance(60, CUTICLE_INDEX) == pytest.approx(0.0764, abs=2e-5)
    assert reflectance(60, CUTICLE_INDEX) < 0.10
    assert reflectance(0, 1.5) == pytest.approx(0.04, abs=1e-12)
