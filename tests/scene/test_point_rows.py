"""Points in rows give what a tree of a library gives; places on a petal for many lines of sight at once."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from lightsim.scene.petal.point_rows import PointRows, runs_of
from lightsim.scene.petal.shape import form_height, petal_sheet
from lightsim.scene.petal.surface import Surface
from lightsim.scene.records import Petal


@given(st.lists(st.tuples(st.integers(-5, 5), st.integers(0, 6)), max_size=8))
def test_ranges_are_pythons_own_in_a_row(pairs):
    first = np.array([a for a, _ in pairs], dtype=int)
    last = first + np.array([count for _, count in pairs], dtype=int)
    which, number = runs_of(first, last)
    wanted = [(k, n) for k, (a, b) in enumerate(zip(first, last, strict=True)) for n in range(a, b)]
    assert list(zip(which.tolist(), number.tolist(), strict=True)) == wanted


@pytest.mark.parametrize("size_mm", [(30.0, 40.0, 5.0), (0.0, 40.0, 0.0), (30.0, 0.0, 0.0), (1e-3, 1e3, 1.0)])
@pytest.mark.parametrize("count", [0, 1, 3, 2000])
def test_points_within_reach_are_those_of_a_tree(size_mm, count):
    random = np.random.default_rng(count)
    points, places = (random.uniform(-0.5, 0.5, (n, 3)) * size_mm for n in (count, 50))
    reach = random.uniform(0.0, 0.2, 50) * max(size_mm)
    place, point = PointRows(points).within(places, reach)
    found = [sorted(point[place == k].tolist()) for k in range(50)]
    tree = cKDTree(points)
    assert found == [sorted(tree.query_ball_point(*one)) for one in zip(places, reach, strict=True)]


def test_places_below_lie_on_the_petal_and_nothing_is_found_beside_it():
    petal = Petal(outline="rectangle", width_mm=20, length_mm=30, relief_mm=0.0, mesh_spacing_mm=0.2)
    random = np.random.default_rng(4)
    points = random.uniform(-1.0, 1.0, (300, 2)) * [12.0, 18.0]
    points[:4] = [[-10, -15], [10, 15], [0, 15], [0, 0]]  # corners, an edge and a vertex are on it
    within = (np.abs(points) <= [10.0, 15.0]).all(axis=1)
    found = Surface(petal_sheet(petal)).below(points)
    assert [place is not None for place in found] == within.tolist()
    there = np.array([place.point for place in found if place is not None])
    np.testing.assert_allclose(there[:, :2], points[within], atol=1e-9)
    height, _ = form_height(petal, points[within])
    np.testing.assert_allclose(there[:, 2], height, atol=2e-3)  # chords of the mesh lie off the form
