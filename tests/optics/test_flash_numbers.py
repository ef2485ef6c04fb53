"""Guide numbers: ISO 1230:2007 (its rule N d = constant, and GN 32 at 4 m needs f/8, seen in secondary
sources)."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.optics.exposure_values import illuminance_of_ev100
from lightsim.optics.flash import (
    FEET_PER_METRE,
    TENTH_OVER_HALF_DURATION,
    flash_distance_m,
    flash_exposure_lx_s,
    flash_f_number,
    flash_intensity_cd_s,
    flash_marked_f_number,
    flash_power,
    guide_number_at,
    guide_number_of_intensity,
)
from lightsim.optics.sensitivity import LENS_CONSTANT, linear_per_lxs


def test_rule():
    assert flash_f_number(32, 4) == pytest.approx(8)


@pytest.mark.parametrize(
    ("power", "factor"),
    [
        (1.0, 1.0),
        (1 / 2, 0.7071068),
        (1 / 4, 0.5),
        (1 / 8, 0.3535534),
        (1 / 16, 0.25),
        (1 / 32, 0.1767767),
        (1 / 64, 0.125),
        (1 / 128, 0.08838835),
    ],
)
def test_power(power, factor):
    assert guide_number_at(1.0, power) == pytest.approx(factor, abs=1e-6)


def test_speed():
    assert guide_number_at(36, iso=400) == pytest.approx(72)


def test_close_up():
    # GN 24, 1/16, 0.15 m, life size: N = GN sqrt(p) / (d (1 + m/P)) = 20.
    assert flash_marked_f_number(24, 0.15, magnification=1, power=1 / 16) == pytest.approx(20.0, abs=1e-9)


def test_light_of_a_flash():
    # E t = C N^2 / S (ISO 2720, incident light) with N = GN / d; C 250 and 330.
    assert flash_intensity_cd_s(36) == pytest.approx(3240)
    assert flash_exposure_lx_s(flash_intensity_cd_s(36), 0.2) == pytest.approx(81_000)
    assert flash_intensity_cd_s(36, constant=330) == pytest.approx(4276.8)
    assert flash_exposure_lx_s(flash_intensity_cd_s(36, constant=330), 0.2) == pytest.approx(106_920)


def test_feet():
    assert pytest.approx(1 / 0.3048, abs=1e-5) == FEET_PER_METRE


def test_duration():
    # ISO 2827; pure exponential decay.
    assert pytest.approx(3.321928, abs=1e-6) == TENTH_OVER_HALF_DURATION


# A matt surface lit as an incident-light meter asks gives H S = q rho C / pi on the sensor.
@pytest.mark.parametrize(("rho", "h_s"), [(0.18, 9.31), (0.5, 25.9), (0.9, 46.6)])
def test_known_reflectance_under_a_known_guide_number(rho, h_s):
    guide_number, distance, iso = 24.0, 0.6, 200.0
    n = guide_number_at(guide_number, iso=iso) / distance
    luminous = rho / pi * flash_exposure_lx_s(flash_intensity_cd_s(guide_number), distance)
    assert LENS_CONSTANT * luminous / n**2 * iso == pytest.approx(
        h_s, rel=4e-3
    )  # the figures have q rounded to 0.65
    assert linear_per_lxs(100) * 0.1 == pytest.approx(0.18)


@given(st.floats(2, 80), st.floats(0.1, 10), st.floats(1 / 256, 1), st.floats(50, 6400))
def test_trades_are_inverse(guide_number, distance, power, iso):
    n = flash_f_number(guide_number_at(guide_number, power, iso), distance)
    assert flash_power(guide_number, distance, n, iso) == pytest.approx(power)
    assert flash_distance_m(guide_number, n, power, iso) == pytest.approx(distance)
    assert guide_number_of_intensity(flash_intensity_cd_s(guide_number)) == pytest.approx(guide_number)


@given(st.floats(0.2, 5), st.floats(2, 30))
def test_a_right_flash_exposure_is_right_by_the_incident_meter(distance, guide_number):
    n = flash_f_number(guide_number, distance)
    lux_seconds = flash_exposure_lx_s(flash_intensity_cd_s(guide_number), distance)
    assert lux_seconds == pytest.approx(illuminance_of_ev100(0) * n**2, rel=1e-9)
