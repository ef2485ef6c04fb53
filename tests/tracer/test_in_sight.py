"""Points of a light's face among the parts of it that a drop may see: all of these and no others, evenly,
with the weight that integrates a function over them."""

from __future__ import annotations

import numpy as np
import pytest

from lightsim.tracer import kernels
from lightsim.tracer.area_light import LampWork
from lightsim.tracer.kernels.drop_visibility import CLEAR, HIDDEN, MIXED, PATCHES
from lightsim.tracer.view import View
from tests.tracer.inner import Room
from tests.tracer.sets import lamp, one_drop, plain_petal, simple

faces, visibility = Room(kernels.emitters), Room(kernels.drop_visibility)
SIDE = 60  # numbers along each side of the square that points come from


def face_of(shape):
    light = lamp(angle_deg=30.0, width_mm=60.0, height_mm=60.0 if shape == "round" else 40.0, shape=shape)
    view = View(simple(plain_petal(), one_drop(), (light,)), width_px=16, samples=1)
    return faces.face_of(LampWork(view, view.stage.lights[0]).face)


def asked(sees, face):
    """Face coordinates, -1 to 1, and powers of the points for even numbers."""
    t = (np.arange(SIDE) + 0.5) / SIDE
    found = [visibility.point_in_sight(sees, 0, face, a, b) for a in t for b in t]
    off = np.array([p for p, _ in found]) - np.array(face.centre)
    x, y = off @ np.array(face.right) / face.half_width, off @ np.array(face.up) / face.half_height
    return x, y, np.array([power for _, power in found])


def patch_of(x, y):
    i, j = (np.clip(((one + 1.0) / 2.0 * PATCHES).astype(int), 0, PATCHES - 1) for one in (x, y))
    return i * PATCHES + j


@pytest.mark.parametrize("shape", ["rectangle", "round"])
@pytest.mark.parametrize("open_share", [0.15, 0.4])
def test_points_lie_evenly_on_what_may_be_seen(shape, open_share):
    face = face_of(shape)
    rng = np.random.default_rng(7)
    state = np.where(rng.random(PATCHES**2) < open_share, rng.choice([CLEAR, MIXED]), HIDDEN)
    sees = np.append(state, MIXED).astype(np.uint8)[None]
    x, y, power = asked(sees, face)
    used = patch_of(x, y)
    assert np.all(state[used] != HIDDEN)
    many = np.bincount(used, minlength=PATCHES**2)[state != HIDDEN]
    assert many.min() > 0.8 * many.mean()
    assert many.max() < 1.2 * many.mean()
    # the integral of a function over all that may be seen, against a fine sum over the face
    t = (np.arange(600) + 0.5) / 300.0 - 1.0
    u, v = (one.ravel() for one in np.meshgrid(t, t))
    inside = state[patch_of(u, v)] != HIDDEN
    inside &= (u * u + v * v <= 1.0) | (shape != "round")
    whole = 4.0 * face.half_width * face.half_height * face.radiance[0, 0]
    for f in (lambda a, b: 1.0 + 0.0 * a, lambda a, b: 1.0 + a, lambda a, b: (1.0 + b) ** 2):
        assert np.mean(power * f(x, y)) == pytest.approx(whole * np.mean(inside * f(u, v)), rel=0.02)


@pytest.mark.parametrize("state", [CLEAR, MIXED, HIDDEN])
def test_where_all_or_nothing_is_told_points_are_the_face_s_own(state):
    face = face_of("rectangle")
    sees = np.full((1, PATCHES**2 + 1), state, dtype=np.uint8)
    for a, b in ((0.1, 0.9), (0.5, 0.5), (0.99, 0.01)):
        assert visibility.point_in_sight(sees, 0, face, a, b) == faces.point_on(face, a, b)
