"""The petal's gloss in the light of a face that the petal's own horizon cuts, against a sum over the face."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lightsim.tracer import kernels
from lightsim.tracer.area_light import LampWork
from lightsim.tracer.view import View
from tests.tracer.grids import points_of
from tests.tracer.inner import Room
from tests.tracer.sets import NO_DROPS, lamp, plain_petal, simple

faces, gloss = Room(kernels.emitters), Room(kernels.gloss)
SIDE = 64  # points along each side of a face


def summed(view, face, p):
    """What pixel p of a flat petal sends to the camera: each of a face's points by itself."""
    paths, petal = view._blocks[0].paths, view.packed.petal
    x, n = paths.mean_place[p], paths.mean_normal[p]
    to = points_of(face, SIDE) - x
    far = np.linalg.norm(to, axis=1)
    d = to / far[:, None]
    power = faces.point_on(face, 0.5, 0.5)[1] / len(d)
    falls = power * np.maximum(d @ n, 0.0) * -(d @ np.array(face.out)) / far**2
    eye = np.array([0.0, 0.0, view.lens.pupil_distance]) - x
    eye = tuple(eye / np.linalg.norm(eye))
    total = 0.0
    for e, way in zip(falls[falls > 0.0], d[falls > 0.0], strict=True):
        matt, glossy = gloss.response(
            petal.gloss, petal.gloss_mean, petal.roughness, tuple(n), eye, tuple(way)
        )
        total += e * (paths.mean_reflectance[p].mean() * matt / np.pi + glossy)
    return total


@pytest.mark.parametrize("shape", ["rectangle", "round"])
@pytest.mark.parametrize("angle_deg", [0.0, 45.0, 75.0, 84.0, 88.0, 90.0, 92.0])
def test_a_glossy_petal_in_raking_light_is_as_bright_as_the_sum_over_the_face(angle_deg, shape):
    light = lamp(
        angle_deg=angle_deg, clock=2.0, distance_mm=150.0, shape=shape, width_mm=40.0, height_mm=40.0
    )
    scene = simple(replace(plain_petal(0.5), gloss=0.3), NO_DROPS, (light,), field_mm=8.0)
    view = View(replace(scene, ambient=replace(scene.ambient, illuminance_lx=0.0)), width_px=16, samples=16)
    sent = view.trace().by_light["lamp"].petal.mean(axis=2)
    row, column = view.lens.height // 2, 8
    face = faces.face_of(LampWork(view, view.stage.lights[0]).face)
    assert sent[row, column] == pytest.approx(summed(view, face, row * 16 + column), rel=0.01)
