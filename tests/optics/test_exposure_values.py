"""Exposure values and meters: ISO 2720:1974 and ASA PH2.5-1960 (both through secondary sources)."""

import pytest

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
    assert exposure.illuminance_of_ev100(ev) == pytest.approx(lux)
    assert exposure.ev100_of_luminance(cd_m2) == pytest.approx(ev)


def test_ev_of_settings():
    assert exposure.exposure_value(1, 1) == 0
    assert exposure.exposure_value(16, 1 / 125) == pytest.approx(14.965784, abs=1e-6)
    assert exposure.exposure_value(16, 1 / 128) == pytest.approx(15.0, abs=1e-12)
    # f/8, 1/250 s, ISO 400: documentation of an open-source exposure library.
    assert exposure.ev100(8, 1 / 250, 400) == pytest.approx(11.9657843, abs=1e-6)


def test_the_rule_of_sunny_days():
    # f/16 at 1/ISO: L = K N^2 = 3200 cd/m2, E = C N^2 = 64,000 lx; common rule, figures by ISO 2720.
    ev = exposure.ev100(16, 1 / 100, 100)
    assert exposure.ev100_of_luminance(3200) == pytest.approx(ev)
    assert exposure.illuminance_of_ev100(ev) == pytest.approx(64000)


def test_additive_system():
    # ASA PH2.5-1960: Av + Tv - (Sv - 5) is the EV at ISO 100; Sv is 5 for ISO 100, 7 for ISO 400.
    total = exposure.aperture_value(8) + exposure.time_value(1 / 250)
    assert total - (7 - 5) == pytest.approx(exposure.ev100(8, 1 / 250, 400))
