"""Boxes, triangles and roots looked at together, against one after the other; tuples handed on by pointer."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import NamedTuple

import numpy as np
import pytest

from lightsim.scene.build import build
from lightsim.tracer.kernels import connection, petal_mesh, sampling, simd, struct_pointer
from lightsim.tracer.kernels.jit import jit_allocating
from lightsim.tracer.pack import pack_petal
from tests.tracer.inner import Room
from tests.tracer.naive import corners_and_edges
from tests.tracer.sets import plain_petal, simple

connect = Room(connection)
sample = Room(sampling)
kernels = Room(petal_mesh)


@jit_allocating
def _blocked_by_any(corner, edge1, edge2, o, d, near, far):
    """Every triangle, one after the other. Moeller and Trumbore, J. Graphics Tools 2 (1997) 21."""
    for f in range(corner.shape[0]):
        p = np.cross(d, edge2[f])
        det = np.dot(edge1[f], p)
        s = o - corner[f]
        u = np.dot(s, p) / det
        q = np.cross(s, edge1[f])
        v = np.dot(d, q) / det
        t = np.dot(edge2[f], q) / det
        if u >= 0.0 and v >= 0.0 and u + v <= 1.0 and near < t < far:
            return True
    return False


def test_eight_boxes_and_four_triangles_find_what_each_alone_does():
    mesh = build(simple(plain_petal(0.5))).petal
    rng = np.random.default_rng(3)
    bumpy = mesh.vertices + rng.normal(0.0, 0.4, mesh.vertices.shape)
    petal = pack_petal(replace(mesh, vertices=bumpy))
    stack = np.empty(192, dtype=np.int32)
    o = rng.uniform(-6.0, 6.0, (400, 3)) * (1.0, 1.0, 0.2)
    d = rng.normal(size=(400, 3)) * (1.0, 1.0, 0.3)
    d /= np.linalg.norm(d, axis=1)[:, None]
    triangles = [np.ascontiguousarray(a) for a in corners_and_edges(petal)]
    got = [kernels.blocked(petal, tuple(a), tuple(b), 1e-4, 5.0, stack) for a, b in zip(o, d, strict=True)]
    want = [_blocked_by_any(*triangles, a, b, 1e-4, 5.0) for a, b in zip(o, d, strict=True)]
    assert 40 < sum(want) < 360
    assert got == want


class Pair(NamedTuple):
    values: np.ndarray
    factor: float


@jit_allocating
def _sum_held(pair):
    held = struct_pointer.held(pair)
    return _sum(held)


@jit_allocating
def _sum(pair):
    total = 0.0
    for value in pair.values:
        total += pair.factor * value
    return total


def test_a_held_tuple_reads_as_the_tuple_itself():
    pair = Pair(np.arange(5.0), 0.5)
    assert _sum_held(pair) == _sum(pair) == 5.0


@pytest.mark.parametrize("course", range(1, len(connection.PATH)))
@pytest.mark.parametrize("s", [5.5, 40.0, 1e6])
def test_roots_are_found_where_they_may_lie_as_in_all_stretches(course, s):
    rng = np.random.default_rng(course)
    inside = course >= connection.PATH.inside
    found = 0
    for _ in range(300):
        d, angle = rng.uniform(0.0, 1.0) if inside else 1.0 / rng.uniform(0.05, 1.0), rng.uniform(0.0, np.pi)
        rho, z = d * np.sin(angle), d * np.cos(angle)
        listed = _roots(rho, z, s, course, connect.stretches_at(rho, z, s))
        everywhere = _roots(rho, z, s, course, -1)
        assert listed == pytest.approx(everywhere, abs=1e-5)
        found += len(everywhere)
    assert found > 100


def _roots(rho, z, s, course, entry):
    state, roots = 0, []
    while True:
        i, state, _ = connect.next_root(rho, z, s, course, entry, state)
        if state < 0:
            return roots
        roots.append(i)


def test_the_second_sobol_coordinate_against_its_generating_matrix():
    """Columns by the recursion v(j+1) = v(j) xor v(j) / 2, 32 bits. Sobol, USSR Comput. Math. 7 (1967) 86."""
    for index in (0, 1, 2, 3, 5, 1000, 2**31 + 12345, 2**32 - 1):
        column, want = 0x80000000, 0
        for bit in range(32):
            if index >> bit & 1:
                want ^= column
            column ^= column >> 1
        got = int(sample.reversed_second(np.uint64(index)))
        assert int(f"{got:032b}"[::-1], 2) == want


def test_no_box_is_met_behind_the_end_of_a_ray():
    box = np.full((1, 6, simd.LANES), 1e18, dtype=np.float32)
    box[0, :3, 0], box[0, 3:, 0] = -1.0, 1.0
    assert _met(box, 10.0) == 1
    assert _met(box, 3.0) == 0
    assert _met(box, inf) & 1 == 1


@jit_allocating
def _met(box, far):
    return simd.boxes_met(box, 0, (0.0, 0.0, 5.0), (1e20, 1e20, -1.0), far)
