"""Guide numbers: ISO 1230:2007 (its rule N d = constant, and GN 32 at 4 m needs f/8, seen in secondary
sources)."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.optics.exposure_values import (
    LENS_CONSTANT,
    flash_intensity_cd_s,
    illuminance_of_ev100,
    linear_per_lxs,
)


def test_light_of_a_flash():
    # E t = C N^2 / S (ISO 2720, incident light) with N = GN / d; C 250 and 330.
    assert flash_intensity_cd_s(36) == pytest.approx(3240)
    assert flash_intensity_cd_s(36, constant=330) == pytest.approx(4276.8)


# A matt surface lit as an incident-light meter asks gives H S = q rho C / pi on the sensor.
@pytest.mark.parametrize(("rho", "h_s"), [(0.18, 9.31), (0.5, 25.9), (0.9, 46.6)])
def test_known_reflectance_under_a_known_guide_number(rho, h_s):
    guide_number, distance, iso = 24.0, 0.6, 200.0
    n = guide_number * (iso / 100.0) ** 0.5 / distance  # ISO 1230
    luminous = rho / pi * flash_intensity_cd_s(guide_number) / distance**2
    assert LENS_CONSTANT * luminous / n**2 * iso == pytest.approx(
        h_s, rel=4e-3
    )  # the figures have q rounded to 0.65
    assert linear_per_lxs(100) * 0.1 == pytest.approx(0.18)


@given(st.floats(0.2, 5), st.floats(2, 30))
def test_a_right_flash_exposure_is_right_by_the_incident_meter(distance, guide_number):
    n = guide_number / distance  # ISO 1230
    lux_seconds = flash_intensity_cd_s(guide_number) / distance**2
    assert lux_seconds == pytest.approx(illuminance_of_ev100(0) * n**2, rel=1e-9)
