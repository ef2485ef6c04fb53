"""Solid things: which lines they cut, which of them stand in the same place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from lightsim.planning.petal_light import petal_light
from lightsim.scene.build import build
from lightsim.scene.faces import light_face
from lightsim.scene.obstruction import (
    free_from_deg,
    hidden_share,
    not_buildable,
    share_cut,
    unbuildable_words,
)
from lightsim.scene.records import Camera, Card, Diffuser, Drops, Lens, Light, Petal, Scene
from lightsim.scene.solid_bodies import camera_bodies, light_bodies
from lightsim.scene.stage import Body

AXES = np.eye(3)


def rod(radius, start, end):
    return Body("camera", "lens", np.array([0.0, 0.0, 0.5 * (start + end)]), *AXES, radius, radius,
                0.5 * (end - start), True)  # fmt: skip


def flash(**keys):
    return Light(guide_number_m=20.0, **keys)


def a_set(*lights, **keys):
    petal = Petal(form="flat", mesh_spacing_mm=1.0, veins=0, relief_mm=0.0)
    camera = Camera(field_width_mm=24.0, working_distance_mm=100.0)
    return Scene(petal=petal, drops=Drops(count=0), camera=camera, lights=lights, **keys)


def test_a_barrel_hides_what_is_behind_it_and_nothing_beside_it():
    subject, barrel = np.zeros((1, 3)), [rod(30.0, 100.0, 200.0)]
    lights = np.array([[0.0, 0.0, 300.0], [100.0, 0.0, 50.0], [0.0, 20.0, 300.0], [0.0, 400.0, 300.0]])
    assert [share_cut(barrel, subject, light[None]) for light in lights] == [1.0, 0.0, 1.0, 0.0]
    assert share_cut(barrel, subject, lights) == 0.5


@given(st.floats(1.0, 89.0), st.floats(20.0, 200.0))
def test_a_barrel_s_edge_by_similar_triangles(angle_deg, front):
    """A line from the origin meets the barrel's mouth front * tan(angle) off the axis."""
    light = 10_000.0 * np.array([[np.sin(np.radians(angle_deg)), 0.0, np.cos(np.radians(angle_deg))]])
    edge = front * np.tan(np.radians(angle_deg))
    assume(light[0, 2] > front)
    start = np.zeros((1, 3))
    assert share_cut([rod(edge * 1.001, front, front + 50.0)], start, light) == 1.0
    assert share_cut([rod(edge * 0.999, front, front + 50.0)], start, light) == 0.0


def test_a_flash_close_to_the_axis_and_behind_the_lens_s_front_is_hidden():
    # 200 mm away at 10 degrees it stands 35 mm off the axis; a barrel 33 mm in radius that begins at 100 mm
    # covers at 200 mm all within 66 mm
    stage = build(a_set(flash(angle_deg=10.0, distance_mm=200.0, width_mm=20.0, height_mm=20.0)))
    assert hidden_share(stage, stage.lights[0]) == 1.0
    beside = build(a_set(flash(angle_deg=45.0, distance_mm=200.0, width_mm=20.0, height_mm=20.0)))
    assert hidden_share(beside, beside.lights[0]) == 0.0


@pytest.mark.parametrize("bodies", [True, False])
def test_a_card_hides_a_flash_behind_it(bodies):
    # seen from anywhere in the field, 100 mm at 120 mm cover all of 60 mm at 200 mm
    light = flash(angle_deg=75.0, clock=4.0, distance_mm=200.0, width_mm=60.0, height_mm=40.0)
    card = Card(angle_deg=75.0, clock=4.0, distance_mm=120.0, width_mm=100.0, height_mm=100.0)
    stage = build(a_set(light, cards=(card,), bodies=bodies))
    assert hidden_share(stage, stage.lights[0]) == 1.0
    found = petal_light(stage)
    assert found.on_petal["flash"] == 0.0
    beside = build(a_set(light, cards=(replace(card, clock=10.0),), bodies=bodies))
    assert hidden_share(beside, beside.lights[0]) == 0.0


def test_what_stands_in_the_lens_cannot_be_built():
    stage = build(a_set(flash(angle_deg=10.0, distance_mm=120.0, width_mm=60.0, height_mm=40.0)))
    assert not_buildable(stage) == ["the lens and the head of flash stand in the same place"]
    thin = a_set(flash(angle_deg=10.0, distance_mm=120.0, width_mm=60.0, height_mm=40.0), bodies=False)
    assert not_buildable(build(thin)) == []


def test_a_card_through_a_diffuser_cannot_be_built():
    light = flash(angle_deg=75.0, clock=3.0, distance_mm=150.0, diffuser=Diffuser(width_mm=60, height_mm=40))
    card = Card(angle_deg=75.0, clock=3.0, distance_mm=160.0, aim_mm=(0.0, 1000.0, 0.0))
    assert not_buildable(build(a_set(light, cards=(card,)))) == [
        "the diffuser of flash and the card stand in the same place"
    ]
    away = replace(card, clock=9.0)
    assert not_buildable(build(a_set(light, cards=(away,)))) == []


def test_from_which_angle_on_the_way_is_free():
    scene = a_set(flash(angle_deg=10.0, distance_mm=130.0, width_mm=20.0, height_mm=20.0, clock=3.0))
    free = free_from_deg(build(scene), scene.lights[0])
    # the head, 13 mm to its side from its middle, clears a barrel 33 mm in radius about where its face stands
    # 33 + 13 cos(angle) off the axis, 46 mm of 130: 20 degrees; its back, farther out, later still
    assert 19.0 <= free <= 24.0

    def at(angle):
        return not_buildable(build(replace(scene, lights=(scene.lights[0].moved(angle_deg=angle),))))

    assert at(free) == [] != at(free - 1.0)
    near = replace(scene, lights=(scene.lights[0].moved(angle_deg=free - 5.0),))
    (words,) = unbuildable_words(near, build(near))
    assert words == (
        "the lens and the head of flash stand in the same place; at its distance and clock position flash "
        f"stands free from {free:g}° to 90°"
    )


def test_given_measures_take_the_place_of_supposed_ones():
    lens = Lens(barrel_diameter_mm=80.0, barrel_length_mm=90.0, extension_tubes_mm=(36.0,))
    scene = replace(a_set(flash(head_depth_mm=50.0)), camera=Camera(), lens=lens)
    stage = build(scene)
    parts = camera_bodies(scene.camera, lens, stage.camera)
    barrel, tube = (next(part for part in parts if part.what == what) for what in ("lens", "tube"))
    assert (barrel.half_width_mm, barrel.half_depth_mm) == pytest.approx((40.0, 45.0))
    assert barrel.centre[2] - 45.0 == pytest.approx(stage.camera.working_distance_mm)
    assert tube.centre[2] - 18.0 == pytest.approx(barrel.centre[2] + 45.0)
    (head,) = light_bodies(scene.lights[0], light_face(scene.lights[0]))
    assert 2.0 * head.half_depth_mm == pytest.approx(50.0, abs=0.1)
