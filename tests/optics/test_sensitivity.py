"""Image-plane exposure and ISO speed: ISO 12232:2006, its worked numbers through an open-source library."""

from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.optics import exposure_values as iso12232
from lightsim.optics.colour import srgb_encode


def test_constant():
    assert iso12232.exposure_constant(0.9, 0.98, 10) == pytest.approx(0.6515748, abs=1e-7)
    assert pytest.approx(0.65, abs=2e-3) == iso12232.LENS_CONSTANT


def test_worked_exposure():
    # L = 4000 cd/m2, f/8, 1/250 s.
    exposure = iso12232.image_exposure_lxs(4000, 8, 1 / 250)
    assert exposure == pytest.approx(0.1628937, abs=1e-7)
    assert iso12232.image_exposure_lxs(4000, 8, 1 / 250, q=0.65) == pytest.approx(0.1625, abs=1e-9)
    # The exposure index 10 / H (ISO 12232).
    assert 10 / exposure == pytest.approx(61.38973, abs=1e-4)


def test_worked_exposure_with_flare():
    # The same at ISO 400 with a flare of 0.0015 lx s, over the saturation exposure.
    exposure = iso12232.image_exposure_lxs(4000, 8, 1 / 250, flare_lxs=0.0015)
    assert exposure / (iso12232.SATURATION_LXS / 400) == pytest.approx(0.8430446, abs=1e-6)


def test_saturation_and_mid_tone():
    assert pytest.approx(0.128205128, abs=1e-7) == iso12232.MID_TONE / iso12232.SATURATION
    # 78 was chosen to leave half a stop above a white of 100 %: 141 %.
    assert log2(iso12232.SATURATION) == pytest.approx(0.5, abs=0.02)


def test_mid_tone_is_the_level_of_the_standard_output_sensitivity():
    # ISO 12232 takes the output level 0.461 of full scale (118 of 255), which is 0.18 in sRGB (IEC
    # 61966-2-1).
    assert srgb_encode(iso12232.MID_TONE) == pytest.approx(0.461, abs=5e-4)
    assert round(255 * float(srgb_encode(iso12232.MID_TONE))) == 118


def test_linear_scale():
    for iso in (100, 400, 3200):
        assert iso12232.linear_per_lxs(iso) * (10 / iso) == pytest.approx(0.18)
        assert iso12232.linear_per_lxs(iso) * (78 / iso) == pytest.approx(1.404)
        assert 1 / iso12232.linear_per_lxs(iso) == pytest.approx(55.56 / iso, rel=1e-4)


@given(st.floats(1e-3, 1e6), st.floats(0.7, 200), st.floats(1e-5, 30))
def test_one_stop_of_anything_is_one_stop_of_exposure(luminance, f_number, time_s):
    here = iso12232.image_exposure_lxs(luminance, f_number, time_s)
    for other in (
        iso12232.image_exposure_lxs(2 * luminance, f_number, time_s),
        iso12232.image_exposure_lxs(luminance, f_number / 2**0.5, time_s),
        iso12232.image_exposure_lxs(luminance, f_number, 2 * time_s),
    ):
        assert log2(other / here) == pytest.approx(1.0, abs=1e-9)
