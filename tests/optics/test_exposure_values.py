"""Exposure values and meters: ISO 2720:1974 and ASA PH2.5-1960 (both through secondary sources)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.optics import exposure_values as exposure

# EV at ISO 100 with K = 12.5 and C = 250: the usual table of L = K 2^EV / S and E = C 2^EV / S.
TABLE = [
    (-2, 0.03125, 0.625),
    (0, 0.125, 2.5),
    (5, 4.0, 80.0),
    (10, 128.0, 2560.0),
    (12, 512.0, 10240.0),
    (15, 4096.0, 81920.0),
    (16, 8192.0, 163840.0),
]


@pytest.mark.parametrize(("ev", "cd_m2", "lux"), TABLE)
def test_ev_table(ev, cd_m2, lux):
    assert exposure.luminance_of_ev100(ev) == pytest.approx(cd_m2)
    assert exposure.illuminance_of_ev100(ev) == pytest.approx(lux)
    assert exposure.ev100_of_luminance(cd_m2) == pytest.approx(ev)
    assert exposure.ev100_of_illuminance(lux) == pytest.approx(ev)


def test_ev_of_settings():
    assert exposure.exposure_value(1, 1) == 0
    assert exposure.exposure_value(16, 1 / 125) == pytest.approx(14.965784, abs=1e-6)
    assert exposure.exposure_value(16, 1 / 128) == pytest.approx(15.0, abs=1e-12)
    # f/8, 1/250 s, ISO 400: documentation of an open-source exposure library.
    assert exposure.ev100(8, 1 / 250, 400) == pytest.approx(11.9657843, abs=1e-6)


def test_the_rule_of_sunny_days():
    # f/16 at 1/ISO: L = K N^2 = 3200 cd/m2, E = C N^2 = 64,000 lx; common rule, figures by ISO 2720.
    ev = exposure.ev100(16, 1 / 100, 100)
    assert exposure.luminance_of_ev100(ev) == pytest.approx(3200)
    assert exposure.illuminance_of_ev100(ev) == pytest.approx(64000)


def test_additive_system():
    # ASA PH2.5-1960: ISO 100 has Sv 5, and Av + Tv - (Sv - 5) is the EV at ISO 100.
    assert exposure.speed_value(100) == pytest.approx(5.0, abs=1e-12)
    total = exposure.aperture_value(8) + exposure.time_value(1 / 250)
    assert total - (exposure.speed_value(400) - 5) == pytest.approx(exposure.ev100(8, 1 / 250, 400))


def test_implied_reflectance():
    # pi K / C: 15.7 % in Conrad, Exposure Metering; 11.9 % with the hemispherical constant 330.
    assert exposure.implied_reflectance() == pytest.approx(0.15708, abs=1e-6)
    assert exposure.implied_reflectance(12.5, 330) == pytest.approx(0.1190, abs=1e-4)


@given(st.floats(0.1, 1e5), st.floats(1, 64), st.floats(25, 25600))
def test_metered_time_is_the_one_whose_ev_is_the_reading(cd_m2, f_number, iso):
    time_s = exposure.metered_time_s(cd_m2, f_number, iso)
    assert exposure.ev100(f_number, time_s, iso) == pytest.approx(
        exposure.ev100_of_luminance(cd_m2), abs=1e-9
    )
