"""Colour against published figures and against colour-science, an open-source reference library."""

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.optics.cie1931 import WAVELENGTHS_NM, XYZ_BAR
from lightsim.optics.colour import (
    BRADFORD,
    SRGB_TO_XYZ,
    adaptation_matrix,
    blackbody_xy,
    daylight_xy,
    light_xy,
    srgb_decode,
    srgb_encode,
    srgb_of_xyz,
    white_balance_matrix,
    white_of_temperature,
    xy_of_xyz,
    xyz_of_xy,
)
from lightsim.picture import luminance


# IEC 61966-2-1:1999.
@pytest.mark.parametrize(
    ("linear", "signal"),
    [
        (0.001, 0.01292),
        (0.0031308, 0.040449936),
        (0.01, 0.099852823),
        (0.05, 0.24780053),
        (0.1, 0.34919021),
        (0.18, 0.46135613),
        (0.5, 0.73535698),
        (0.9, 0.95468717),
        (1, 1.0),
    ],
)
def test_encoding(linear, signal):
    assert srgb_encode(linear) == pytest.approx(signal, abs=1e-7)


@pytest.mark.parametrize(
    ("signal", "linear"),
    [
        (0.04045, 0.003130805),
        (0.1, 0.010022826),
        (0.25, 0.050876088),
        (0.5, 0.21404114),
        (0.75, 0.52252155),
        (128 / 255, 0.2158605),
    ],
)
def test_decoding(signal, linear):
    assert srgb_decode(signal) == pytest.approx(linear, abs=1e-7)


@given(st.floats(0, 1))
def test_encoding_and_decoding_are_inverse(linear):
    assert srgb_decode(srgb_encode(linear)) == pytest.approx(linear, abs=1e-6)


def test_encoding_agrees_with_the_reference_library():
    linear = np.linspace(0, 1, 1001)
    assert np.allclose(srgb_encode(linear), colour.cctf_encoding(linear, function="sRGB"), atol=1e-7)


def test_matrix():
    printed = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    assert np.array_equal(SRGB_TO_XYZ, printed)
    # Derived from the primaries of BT.709 and D65 it differs by up to 4e-5.
    derived = colour.RGB_COLOURSPACES["sRGB"]
    derived_matrix = colour.normalised_primary_matrix(derived.primaries, derived.whitepoint)
    assert np.allclose(SRGB_TO_XYZ, derived_matrix, atol=5e-5)


@given(st.lists(st.floats(0, 2), min_size=3, max_size=3))
def test_xyz_and_back(rgb):
    xyz = SRGB_TO_XYZ @ rgb
    assert srgb_of_xyz(xyz) == pytest.approx(rgb, abs=1e-9)
    assert xyz[1] == pytest.approx(float(luminance(np.array(rgb))), abs=1e-9)


# CIE 015:2018 through the same library; the sums are those of the 5 nm table.
def test_standard_observer():
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    assert np.allclose(XYZ_BAR, observer[WAVELENGTHS_NM], atol=1e-6)
    assert XYZ_BAR.sum(axis=0) == pytest.approx([21.37153, 21.37133, 21.37154], abs=1e-4)
    assert XYZ_BAR[WAVELENGTHS_NM == 555.0][0] == pytest.approx([0.51205, 1.0, 0.00575], abs=1e-5)


# Planck's law with c2 = 0.014388 m K over the 1 nm observer.
@pytest.mark.parametrize(
    ("kelvin", "x", "y"),
    [
        (2000, 0.52668, 0.41330),
        (2856, 0.44754, 0.40743),
        (3200, 0.42336, 0.39895),
        (5000, 0.34510, 0.35161),
        (5500, 0.33244, 0.34104),
        (6000, 0.32209, 0.33176),
        (6500, 0.31353, 0.32363),
    ],
)
def test_blackbody(kelvin, x, y):
    assert blackbody_xy(kelvin) == pytest.approx((x, y), abs=5e-5)


