"""Rays in a ball of water: Descartes' rainbow, the ball lens, the light seen through it, the cap on a
petal."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.optics.fresnel import reflectance
from lightsim.optics.sphere import (
    MIRROR_FOCAL_LENGTH,
    apparent_magnification,
    axis_crossing,
    ball_back_focal_length,
    ball_focal_length,
    cap_gain,
    cap_gain_with_loss,
    greatest_deviation_deg,
    mirror_image_width,
    mirrored_intensity,
    rainbow,
    refracted_glint_least_phase_deg,
    refracted_glint_place,
    transmitted_deviation_deg,
)


def refract(direction, normal, index):
    """Snell's law in vectors, written here on its own; index of the far side over the near."""
    cosine = -direction @ normal
    root = np.sqrt(1 - (1 - cosine**2) / index**2)
    return direction / index + (cosine / index - root) * normal


def through_the_ball(impact, index=1.333):
    """Exit point and direction of a ray that comes along +z at that distance from the axis."""
    entry = np.array([impact, -np.sqrt(1 - impact**2)])
    inside = refract(np.array([0.0, 1.0]), entry, index)
    leave = entry - 2 * (entry @ inside) * inside
    return leave, refract(inside, -leave, 1 / index)


# Descartes 1637; Greenler, Rainbows, Halos, and Glories (1980). The colours' indices are those of textbook
# pages (1.3318 and 1.3435 give about 42.3 and 40.6 degrees there) and of IAPWS R9-97 at the C and F lines.
@pytest.mark.parametrize(
    ("index", "bounces", "phase_deg"),
    [
        (1.333, 1, 42.0781),
        (1.333, 2, 50.8908),
        (4 / 3, 1, 42.0297),
        (4 / 3, 2, 50.9781),
        (1.3318, 1, 42.2529),
        (1.3435, 1, 40.5754),
        (1.331514, 1, 42.2947),
        (1.337491, 1, 41.4295),
    ],
)
def test_rainbow_angles(index, bounces, phase_deg):
    assert rainbow(index, bounces).phase_deg == pytest.approx(phase_deg, abs=1e-3)


def test_rainbow_rays():
    primary, secondary = rainbow(1.333), rainbow(1.333, 2)
    assert primary.incidence_deg == pytest.approx(59.4105, abs=1e-3)
    assert primary.refraction_deg == pytest.approx(40.2248, abs=1e-3)
    assert primary.impact == pytest.approx(0.86084, abs=1e-5)
    assert secondary.impact == pytest.approx(0.95020, abs=1e-5)
    assert rainbow(1.331514).phase_deg - rainbow(1.337491).phase_deg == pytest.approx(0.8652, abs=1e-3)


@pytest.mark.parametrize("bounces", [1, 2, 3])
def test_rainbow_ray_is_the_least_bent(bounces):
    h = np.linspace(0.001, 0.9999, 100_001)
    i, r = np.degrees(np.arcsin(h)), np.degrees(np.arcsin(h / 1.333))
    deviation = 2 * (i - r) + bounces * (180 - 2 * r)
    assert rainbow(1.333, bounces).deviation_deg == pytest.approx(deviation.min(), abs=1e-4)


# The thick-lens equation for a full sphere; Hecht, Optics, ch. 6.
def test_ball_lens():
    assert ball_focal_length(1.333) == pytest.approx(1.0007508, abs=1e-6)
    assert ball_back_focal_length(1.333) == pytest.approx(0.50075075, abs=1e-6)
    assert ball_focal_length(1.5) == pytest.approx(0.75, abs=1e-12)
    assert ball_focal_length(4 / 3) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(
    ("impact", "crossing"),
    [(0.1, 1.99461), (0.3, 1.93850), (0.5, 1.82065), (0.7, 1.62598), (0.9, 1.31032), (0.99, 1.06881)],
)
def test_axis_crossing_against_a_traced_ray(impact, crossing):
    leave, direction = through_the_ball(impact)
    traced = leave[1] - leave[0] / direction[0] * direction[1]
    assert axis_crossing(impact, 1.333) == pytest.approx(traced, abs=1e-9)
    assert axis_crossing(impact, 1.333) == pytest.approx(crossing, abs=1e-5)


