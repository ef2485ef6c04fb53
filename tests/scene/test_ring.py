"""A ring light: held at the lens's front, with a hole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lightsim.errors import LightsimError, SceneError
from lightsim.optics.trade import FaceSize
from lightsim.scene.build import build
from lightsim.scene.faces import points_on
from lightsim.scene.obstruction import hidden_share, not_buildable
from lightsim.scene.records import Camera, Drops, Lens, Light, Petal, Scene
from lightsim.scene.settings.change_light import turned_to_angle

RING = Light(guide_number_m=10.0, shape="ring", width_mm=110.0, inner_width_mm=80.0)


def a_set(light=RING, **keys):
    petal = Petal(form="flat", mesh_spacing_mm=1.0, veins=0, relief_mm=0.0)
    return Scene(petal=petal, drops=Drops(count=0), camera=Camera(), lights=(light,), **keys)


@pytest.mark.parametrize("tubes", [(), (36.0,)])
def test_it_stands_round_the_front_of_the_lens(tubes):
    stage = build(a_set(lens=Lens(extension_tubes_mm=tubes)))
    face, front = stage.lights[0].face, stage.camera.working_distance_mm
    assert front - 1.0 < face.centre[2] < front
    assert face.out == pytest.approx([0.0, 0.0, -1.0])
    assert face.area_mm2 == pytest.approx(np.pi * (55.0**2 - 40.0**2))
    off = np.hypot(*points_on(face, 21)[:, :2].T)
    assert off.min() >= 40.0
    assert off.max() == pytest.approx(55.0)
    assert not_buildable(stage) == []
    assert hidden_share(stage, stage.lights[0]) == 0.0


def test_a_ring_on_its_axis_gives_a_disc_s_light_less_its_hole_s():
    """Per unit of luminance a disc gives pi R^2 / (R^2 + d^2) on its axis."""
    square = 100.0**2
    luminance = 1.0 / FaceSize(110.0, 110.0, True, 80.0).area_m2
    disc, hole = (np.pi * r * r / (r * r + square) for r in (55.0, 40.0))
    expected = luminance * (disc - hole)
    assert FaceSize(110.0, 110.0, True, 80.0).lx_per_cd(100.0) == pytest.approx(expected)


def test_what_a_ring_may_not_be():
    with pytest.raises(SceneError, match="inner_width_mm: found 120"):
        build(a_set(replace(RING, inner_width_mm=120.0)))
    with pytest.raises(SceneError, match='allowed only with shape = "ring"'):
        build(a_set(Light(guide_number_m=10.0, inner_width_mm=20.0)))
    with pytest.raises(LightsimError, match="a ring that is held at the lens's front"):
        turned_to_angle(RING, 20.0)
