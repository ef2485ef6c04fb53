"""The window in which a point of the petal looks for light through a drop: rays followed in plain vectors
from the point back through the drop to the light must lie in it, or that light is found by chance, as
speckle."""

from __future__ import annotations

import numpy as np
import pytest

from lightsim.trace import kernels
from lightsim.trace.light import LightWork
from lightsim.trace.view import View
from tests.trace.inner import Room
from tests.trace.sets import lamp, one_drop, plain_petal, simple
from tests.trace.test_falls import N, bent, dots, unit

window = Room(kernels.window)


def lit(contact_deg, angle_deg, distance_mm, width_mm):
    """One drop in a square light: what the kernels know of it."""
    light = lamp(
        angle_deg=angle_deg, clock=2.0, distance_mm=distance_mm, width_mm=width_mm, height_mm=width_mm
    )
    view = View(simple(plain_petal(), one_drop(contact_deg), (light,), field_mm=8.0), width_px=24, samples=1)
    emitter = LightWork(view, view.stage.lights[0]).emitters[0]
    return view.packed.drops, emitter.state[4], emitter.face.frame, emitter.face.size


def seen_through(drops, frame, size, x, rng, rays=20_000):
    """Directions from x, toward points all over the drop, in which it sees the light through it: both ends
    of the chord above the petal's plane, the face met on its front."""
    c, r, up, foot = drops.centre[0], drops.radius[0], drops.normal[0], drops.foot[0]
    on = c + r * unit(rng.normal(size=(rays, 3)))
    d = unit(on - x)
    b = dots(x - c, d)
    near = -b - np.sqrt(np.maximum(r * r - (dots(x - c, x - c) - b * b), 0.0))
    p = x + near[:, None] * d
    d1 = bent(d, (p - c) / r, 1.0 / N)
    q = p - 2.0 * dots((p - c) / r, d1)[:, None] * r * d1
    d2 = bent(d1, -(q - c) / r, N)
    good = (dots(p - foot, up) > 0.0) & (dots(q - foot, up) > 0.0) & np.isfinite(d2[:, 0])
    middle, right, high, out = frame[:3], frame[3:6], frame[6:9], frame[9:12]
    slope = -dots(d2, out)
    with np.errstate(invalid="ignore", divide="ignore"):
        t = dots(q - middle, out) / slope
    m = q + t[:, None] * d2 - middle
    good &= (slope > 0.0) & (t > 0.0)
    good &= (np.abs(dots(m, right)) <= size[0]) & (np.abs(dots(m, high)) <= size[1])
    return d[good]


@pytest.mark.parametrize("contact_deg", [110.0, 150.0])
@pytest.mark.parametrize(
    ("angle_deg", "distance_mm", "width_mm"),
    [
        (60.0, 1500.0, 1200.0),
        (45.0, 1500.0, 1200.0),
        (60.0, 250.0, 50.0),
        (75.0, 120.0, 100.0),
        (75.0, 400.0, 12.0),
    ],
)
def test_light_through_a_drop_comes_from_the_window(contact_deg, angle_deg, distance_mm, width_mm):
    drops, outlet, frame, size = lit(contact_deg, angle_deg, distance_mm, width_mm)
    c, r, up, foot = drops.centre[0], drops.radius[0], drops.normal[0], drops.foot[0]
    toward = frame[:3] - c
    ahead = unit(-(toward - toward @ up * up))
    aside = np.cross(up, ahead)
    rng = np.random.default_rng(3)
    inside, whole = 0, 0
    for off in (1.02, 1.05, 1.1, 1.2, 1.4, 1.8, 2.5):
        for turn in (0.0, 0.3, -0.3, 0.7, -0.7):
            x = foot + off * r * (np.cos(turn) * ahead + np.sin(turn) * aside)
            found = seen_through(drops, frame, size, x, rng)
            at = window.window_of(drops, 0, outlet, tuple(x))
            inside += sum(window.in_window(at, tuple(up), tuple(one)) for one in found[:400])
            whole += len(found[:400])
    assert whole > 150
    assert inside / whole > 0.995