@pytest.mark.parametrize(("impact", "degrees"), [(0.1, 2.8737), (0.5, 15.9398), (0.9, 43.3816)])
def test_deviation_against_a_traced_ray(impact, degrees):
    _, direction = through_the_ball(impact)
    assert transmitted_deviation_deg(impact, 1.333) == pytest.approx(degrees, abs=1e-4)
    assert transmitted_deviation_deg(impact, 1.333) == pytest.approx(
        np.degrees(np.arctan2(-direction[0], direction[1])), abs=1e-9
    )


def test_paraxial_ray_meets_the_ball_lens_focus():
    assert axis_crossing(1e-4, 1.333) == pytest.approx(2 * ball_focal_length(1.333), abs=1e-6)


def test_greatest_deviation_and_least_phase():
    assert greatest_deviation_deg(1.333) == pytest.approx(82.78675, abs=1e-4)
    assert greatest_deviation_deg(1.5) == pytest.approx(96.3794, abs=1e-4)
    assert refracted_glint_least_phase_deg(1.333) == pytest.approx(97.21325, abs=1e-4)


@pytest.mark.parametrize(
    ("phase_deg", "place"),
    [(100, 0.99970), (110, 0.99285), (120, 0.974197), (135, 0.910595), (150, 0.76814), (170, 0.333943)],
)
def test_refracted_glint(phase_deg, place):
    assert refracted_glint_place(phase_deg, 1.333) == pytest.approx(place, abs=1e-5)
    # The ray seen there is bent by just what is wanting to 180 degrees.
    assert transmitted_deviation_deg(refracted_glint_place(phase_deg), 1.333) == pytest.approx(
        180 - phase_deg
    )


@given(st.floats(0, 97))
def test_no_light_through_the_ball_from_the_front(phase_deg):
    assert np.isnan(refracted_glint_place(phase_deg, 1.333))


# Spherical mirror, f = R / 2: Hecht, Optics, ch. 5.
def test_mirror():
    assert MIRROR_FOCAL_LENGTH == 0.5
    # A distant light's image by the focal length: width / distance * f.
    assert mirror_image_width(1000.0, 1e6) == pytest.approx(1000.0 / 1e6 * MIRROR_FOCAL_LENGTH, rel=1e-5)


def test_mirrored_intensity():
    # I = E R^2 F / 4: a perfect mirror ball sends E R^2 / 4 everywhere, pi E R^2 in all.
    share = float(reflectance(30.0, 1.333))
    assert mirrored_intensity(1.0, 1.0, 60.0, 1.333) == pytest.approx(0.25 * share, abs=1e-9)


# Paraxial refraction at one surface, (1 - h (n - 1) / n)^-2.
@pytest.mark.parametrize(
    ("height", "gain"), [(0.2, 1.107946), (0.5, 1.305843), (1.0, 1.776889), (2.0, 3.994005)]
)
def test_cap_gain_against_a_traced_ray(height, gain):
    assert cap_gain(height, 1.333) == pytest.approx(gain, abs=1e-5)
    impact = 1e-4
    entry = np.array([impact, -np.sqrt(1 - impact**2)])
    inside = refract(np.array([0.0, 1.0]), entry, 1.333)
    landing = entry + inside * (height - 1 - entry[1]) / inside[1]
    assert (impact / landing[0]) ** 2 == pytest.approx(gain, rel=1e-5)


def test_cap_gain_less_the_surface():
    assert cap_gain_with_loss(1.0, 1.333) == pytest.approx(1.74069, abs=1e-5)


@pytest.mark.parametrize(("depth", "expected"), [(0.5, 1.1427), (1.0, 1.3330), (1.5, 1.5993)])
def test_apparent_magnification(depth, expected):
    assert apparent_magnification(depth, 1.333) == pytest.approx(expected, abs=5e-5)
