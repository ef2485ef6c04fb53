"""The highlight's place, shape and brightness: closed forms against a ray trace written here, and its
figures."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from lightsim.optics.highlight import (
    crescent_limit_deg,
    disc_light,
    highlight_area,
    highlight_aspect,
    highlight_height,
    highlight_luminance_share,
    highlight_over_petal,
    highlight_place,
    highlight_width,
    mirrored_points,
    outline_ellipse,
)


def traced_highlight(phase_deg, diameter_deg, distance=1e7, width=0.6, count=1201):
    """Centroid (toward the light) and area, by sending parallel camera rays at a mirror ball of radius 1."""
    middle = np.sin(np.radians(phase_deg) / 2)
    step = width / count
    x, y = np.meshgrid(
        middle + (np.arange(count) + 0.5) * step - width / 2, (np.arange(count) + 0.5) * step - width / 2
    )
    on_ball = x**2 + y**2 < 1
    normal = np.stack([x, y, np.sqrt(np.where(on_ball, 1 - x**2 - y**2, 0))], axis=-1)
    mirrored = 2 * normal[..., 2:] * normal - np.array([0, 0, 1.0])
    phase = np.radians(phase_deg)
    toward = np.array([np.sin(phase), 0, np.cos(phase)])
    far = (distance - normal @ toward) / (mirrored @ toward)
    landing = normal + far[..., None] * mirrored - distance * toward
    hit = (
        on_ball
        & (far > 0)
        & (np.linalg.norm(landing, axis=-1) <= distance * np.tan(np.radians(diameter_deg) / 2))
    )
    return float(x[hit].mean()), float(hit.sum() * step**2)


@pytest.mark.parametrize(
    ("phase_deg", "place", "aspect", "luminance"),
    [
        (0, 0.0, 1.0, 0.020373),
        (30, 0.258819, 1.071797, 0.020428),
        (60, 0.5, 1.333333, 0.021436),
        (90, 0.707107, 2.0, 0.027898),
        (120, 0.866025, 4.0, 0.059691),
    ],
)
def test_place_aspect_and_luminance(phase_deg, place, aspect, luminance):
    assert highlight_place(phase_deg) == pytest.approx(place, abs=1e-6)
    assert highlight_aspect(phase_deg) == pytest.approx(aspect, rel=1e-6)
    # Fresnel's reflectance at half the phase angle, n = 1.333; Born and Wolf, sec. 1.5.
    assert highlight_luminance_share(phase_deg, 1.333) == pytest.approx(luminance, abs=2e-6)


def test_luminance_far_round():
    assert highlight_luminance_share(150, 1.333) == pytest.approx(0.212378, abs=2e-6)


def test_widths():
    # Small-angle figures and the exact width for 30 degrees.
    assert highlight_width(60, 10) == pytest.approx(0.075575, abs=2e-4)
    assert highlight_height(60, 10) == pytest.approx(0.100767, abs=2e-4)
    assert highlight_width(60, 30) == pytest.approx(0.226078, abs=1e-6)


@pytest.mark.parametrize(
    ("diameter_deg", "area"), [(2, 0.00023923989), (10, 0.0059773543), (30, 0.053523587), (60, 0.2104468)]
)
@pytest.mark.parametrize("phase_deg", [0, 45, 90, 120])
def test_area_is_the_same_at_every_angle(diameter_deg, area, phase_deg):
    assert highlight_area(diameter_deg) == pytest.approx(area, rel=1e-6)
    outline = mirrored_points(disc_light(phase_deg, diameter_deg, count=2000))
    assert outline_ellipse(outline).area == pytest.approx(area, rel=1e-4)


@pytest.mark.parametrize(("phase_deg", "diameter_deg"), [(0, 10), (60, 10), (60, 30), (120, 10)])
def test_outline_against_a_ray_trace(phase_deg, diameter_deg):
    place, area = traced_highlight(phase_deg, diameter_deg)
    outline = outline_ellipse(mirrored_points(disc_light(phase_deg, diameter_deg)))
    assert outline.x == pytest.approx(place, abs=2e-4)
    assert outline.area == pytest.approx(area, rel=5e-3)


@pytest.mark.parametrize(("distance", "place"), [(10, 0.52176), (20, 0.51042), (50, 0.50381), (200, 0.50056)])
def test_light_close_by_moves_the_highlight_outward(distance, place):
    # Figures of a fine ray trace (1601 x 1601 rays), 60 degrees off the axis, 10 degrees across.
    outline = outline_ellipse(mirrored_points(disc_light(60, 10, distance)))
    assert outline.x == pytest.approx(place, abs=5e-5)


def test_light_very_close_by():
    place, _ = traced_highlight(60, 10, distance=5)
    assert outline_ellipse(mirrored_points(disc_light(60, 10, 5))).x == pytest.approx(place, abs=2e-4)


@pytest.mark.parametrize(
    ("phase_deg", "diameter_deg", "aspect", "tolerance"),
    [(60, 10, 1.3333, 1e-3), (120, 10, 3.9935, 1e-2), (150, 10, 12.97, 0.15), (120, 60, 3.76, 0.02)],
)
def test_aspect_by_moments(phase_deg, diameter_deg, aspect, tolerance):
    # Ratio of the second moments' axes in the same ray trace: a crescent falls short of 1 / cos^2(t/2).
    ellipse = outline_ellipse(mirrored_points(disc_light(phase_deg, diameter_deg)))
    assert ellipse.aspect == pytest.approx(aspect, abs=tolerance)


def test_crescent_limit():
    # 3.7, 5.2, 4.0, 1.7 and 0.27 radians.
    for phase_deg, radians in ((30, 3.7), (60, 5.2), (90, 4.0), (120, 1.7), (150, 0.27)):
        assert np.radians(crescent_limit_deg(phase_deg)) == pytest.approx(radians, abs=0.06)


def test_a_large_light_makes_a_highlight_darker_than_the_petal():
    # Reflectance 0.5; a light 0.1 and 1 radian across, frontal.
    assert highlight_over_petal(0, np.degrees(0.1), 0.5) == pytest.approx(16.3, abs=0.05)
    assert highlight_over_petal(120, np.degrees(0.1), 0.5) == pytest.approx(47.8, abs=0.1)
    assert highlight_over_petal(0, np.degrees(1.0), 0.5) == pytest.approx(0.177, abs=1e-3)


# Hu 1962; a filled ellipse has full axes 4 sqrt(moment), a 60 x 20 rectangle 2 w / sqrt(3).
def test_moments_of_drawn_shapes():
    turn = np.linspace(0, 2 * np.pi, 4000, endpoint=False)
    ellipse = outline_ellipse(np.column_stack([60 * np.cos(turn) + 7, 20 * np.sin(turn) - 3]))
    assert (ellipse.long, ellipse.short) == pytest.approx((120, 40), rel=1e-4)
    assert (ellipse.x, ellipse.y) == pytest.approx((7, -3), abs=1e-9)
    box = outline_ellipse(np.array([[0, 0], [60, 0], [60, 20], [0, 20]]))
    assert (box.long, box.short) == pytest.approx((69.2820323, 23.0940108), abs=1e-6)
    assert (box.area, box.x, box.y) == pytest.approx((1200, 30, 10))


@given(st.floats(0, 170), st.floats(0.1, 170), st.floats(3, 1e6))
@settings(max_examples=50)
def test_mirrored_point_obeys_the_law_of_reflection(phase_deg, turn_deg, distance):
    phase, turn = np.radians(phase_deg), np.radians(turn_deg)
    assume(phase_deg < 90.0 or distance * np.sin(phase) > 1.001)  # else the sphere hides the light
    light = distance * np.array([np.sin(phase) * np.cos(turn), np.sin(phase) * np.sin(turn), np.cos(phase)])
    x, y = mirrored_points(light[None])[0]
    normal = np.array([x, y, np.sqrt(max(0.0, 1 - x * x - y * y))])
    toward = (light - normal) / np.linalg.norm(light - normal)
    assert normal @ toward == pytest.approx(normal[2], abs=1e-6)
    assert np.cross(normal, toward)[2] == pytest.approx(0, abs=1e-6)
