"""What an unoccluded face sends to a surface, from a place near by, against a sum over cells of the face."""

from __future__ import annotations

import numpy as np
import pytest

from lightsim.tracer import kernels
from lightsim.tracer.area_light import lamp_of
from lightsim.tracer.kernels.direct_light import LIMITS
from lightsim.tracer.view import View
from tests.tracer.inner import Room
from tests.tracer.naive import dots, unit
from tests.tracer.sets import lamp, one_drop, plain_petal, simple

cast, faces = Room(kernels.drop_shadow), Room(kernels.emitters)


def summed(face, x, n, side=500):
    """Irradiance on the side of n and on the other, cell by cell."""
    at = (np.arange(side) + 0.5) / side * 2.0 - 1.0
    a, b = (v.ravel() for v in np.meshgrid(at, at))
    if face.disc:
        a, b = (v[a * a + b * b <= 1.0] for v in (a, b))
    right, up = np.array(face.right) * face.half_width, np.array(face.up) * face.half_height
    p = np.array(face.centre) + a[:, None] * right + b[:, None] * up - x
    light = np.maximum(-(p @ np.array(face.out)), 0.0) * (p @ n) / dots(p, p) ** 2
    light *= face.radiance[0, 0] * face.area / len(a)
    return light[light > 0.0].sum(), -light[light < 0.0].sum()


@pytest.mark.parametrize(
    ("distance_mm", "width_mm", "height_mm", "shape"),
    [
        (250.0, 60.0, 40.0, "rectangle"),
        (100.0, 20.0, 120.0, "rectangle"),
        (100.0, 80.0, 80.0, "round"),
        (150.0, 120.0, 30.0, "round"),
    ],
)
def test_unoccluded_light_is_that_of_the_face_cell_by_cell(distance_mm, width_mm, height_mm, shape):
    light = lamp(
        angle_deg=70.0,
        clock=2.0,
        distance_mm=distance_mm,
        width_mm=width_mm,
        height_mm=height_mm,
        shape=shape,
    )
    view = View(simple(plain_petal(), one_drop(90.0), (light,), field_mm=8.0), width_px=24, samples=1)
    face = faces.face_of(lamp_of(view.stage.lights[0]))
    rng = np.random.default_rng(2)
    cut = 0
    for turn in range(200):
        about = rng.uniform(-3.0, 3.0, 3)
        to = np.array(face.centre) - about
        x = about + unit(rng.normal(size=3)) * LIMITS.about * np.linalg.norm(to)
        n = unit(rng.normal(size=3))
        if turn % 2:  # the horizon lies across the face or near it
            n = unit(n - n @ unit(to) * unit(to) + 0.2 * rng.normal() * unit(to))
        wanted = np.array(summed(face, x, n))
        found = np.array(
            cast.unoccluded_irradiance(cast.unoccluded_about(face, tuple(about)), face, tuple(x), tuple(n))
        )
        cut += wanted.min() > 0.0
        assert np.abs(found - wanted).max() < 0.004 * wanted.sum()
    assert cut > 30
