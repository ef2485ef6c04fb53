"""Irradiance from faces of light. Howell, A Catalog of Radiation Heat Transfer Configuration Factors;
Siegel and Howell, Thermal Radiation Heat Transfer. Each form is also held against a plain sum over the
face."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.optics.radiometry import (
    centred_rectangle_factor,
    corner_rectangle_factor,
    polygon_factors,
)


def polygon_factor(corners, point, normal):
    """The factor of one patch."""
    return float(polygon_factors(corners, np.array([point], float), np.array([normal], float))[0])


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
