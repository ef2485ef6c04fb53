"""Shapes drawn in code, of known area, axes and direction."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightsim.measures.patch_shape import RECTANGLE, ROUND, measure_patch, ring
from tests.measures.drawing import coverage, ellipse, rectangle


def measured(filled, outline=ROUND):
    return measure_patch(filled, filled >= 0.1 * filled.max(), outline)


def test_ellipse_axes_area_and_eccentricity():
    # M. K. Hu, IRE Trans. Inf. Theory 8 (1962) 179: full axes are 4 sqrt(eigenvalue) of the second moments;
    # semi-axes 60 and 20 have the eccentricity sqrt(1 - (20/60)^2) = 0.942809.
    shape = measured(coverage(ellipse((80.3, 40.6), (120.0, 40.0)), (80, 160)))
    assert shape.long_px == pytest.approx(120.0, rel=0.002)
    assert shape.short_px == pytest.approx(40.0, rel=0.002)
    assert shape.area_px == pytest.approx(np.pi * 60 * 20, rel=0.002)
    assert np.sqrt(1 - (shape.short_px / shape.long_px) ** 2) == pytest.approx(0.942809, abs=2e-4)
    assert shape.centre_px == pytest.approx((80.3, 40.6), abs=0.02)


@pytest.mark.parametrize(("outline", "allowed"), [(RECTANGLE, 0.003), (None, 0.02)])
@pytest.mark.parametrize("turn_deg", [0.0, 33.0])
def test_rectangle_has_its_sides_and_its_area(outline, allowed, turn_deg):
    # Second moments w^2/12 and h^2/12: sides of sqrt(12) standard deviations.
    shape = measured(coverage(rectangle((50.5, 40.5), (60.0, 20.0), turn_deg), (80, 100)), outline)
    assert shape.long_px == pytest.approx(60.0, rel=allowed)
    assert shape.short_px == pytest.approx(20.0, rel=allowed)
    assert shape.area_px == pytest.approx(1200.0, rel=0.01)


@pytest.mark.parametrize("sigma_px", [0.7, 1.5])
def test_blur_does_not_widen_a_patch_of_known_outline(sigma_px):
    from scipy.ndimage import gaussian_filter

    filled = gaussian_filter(coverage(rectangle((50.3, 40.6), (24.0, 16.0), 20.0), (80, 100)), sigma_px)
    shape = measured(filled, RECTANGLE)
    assert shape.long_px == pytest.approx(24.0, rel=0.02)
    assert shape.short_px == pytest.approx(16.0, rel=0.02)


@pytest.mark.parametrize("diameter", [60.0, 12.0])
def test_a_ring_has_its_outer_diameter(diameter):
    whole, hole = (coverage(ellipse((40.3, 40.6), (d, d)), (80, 80)) for d in (diameter, 0.6 * diameter))
    shape = measured(whole - hole, ring(0.6))
    assert shape.long_px == pytest.approx(diameter, rel=0.01)
    assert shape.short_px == pytest.approx(diameter, rel=0.01)


@pytest.mark.parametrize("form", [ellipse, rectangle])
def test_a_small_patch_of_unknown_form_is_at_most_a_tenth_off(form):
    # Between the ellipse’s 4 and the rectangle’s sqrt(12) standard deviations: 7 to 8 % off either.
    shape = measured(coverage(form((20.3, 20.6), (7.0, 4.0), 20.0), (40, 40)), None)
    assert shape.long_px == pytest.approx(7.0, rel=0.1)
    assert shape.short_px == pytest.approx(4.0, rel=0.1)


def test_gaussian_moments_give_back_its_sigma():
    # Intensity-weighted second moments of a Gaussian are sigma^2; sigma 12 and 4. The tails are cut at 1e-6.
    y, x = np.mgrid[:80, :160] + 0.5
    bell = np.exp(-((x - 80) ** 2) / (2 * 12.0**2) - (y - 40) ** 2 / (2 * 4.0**2))
    shape = measure_patch(bell, bell > 1e-6, ROUND)
    assert np.sqrt(shape.long_px**2 / 16 + 1 / 12) == pytest.approx(12.0, rel=0.001)
    assert np.sqrt(shape.short_px**2 / 16 + 1 / 12) == pytest.approx(4.0, rel=0.001)


def test_axes_agree_with_the_region_properties_of_scikit_image():
    from skimage.measure import regionprops

    filled = coverage(ellipse((101.2, 98.7), (150.0, 60.0), 25.0), (200, 200))
    region = regionprops((filled > 0.5).astype(np.uint8))[0]
    shape = measured(filled)
    assert shape.long_px == pytest.approx(region.axis_major_length, rel=0.002)
    assert shape.short_px == pytest.approx(region.axis_minor_length, rel=0.002)


@pytest.mark.parametrize("turn_deg", [0.0, 20.0, 45.0, 90.0, 135.0, 170.0])
def test_direction_of_the_long_axis_is_counter_clockwise_from_the_right(turn_deg):
    shape = measured(coverage(ellipse((50.0, 50.0), (60.0, 30.0), turn_deg), (100, 100)))
    apart = (shape.orientation_deg - turn_deg + 90.0) % 180.0 - 90.0
    assert apart == pytest.approx(0.0, abs=0.2)
    assert 0.0 <= shape.orientation_deg < 180.0


def test_a_round_patch_has_no_direction():
    assert measured(coverage(ellipse((25.0, 25.0), (20.0, 20.0)), (50, 50))).orientation_deg is None


@settings(max_examples=40, deadline=None)
@given(
    short=st.floats(8.0, 20.0),
    aspect=st.floats(1.0, 4.0),
    turn_deg=st.floats(0.0, 180.0),
    x=st.floats(49.0, 51.0),
    y=st.floats(49.0, 51.0),
)
def test_any_ellipse_over_8_pixels_wide_is_within_3_percent(short, aspect, turn_deg, x, y):
    drawn = coverage(ellipse((x, y), (short * aspect, short), turn_deg), (100, 100), finer=4)
    shape = measured(drawn)
    assert shape.long_px == pytest.approx(short * aspect, rel=0.03)
    assert shape.short_px == pytest.approx(short, rel=0.03)
    assert shape.area_px == pytest.approx(np.pi / 4 * short**2 * aspect, rel=0.03)


@pytest.mark.parametrize(("width", "allowed"), [(4.0, 0.04), (2.5, 0.08), (1.6, 0.2)])
def test_below_8_pixels_the_error_grows_gently(width, allowed):
    rng = np.random.default_rng(7)
    for x, y, turn in rng.uniform((10.0, 10.0, 0.0), (11.0, 11.0, 180.0), (20, 3)):
        shape = measured(coverage(ellipse((x, y), (2 * width, width), turn), (21, 21)))
        assert shape.short_px == pytest.approx(width, rel=allowed)
        assert shape.long_px == pytest.approx(2 * width, rel=allowed)
        assert shape.area_px == pytest.approx(np.pi / 2 * width**2, rel=2 * allowed)


def test_narrower_than_a_pixel_is_not_measured():
    shape = measured(coverage(ellipse((10.5, 10.5), (6.0, 0.6)), (21, 21)))
    assert shape.short_px is shape.long_px is shape.area_px is None
    assert shape.centre_px == pytest.approx((10.5, 10.5), abs=0.05)


@pytest.mark.parametrize("sigma", [1.0, 2.0, 3.0])
def test_edge_width_of_a_gaussian_blur(sigma):
    # 10 % to 90 % of a Gaussian's integral: 2 x 1.28155 sigma (tables of the normal distribution).
    from scipy.ndimage import gaussian_filter

    blurred = gaussian_filter(coverage(ellipse((60.2, 60.7), (70.0, 60.0)), (120, 120)), sigma)
    assert measured(blurred).edge_px == pytest.approx(2 * 1.28155 * sigma, rel=0.1)


def test_a_sharp_edge_is_as_wide_as_the_pixel_makes_it():
    # The pixel's square alone: 0.8 px along its sides, sqrt(2) (1 - sqrt(0.2)) = 0.78 px along its diagonal.
    shape = measured(coverage(ellipse((60.2, 60.7), (90.0, 80.0)), (120, 120)))
    assert shape.edge_px == pytest.approx(0.8, abs=0.08)
    assert measured(coverage(ellipse((10.3, 10.6), (6.0, 3.0)), (21, 21))).edge_px is None
