"""Penumbrae of drops above a horizon, against a sum over all its points by the laws of Lambert
(Photometria, 1760) and of rays past a sphere."""

from __future__ import annotations

import numpy as np
import pytest

from lightsim.tracer import kernels
from lightsim.tracer.area_light import LampWork
from lightsim.tracer.kernels.drop_visibility import OccluderList
from lightsim.tracer.view import View
from tests.tracer.inner import Room
from tests.tracer.sets import lamp, one_drop, plain_petal, simple

penumbra, faces, horizons = (
    Room(room) for room in (kernels.petal_penumbra, kernels.emitters, kernels.horizon)
)
SIDE = 300  # points along each side of the face


@pytest.fixture(scope="module", params=["rectangle", "round"])
def held(request):
    """A view of one drop, a lamp's face and how its strips run, and points all over the face."""
    light = lamp(
        angle_deg=70.0, clock=3.0, distance_mm=120.0, width_mm=80.0, height_mm=80.0, shape=request.param
    )
    view = View(simple(plain_petal(), one_drop(110.0), (light,)), width_px=32, samples=1)
    work = LampWork(view, view.stage.lights[0])
    t = (np.arange(SIDE) + 0.5) / SIDE * 2.0 - 1.0
    u, v = (one.ravel() for one in np.meshgrid(t, t))
    if request.param == "round":
        u, v = (one[np.hypot(u, v) < 1.0] for one in (u, v))
    return view, faces.face_of(work.face), work.cache.horizon, u, v


def summed(view, face, horizon_map, tops, u, v, o):
    """The share that the drop leaves of what is over the horizon, and what share of all that is; u along the
    horizon's strips."""
    along, across = (np.array(face.right), np.array(face.up))[:: 1 if horizon_map.across else -1]
    half, high = (face.half_width, face.half_height)[:: 1 if horizon_map.across else -1]
    to = np.array(face.centre) + u[:, None] * half * along + v[:, None] * high * across - o
    far = np.linalg.norm(to, axis=1)
    sent = np.maximum(to[:, 2], 0.0) * np.maximum(-(to @ np.array(face.out)), 0.0) / far**4
    place = penumbra.ACROSS.place
    top = np.interp(v, place, tops)
    for end, other, beyond in ((0, 1, v < place[0]), (-1, -2, v > place[-1])):
        slope = (tops[other] - tops[end]) / (place[other] - place[end])
        top = np.where(beyond, tops[end] + slope * (v - place[end]), top)
    over = horizon_map.sign * u > top
    centre, radius = view.packed.drops.centre[0], view.packed.drops.radius[0]
    m, d = centre - o, to / far[:, None]
    free = (m @ m - (d @ m) ** 2 > radius**2) | (d @ m < 0.0)
    return sent[over & free].sum() / sent[over].sum(), sent[over].sum() / sent.sum()


def test_the_drops_share_over_a_horizon_is_that_of_a_sum_over_the_face(held):
    """Level horizons and slanting ones, jagged ones, some above parts of the face's end."""
    view, face, horizon_map, u, v = held
    rng, off, between = np.random.default_rng(8), [], 0
    blockers = OccluderList(view.packed.drops, np.zeros(1, dtype=np.int32), 1)
    radius = view.packed.drops.radius[0]
    for _ in range(240):
        turn, away = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(1.2, 3.5) * radius
        o = np.array([away * np.cos(turn), away * np.sin(turn), 0.0])
        tops = (
            rng.uniform(-1.0, 0.6) + rng.uniform(-0.4, 0.4) * penumbra.ACROSS.place + rng.normal(0.0, 0.05, 4)
        )
        if not penumbra.edge_runs_along(blockers, face, horizon_map, tuple(o)):
            continue
        want, left = summed(view, face, horizon_map, tops, u, v, o)
        if left < 0.02:
            continue
        strips = horizons.strips_of(face, horizon_map, 0)
        got = penumbra.unshaded_share(blockers, face, strips, tops, tuple(o), (0.0, 0.0, 1.0))
        off.append(got - want)
        between += 0.05 < want < 0.95
    assert between > 10
    assert abs(np.mean(off)) < 0.005
    assert np.quantile(np.abs(off), 0.9) < 0.015
    assert np.max(np.abs(off)) < 0.05


def test_a_drops_edge_along_the_horizon_s_strips_makes_no_steps(held):
    """From place to place across the edge of the shadow, what is left changes evenly."""
    view, face, horizon_map, *_ = held
    radius = view.packed.drops.radius[0]
    tops = np.full(4, -0.5)
    n = (0.0, 0.0, 1.0)
    nobody, blockers = (
        OccluderList(view.packed.drops, np.zeros(1, dtype=np.int32), count) for count in (0, 1)
    )
    places = [(-0.6 * radius, y, 0.0) for y in np.linspace(1.05 * radius, 2.5 * radius, 200)]
    left = []
    for o in places:
        whole, free = penumbra.sent_over_horizon(blockers, face, horizon_map, tops, 0, o, n)
        _, unshaded = penumbra.sent_over_horizon(nobody, face, horizon_map, tops, 0, o, n)
        assert -1e-9 * whole <= free <= unshaded <= whole
        left.append(free / unshaded)
    assert left[0] < 0.8
    assert left[-1] == pytest.approx(1.0)
    assert np.max(np.abs(np.diff(left))) < 0.03
