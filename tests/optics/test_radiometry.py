"""Irradiance from faces of light. Howell, A Catalog of Radiation Heat Transfer Configuration Factors;
Siegel and Howell, Thermal Radiation Heat Transfer. Each form is also held against a plain sum over the
face."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.optics.radiometry import (
    LAMBERT_SPHERE_FULL,
    cavity_gain,
    centred_rectangle_factor,
    cone_solid_angle_sr,
    corner_rectangle_factor,
    disc_factor,
    dome_factor,
    inverse_square_share,
    lambert_sphere_phase,
    offset_disc_factor,
    penumbra_width,
    polygon_factor,
    rectangle_solid_angle_sr,
    sphere_factor,
    upright_rectangle_factor,
)


def summed_factor(points, areas, face_normal, patch_normal):
    """Sum of cos cos / (pi d^2) over small pieces of a face, seen from a patch at the origin."""
    distance = np.linalg.norm(points, axis=-1)
    at_patch = np.maximum(points @ np.asarray(patch_normal, float), 0) / distance
    at_face = np.abs(points @ np.asarray(face_normal, float)) / distance
    return float(np.sum(at_patch * at_face * areas / (np.pi * distance**2)))


def rectangle_points(width, height, count=400):
    """Middles of count x count pieces of a rectangle with one corner at 0, 0."""
    x = (np.arange(count) + 0.5) / count * width
    y = (np.arange(count) + 0.5) / count * height
    return np.meshgrid(x, y), width * height / count**2


@pytest.mark.parametrize(
    ("radius", "distance", "irradiance"),
    [(1, 1, 1.57079633), (1, 2, 0.628318531), (0.5, 2, 0.184799568), (1, 10, 0.0311048778)],
)
def test_disc_on_its_axis(radius, distance, irradiance):
    assert np.pi * disc_factor(radius, distance) == pytest.approx(irradiance, abs=1e-8)


@pytest.mark.parametrize(
    ("radius", "distance", "offset", "factor"),
    [(1, 1, 1, 0.276393202), (1, 2, 1, 0.146446609), (0.5, 1, 2, 0.010725108)],
)
def test_disc_to_the_side(radius, distance, offset, factor):
    assert offset_disc_factor(radius, distance, offset) == pytest.approx(factor, abs=1e-8)
    r = (np.arange(400) + 0.5) / 400 * radius
    turn = (np.arange(400) + 0.5) / 400 * 2 * np.pi
    r, turn = np.meshgrid(r, turn)
    points = np.stack([offset + r * np.cos(turn), r * np.sin(turn), np.full_like(r, distance)], axis=-1)
    areas = r * (radius / 400) * (2 * np.pi / 400)
    assert summed_factor(points, areas, (0, 0, 1), (0, 0, 1)) == pytest.approx(factor, rel=1e-5)


@pytest.mark.parametrize(
    ("width", "height", "distance", "factor"),
    [(1, 1, 1, 0.138531606), (1, 2, 1, 0.16737501), (0.5, 0.5, 1, 0.0598641176)],
)
def test_rectangle_over_its_corner(width, height, distance, factor):
    assert corner_rectangle_factor(width, height, distance) == pytest.approx(factor, abs=1e-8)
    (x, y), area = rectangle_points(width, height)
    points = np.stack([x, y, np.full_like(x, distance)], axis=-1)
    assert summed_factor(points, area, (0, 0, 1), (0, 0, 1)) == pytest.approx(factor, rel=1e-5)
    corners = [(0, 0, distance), (width, 0, distance), (width, height, distance), (0, height, distance)]
    assert polygon_factor(corners, (0, 0, 0), (0, 0, 1)) == pytest.approx(factor, abs=1e-8)


def test_rectangle_over_its_middle():
    assert centred_rectangle_factor(2, 2, 1) == pytest.approx(0.554126424, abs=1e-8)
    assert centred_rectangle_factor(1, 1, 1) == pytest.approx(0.239456, abs=1e-6)


@pytest.mark.parametrize(
    ("height", "width", "distance", "factor"), [(1, 1, 1, 0.055734197), (2, 1, 0.5, 0.158775)]
)
def test_upright_rectangle(height, width, distance, factor):
    assert upright_rectangle_factor(height, width, distance) == pytest.approx(factor, abs=1e-6)
    (y, z), area = rectangle_points(width, height)
    points = np.stack([np.full_like(y, distance), y, z], axis=-1)
    assert summed_factor(points, area, (1, 0, 0), (0, 0, 1)) == pytest.approx(factor, rel=1e-4)


def test_polygon_to_a_tilted_patch():
    # Lambert 1760; Baum, Rushmeier and Winget 1989. Centred unit square at height 1, patch tilted by 30
    # degrees.
    square = [(-0.5, -0.5, 1), (0.5, -0.5, 1), (0.5, 0.5, 1), (-0.5, 0.5, 1)]
    tilted = (0.5, 0, np.sqrt(0.75))
    assert polygon_factor(square, (0, 0, 0), tilted) == pytest.approx(0.207375, abs=1e-6)


@given(st.floats(0, 360), st.floats(0, 85), st.floats(0.3, 3))
def test_polygon_below_the_horizon_is_cut(turn_deg, tilt_deg, distance):
    turn, tilt = np.radians(turn_deg), np.radians(tilt_deg)
    normal = np.array([np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn), np.cos(tilt)])
    (x, y), area = rectangle_points(4.0, 4.0, 200)
    points = np.stack([x - 2, y - 2, np.full_like(x, distance)], axis=-1)
    square = [(-2, -2, distance), (2, -2, distance), (2, 2, distance), (-2, 2, distance)]
    summed = summed_factor(points, area, (0, 0, 1), normal)
    assert polygon_factor(square, (0, 0, 0), normal) == pytest.approx(summed, abs=1e-3)


def test_polygon_behind_the_patch_gives_nothing():
    assert polygon_factor([(0, 0, -1), (1, 0, -1), (0, 1, -1)], (0, 0, 0), (0, 0, 1)) == 0


def test_sphere():
    assert np.pi * sphere_factor(1, 2, 30) == pytest.approx(0.680174762, abs=1e-8)


def test_solid_angles():
    assert rectangle_solid_angle_sr(1, 1, 1) == pytest.approx(0.805431683, abs=1e-8)
    assert cone_solid_angle_sr(180) == pytest.approx(2 * np.pi)
    # Howell's catalogue, point to rectangle, worked value 0.0836: corner 1 x 2 at 0.5, a quarter of the
    # whole.
    assert rectangle_solid_angle_sr(2, 4, 0.5) / 4 / (4 * np.pi) == pytest.approx(0.0836, abs=5e-5)
    assert rectangle_solid_angle_sr(2, 4, 0.5) / 4 / (4 * np.pi) == pytest.approx(0.083604127, abs=1e-8)


@pytest.mark.parametrize(("tilt_deg", "irradiance"), [(0, 3.14159265), (30, 2.93114585), (90, 1.57079633)])
def test_dome(tilt_deg, irradiance):
    assert np.pi * dome_factor(tilt_deg) == pytest.approx(irradiance, abs=1e-8)


@pytest.mark.parametrize(
    ("diameters", "share"), [(1, 0.8), (2, 0.941176471), (5, 0.99009901), (10, 0.997506)]
)
def test_inverse_square_share(diameters, share):
    assert inverse_square_share(diameters) == pytest.approx(share, abs=1e-6)
    assert disc_factor(0.5, diameters) / (0.25 / diameters**2) == pytest.approx(share, abs=1e-6)


# Lambert 1760, planetary photometry.
@pytest.mark.parametrize(
    ("phase_deg", "share"),
    [(0, 1.0), (30, 0.8808428), (60, 0.6089978), (90, 0.3183099), (120, 0.1089978), (150, 0.01481738)],
)
def test_matt_sphere(phase_deg, share):
    assert lambert_sphere_phase(phase_deg) == pytest.approx(share, abs=1e-5)
    side = (np.arange(1000) + 0.5) / 500 - 1
    x, y = np.meshgrid(side, side)
    z = np.sqrt(np.maximum(1 - x**2 - y**2, 0))
    phase = np.radians(phase_deg)
    lit = np.maximum(x * np.sin(phase) + z * np.cos(phase), 0) * (z > 0)
    # Mean luminance over the disc, per that of a flat patch which faces the light.
    assert lit.sum() * 4e-6 / np.pi == pytest.approx(LAMBERT_SPHERE_FULL * share, abs=1e-4)


@pytest.mark.parametrize(("albedo", "gain"), [(0.18, 1.2195122), (0.5, 2.0), (0.8, 5.0)])
def test_cavity(albedo, gain):
    # The integrating sphere's relation: the sum of all the bounces.
    assert cavity_gain(albedo) == pytest.approx(gain, rel=1e-6)
    assert cavity_gain(albedo) == pytest.approx(sum(albedo**bounce for bounce in range(200)), rel=1e-6)


def test_penumbra():
    assert penumbra_width(50, 200, 5) == pytest.approx(1.25)
