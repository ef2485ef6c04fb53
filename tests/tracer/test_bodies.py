"""Solid bodies against rays, against strips of a face, and in what a set gets of the light."""

from __future__ import annotations

import numpy as np
import pytest

from lightsim.scene.obstruction import cut_by
from lightsim.scene.stage import Body
from lightsim.tracer.kernels import bodies as kernels
from lightsim.tracer.pack import pack_bodies
from tests.tracer.inner import Room

INNER = Room(kernels)


def random_bodies(count, seed):
    """Boxes and rods of many shapes, turned every way, about 0, 0, 60."""
    rng = np.random.default_rng(seed)
    bodies = []
    for number in range(count):
        axes, _ = np.linalg.qr(rng.normal(size=(3, 3)))
        half = rng.uniform(2.0, 25.0, 3)
        is_round = number % 2 == 1
        if is_round:
            half[1] = half[0]
        centre = np.array([0.0, 0.0, 60.0]) + rng.normal(scale=12.0, size=3)
        bodies.append(Body("thing", "what", centre, *axes, *half.tolist(), round=is_round))
    return bodies


def unit(vector):
    return vector / np.linalg.norm(vector)


def test_a_ray_meets_a_body_where_points_along_it_begin_to_lie_inside():
    rng = np.random.default_rng(1)
    for body in random_bodies(40, 2):
        packed = pack_bodies([body])
        axes, half = np.array([body.right, body.up, body.out]), packed[0, 12:15]
        for _ in range(20):
            o = rng.normal(scale=5.0, size=3)
            d = unit(body.centre + rng.normal(scale=15.0, size=3) - o)
            t = np.linspace(0.0, 140.0, 28_001)
            local = (o + t[:, None] * d - body.centre) @ axes.T
            inside = np.abs(local[:, 2]) < half[2]
            if body.round:
                inside &= np.hypot(local[:, 0], local[:, 1]) < half[0]
            else:
                inside &= (np.abs(local[:, :2]) < half[:2]).all(axis=1)
            found = INNER.body_met(packed, 0, tuple(o), tuple(d))
            if inside.any():
                assert found == pytest.approx(t[inside.argmax()], abs=0.006)
            else:  # it may pass through a corner between two of these points
                assert found == np.inf or found < 140.0


def test_a_body_covers_of_a_strip_what_its_rays_find_covered():
    rng = np.random.default_rng(3)
    some = 0
    for body in random_bodies(200, 4):
        packed = pack_bodies([body])
        o = rng.normal(scale=4.0, size=3)
        start = np.array([0.0, 0.0, 130.0]) + rng.normal(scale=15.0, size=3) - o
        way = unit(rng.normal(size=3) * [1.0, 1.0, 0.2])
        t = np.linspace(-60.0, 60.0, 2401)
        ends = start + t[:, None] * way
        covered = cut_by([body], o[None], o + ends)
        low, high = INNER.body_covers(packed, 0, tuple(o), tuple(start), tuple(way), -60.0, 60.0)
        assert np.array_equal(covered, (t > low) & (t < high)) or (
            np.count_nonzero(covered != ((t > low) & (t < high))) <= 2
        ), (body, low, high)
        some += covered.any() and not covered.all()
    assert some > 80


def test_rays_in_plain_arrays_and_in_kernels_agree():
    rng = np.random.default_rng(5)
    bodies = random_bodies(20, 6)
    packed = pack_bodies(bodies)
    start, end = rng.normal(scale=6.0, size=(400, 3)), rng.normal((0.0, 0.0, 110.0), 40.0, size=(400, 3))
    for i, body in enumerate(bodies):
        plain = cut_by([body], start, end)
        for o, y, cut in zip(start, end, plain, strict=True):
            far = float(np.linalg.norm(y - o))
            assert (INNER.body_met(packed, i, tuple(o), tuple((y - o) / far)) < far) == cut
