"""From a scene to a stage: focus, lights' output, the camera's geometry."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from lightsim.errors import SceneError
from lightsim.scene.build import build, output
from lightsim.scene.camera import camera_geometry, up_in_picture
from lightsim.scene.petal.pose import drop_front
from lightsim.scene.records import (
    Ambient,
    Backdrop,
    Camera,
    Card,
    Drops,
    Focus,
    Light,
    Petal,
    PlacedDrop,
    Scene,
)
from lightsim.scene.stage import DropSet

PETAL = Petal(form="cupped", mesh_spacing_mm=0.5, tilt_deg=35.0, tilt_clock=2.0, turn_deg=25.0)
FLAT = Petal(form="flat", mesh_spacing_mm=1.0, veins=0, relief_mm=0.0)


def scene(**keys):
    return Scene(**({"petal": PETAL, "drops": Drops(count=30)} | keys))


def focused(**keys):
    return Camera(working_distance_mm=120.0, focus=Focus(**keys))


def on_axis(petal):
    """Heights at which the lens axis meets the mesh."""
    ray = trimesh.Trimesh(petal.vertices, petal.faces, process=False).ray
    places, *_ = ray.intersects_location([[0, 0, 1000]], [[0, 0, -1]])
    return places[:, 2]


@pytest.mark.parametrize(("x", "y"), [(0.0, 0.0), (4.0, -6.0), (-5.5, 7.25)])
def test_the_petals_point_in_focus_is_the_origin(x, y):
    stage = build(scene(camera=focused(on="petal", x_mm=x, y_mm=y)))
    assert on_axis(stage.petal).max() == pytest.approx(0.0, abs=1e-9)
    centre = build(scene(camera=focused(on="petal"))).petal.vertices[0]
    moved = stage.petal.vertices[0]
    np.testing.assert_allclose((centre - moved)[:2], [x, y], atol=1e-9)


def test_an_offset_brings_the_focus_nearer_to_the_lens():
    stage = build(scene(camera=focused(on="offset", x_mm=1.0, y_mm=2.0, offset_mm=1.5)))
    assert on_axis(stage.petal).max() == pytest.approx(-1.5, abs=1e-9)
    back = build(scene(camera=focused(on="petal", x_mm=1.0, y_mm=2.0, offset_mm=1.5)))
    assert on_axis(back.petal).max() == pytest.approx(0.0, abs=1e-9)


def test_a_drops_front_in_focus_is_the_origin():
    stage = build(scene(camera=focused(on="drop", drop=4)))
    np.testing.assert_allclose(stage.drops.centre[4], [0, 0, -stage.drops.radius[4]], atol=1e-9)
    largest = build(scene(camera=focused(on="drop")))
    drop = int(largest.drops.radius.argmax())
    np.testing.assert_allclose(largest.drops.centre[drop], [0, 0, -largest.drops.radius[drop]], atol=1e-9)


def test_where_the_petal_cuts_the_foremost_point_off_the_focus_is_on_the_cut():
    lean = np.radians(85.0)
    normal = np.array([[np.sin(lean), 0.0, np.cos(lean)]])
    foot = np.zeros((1, 3))
    angle = np.radians(60.0)
    drops = DropSet(foot - np.cos(angle) * normal, np.ones(1), foot, normal, np.array([60.0]), 1)
    front = drop_front(0, drops)
    assert front @ normal[0] == pytest.approx(0.0, abs=1e-12)
    assert np.linalg.norm(front - drops.centre[0]) == pytest.approx(1.0)
    # no point of the cap is nearer to the lens
    turn, up = np.random.default_rng(1).uniform(0, 1, (2, 40000))
    z = 2 * up - 1
    ball = np.column_stack(
        [np.sqrt(1 - z**2) * np.cos(2 * np.pi * turn), np.sqrt(1 - z**2) * np.sin(2 * np.pi * turn), z]
    )
    cap = drops.centre[0] + ball
    cap = cap[cap @ normal[0] >= 0]
    assert cap[:, 2].max() == pytest.approx(front[2], abs=2e-3)


def test_the_pose_moves_petal_and_drops_together():
    stage = build(scene())
    rise = -stage.drops.radius * np.cos(np.radians(stage.drops.contact_angle_deg))
    np.testing.assert_allclose(
        stage.drops.centre, stage.drops.foot + rise[:, None] * stage.drops.normal, atol=1e-9
    )
    mesh = trimesh.Trimesh(stage.petal.vertices, stage.petal.faces, process=False)
    corners = mesh.triangles
    for foot in stage.drops.foot[:10]:
        near = np.argsort(np.linalg.norm(corners.mean(axis=1) - foot, axis=1))[:40]
        closest = trimesh.triangles.closest_point(corners[near], np.tile(foot, (len(near), 1)))
        assert np.linalg.norm(closest - foot, axis=1).min() < 1e-8


def test_the_petal_faces_the_lens():
    for tilt in (0.0, 30.0, 60.0):
        stage = build(scene(petal=replace(FLAT, tilt_deg=tilt)))
        np.testing.assert_allclose(stage.petal.normals[:, 2], np.cos(np.radians(tilt)), atol=1e-12)


# ISO 1230 and ISO 2720: light from a guide number, C GN^2 / S with C = 250; GN 36 at full power gives
# 3240 cd s and 81 000 lx s at 0.2 m.
def test_output_from_a_guide_number():
    flash = Light(guide_number_m=36.0)
    assert output(flash) == pytest.approx(3240.0)
    assert output(flash) / 0.2**2 == pytest.approx(81_000.0)
    assert output(replace(flash, power=1 / 16)) == pytest.approx(3240.0 / 16)


def test_output_from_an_intensity_or_an_illuminance():
    assert output(Light(intensity=12.0)) == 12.0
    assert output(Light(intensity=12.0, power=0.25)) == 3.0
    # inverse-square law: E = I / d^2
    lamp = Light(kind="continuous", illuminance_lx=800.0, distance_mm=500.0)
    assert output(lamp) / 0.5**2 == pytest.approx(800.0)
    placed = replace(lamp, position_mm=(0.0, 300.0, 400.0))
    assert output(placed) / 0.5**2 == pytest.approx(800.0)


# Effective f-number N (1 + m): f/8 at life size is f/16 (ISO 12232 carries it as F^2 / i^2); object-side
# aperture m / (2 N_eff): 0.03125 for m = 1, f/8, and 0.0104167 for m = 0.5, f/16 (Goodman, Introduction to
# Fourier Optics).
@pytest.mark.parametrize(
    ("field", "f_number", "m", "effective", "aperture"),
    [(36.0, 8.0, 1.0, 16.0, 0.03125), (72.0, 16.0, 0.5, 24.0, 0.0104167)],
)
def test_the_cameras_geometry(field, f_number, m, effective, aperture):
    camera = camera_geometry(Camera(field_width_mm=field, f_number=f_number, working_distance_mm=150.0))
    assert camera.magnification == pytest.approx(m)
    assert camera.effective_f_number == pytest.approx(effective)
    assert camera.pupil_radius_mm / camera.pupil_distance_mm == pytest.approx(aperture, rel=1e-5)
    assert camera.aspect == 1.5


@pytest.mark.parametrize(
    ("down", "up"), [(0, (0, 1, 0)), (90, (0, 0, 1)), (30, (0, 0.8660254, 0.5)), (-90, (0, 0, -1))]
)
def test_up_in_the_picture(down, up):
    np.testing.assert_allclose(up_in_picture(down), up, atol=1e-7)


def test_the_room_cards_and_backdrop_reach_the_stage():
    made = build(
        scene(
            cards=(Card(name="c", reflectance=0.7),),
            ambient=Ambient(illuminance_lx=120.0, gradient=0.4, colour_temperature_k=3000.0),
            backdrop=Backdrop(reflectance=(0.1, 0.2, 0.3)),
        )
    )
    assert (made.ambient_illuminance_lx, made.ambient_gradient) == (120.0, 0.4)
    assert made.ambient_colour_temperature_k == 3000.0
    assert (made.cards[0].name, made.cards[0].reflectance) == ("c", 0.7)
    np.testing.assert_allclose(made.backdrop_reflectance, [0.1, 0.2, 0.3])
    assert build(scene()).backdrop is None
    assert [light.name for light in build(scene()).lights] == ["flash"]


def test_moving_a_light_keeps_the_petal_and_the_drops():
    one = build(scene())
    moved = build(scene(lights=(Light(guide_number_m=20.0, angle_deg=120.0),)))
    assert moved.petal is one.petal
    assert moved.drops is one.drops
    other = build(scene(petal=replace(PETAL, tilt_deg=10.0)))
    assert other.petal is not one.petal
    np.testing.assert_array_equal(other.drops.radius, one.drops.radius)


def test_drops_stay_where_they_are_on_a_petal_that_is_tilted():
    camera = focused(on="petal")
    level = build(scene(camera=camera, petal=replace(FLAT, tilt_deg=0.0))).drops
    tilted = build(scene(camera=camera, petal=replace(FLAT, tilt_deg=60.0, tilt_clock=3.0))).drops
    np.testing.assert_allclose(tilted.foot[:, 0], level.foot[:, 0] * 0.5, atol=1e-9)
    np.testing.assert_allclose(tilted.foot[:, 1], level.foot[:, 1], atol=1e-9)


def problems(**keys):
    with pytest.raises(SceneError) as caught:
        build(scene(**keys))
    return caught.value.problems


@pytest.mark.parametrize(
    ("keys", "sentence"),
    [
        (
            {"camera": focused(on="petal", x_mm=90.0, y_mm=1.0)},
            "camera.focus: found x_mm 90, y_mm 1, which is off the petal as the camera sees it, allowed any "
            "place on it (it reaches from x -13 to 13.1 mm and from y -16.9 to 20.5 mm)",
        ),
        (
            {"camera": focused(on="drop", drop=30)},
            "camera.focus.drop: found 30, but 30 drops are on the petal, allowed a whole number from 0 to 29",
        ),
        (
            {"camera": focused(on="drop"), "drops": Drops(count=0)},
            'camera.focus.on: found "drop", but no drop is on the petal, allowed "petal" or "offset"',
        ),
        (
            {"drops": Drops(count=0, placed=(PlacedDrop(99.0, 0.0, 1.0),))},
            "drops.placed[0]: found x_mm 99, y_mm 0, which is off the petal, allowed any place on it "
            "(it reaches from x -15 to 15 mm and from y -20 to 20 mm)",
        ),
        ({"petal": Petal(curl=7.0)}, "petal.curl: found 7, allowed a number from -1 to 1"),
    ],
)
def test_scenes_that_cannot_be_built(keys, sentence):
    assert problems(**keys) == [sentence]


def test_an_equal_scene_has_the_same_stage_and_another_light_only_another_light():
    light = Light(guide_number_m=10.0, angle_deg=40.0)
    first = build(scene(lights=(light,)))
    assert build(scene(lights=(replace(light),))) is first
    moved = build(scene(lights=(light.moved(angle_deg=41.0),)))
    assert moved.petal is first.petal
    assert not np.allclose(moved.lights[0].face.centre, first.lights[0].face.centre)


def test_what_stands_in_the_way_is_told_each_time():
    inside = scene(backdrop=Backdrop(distance_mm=0.5))
    for _ in range(2):
        with pytest.raises(SceneError, match=r"backdrop\.distance_mm: found 0\.5"):
            build(inside)


def test_stages_of_one_petal_only_are_kept_and_not_too_many():
    from lightsim.scene.build import KEPT_STAGES

    light = Light(guide_number_m=10.0)
    scenes = [
        scene(petal=FLAT, lights=(light.moved(angle_deg=float(number)),)) for number in range(KEPT_STAGES + 1)
    ]
    first, *others = [build(one) for one in scenes]
    assert build(scenes[-1]) is others[-1]
    assert build(scenes[0]) is not first
    build(scene(petal=replace(FLAT, pattern=7)))
    assert build(scenes[-1]) is not others[-1]