@pytest.mark.parametrize("kelvin", [1000, 1500, 2500, 4000, 8000, 20000])
def test_blackbody_agrees_with_the_reference_library(kelvin):
    spectrum = colour.sd_blackbody(kelvin, colour.SpectralShape(360, 780, 1))
    reference = colour.XYZ_to_xy(colour.sd_to_XYZ(spectrum))
    assert blackbody_xy(kelvin) == pytest.approx(reference, abs=1e-4)


def test_illuminant_a_is_a_blackbody():
    # CIE 015: A, 2856 K by the temperature scale of today.
    assert blackbody_xy(2856) == pytest.approx((0.44758, 0.40745), abs=1e-4)


@pytest.mark.parametrize(
    ("kelvin", "x", "y"), [(5500, 0.33250, 0.34761), (6000, 0.32169, 0.33780), (6504, 0.31271, 0.32912)]
)
def test_daylight(kelvin, x, y):
    assert daylight_xy(kelvin) == pytest.approx((x, y), abs=2e-5)


@pytest.mark.parametrize("kelvin", [4000, 5000, 6504, 7000, 7500, 10000, 25000])
def test_daylight_agrees_with_the_reference_library(kelvin):
    assert daylight_xy(kelvin) == pytest.approx(colour.temperature.CCT_to_xy_CIE_D(kelvin), abs=1e-6)


# CIE 015 white points D50, D55, D65, and ISO 7589:2002 photographic daylight and studio tungsten, by the
# library. The tungsten of the standard is a lamp's spectrum, not a blackbody, hence the wider tolerance.
@pytest.mark.parametrize(
    ("kelvin", "xy", "tolerance"),
    [
        (5003, (0.3457, 0.3585), 2e-4),
        (5503, (0.33243, 0.34744), 2e-4),
        (6504, (0.3127, 0.3290), 2e-4),
        (5500, (0.33204, 0.34726), 1e-3),
        (3200, (0.43094, 0.40359), 1e-2),
    ],
)
def test_lights_by_their_temperature(kelvin, xy, tolerance):
    assert light_xy(kelvin) == pytest.approx(xy, abs=tolerance)


@given(st.floats(1000, 25000))
def test_white_has_luminance_one_and_the_light_s_chromaticity(kelvin):
    white = white_of_temperature(kelvin)
    assert luminance(white) == pytest.approx(1.0)
    assert (white >= 0).all()
    if kelvin > 1950:  # inside sRGB
        assert xy_of_xyz(SRGB_TO_XYZ @ white) == pytest.approx(light_xy(kelvin), abs=1e-9)


def test_white_changes_smoothly_and_always_toward_blue():
    kelvins = np.geomspace(2000, 25000, 400)
    whites = np.array([white_of_temperature(kelvin) for kelvin in kelvins])
    assert (np.diff(whites[:, 2] / whites[:, 0]) > 0).all()
    assert np.abs(np.diff(whites, axis=0)).max() < 0.02


def test_daylight_65_is_srgb_s_white():
    assert white_of_temperature(6504) == pytest.approx((1, 1, 1), abs=2e-3)


@pytest.mark.parametrize("kelvin", [999, 25001])
def test_temperature_out_of_range(kelvin):
    with pytest.raises(ValueError, match="1000 to 25000 K is allowed"):
        white_of_temperature(kelvin)


# Bradford as in the ICC profile specification, annex E.
@pytest.mark.parametrize("kelvin", [2856, 3200, 5600, 9000])
def test_adaptation_agrees_with_the_reference_library(kelvin):
    source, target = xyz_of_xy(light_xy(kelvin)), xyz_of_xy((0.3127, 0.3290))
    reference = colour.adaptation.matrix_chromatic_adaptation_VonKries(source, target, transform="Bradford")
    assert np.allclose(adaptation_matrix(source, target), reference, atol=1e-6)
    assert np.allclose(colour.adaptation.CAT_BRADFORD, BRADFORD)


@given(st.floats(1500, 20000))
def test_white_balance_makes_its_light_neutral(kelvin):
    white = white_of_temperature(kelvin)
    assert white_balance_matrix(white) @ white == pytest.approx((1, 1, 1), abs=1e-9)
