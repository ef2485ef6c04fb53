"""Distances, heights and angles of the plan against spherical trigonometry done here."""

from __future__ import annotations

import numpy as np
import pytest

from lightsim.report.setup.plan_records import camera_place, places
from lightsim.scene.build import build
from lightsim.scene.records import Card, Lens
from tests.report.sets import a_set, flash, hard


def in_the_room(angle_deg, clock, distance_mm, looks_down_deg):
    """Right, toward the camera, up: the lens axis rises as much as the camera looks down."""
    off, turn, down = np.radians([angle_deg, 30.0 * clock, looks_down_deg])
    along, across, above = np.cos(off), np.sin(off) * np.sin(turn), np.sin(off) * np.cos(turn)
    toward = along * np.cos(down) - above * np.sin(down)
    up = along * np.sin(down) + above * np.cos(down)
    return distance_mm * np.array([across, toward, up])


@pytest.mark.parametrize("looks_down", [-40.0, 0.0, 10.0, 35.0, 60.0, 90.0])
@pytest.mark.parametrize(
    ("angle", "clock"), [(75.0, 10.0), (75.0, 2.0), (150.0, 11.0), (105.0, 6.0), (60.0, 3.0), (50.0, 7.25)]
)
def test_a_light_stands_where_trigonometry_puts_it(looks_down, angle, clock):
    scene = a_set(looks_down, lights=(flash("flash", angle, clock, 220.0),), cards=(), backdrop=None)
    (place,) = places(scene, build(scene))
    right, toward, up = in_the_room(angle, clock, 220.0, looks_down)
    assert (place.right_mm, place.toward_mm, place.up_mm) == pytest.approx((right, toward, up), abs=1e-6)
    assert place.distance_mm == pytest.approx(220.0)
    assert place.angle_deg == pytest.approx(angle)
    assert place.clock == pytest.approx(clock)
    # what a protractor on the table, and one on its edge, read
    assert np.cos(np.radians(place.round_deg)) == pytest.approx(toward / np.hypot(right, toward), abs=1e-9)
    assert np.sin(np.radians(place.round_deg)) == pytest.approx(right / np.hypot(right, toward), abs=1e-9)
    assert np.sin(np.radians(place.raised_deg)) == pytest.approx(up / 220.0)
    # it looks at the subject, so as far down as it stands high
    assert place.looks_up_deg == pytest.approx(-place.raised_deg)
    assert place.aims_off_mm == pytest.approx(0.0, abs=1e-6)


def test_a_camera_that_looks_straight_down_has_the_top_of_the_picture_away_from_the_photographer():
    scene = a_set(90.0, lights=(flash("flash", 90.0, 12.0, 200.0),), cards=(), backdrop=None)
    (place,) = places(scene, build(scene))
    assert (place.right_mm, place.toward_mm, place.up_mm) == pytest.approx((0.0, -200.0, 0.0), abs=1e-6)
    assert abs(place.round_deg) == pytest.approx(180.0)


def test_a_place_plumb_over_the_subject_has_no_direction_from_above():
    scene = a_set(0.0, lights=(flash("flash", 90.0, 12.0, 200.0),), cards=(), backdrop=None)
    (place,) = places(scene, build(scene))
    assert place.up_mm == pytest.approx(200.0)
    assert place.raised_deg == pytest.approx(90.0)
    assert place.round_deg == 0.0


@pytest.mark.parametrize("looks_down", [0.0, 35.0, 90.0])
def test_the_backdrop_stands_on_the_lens_axis(looks_down):
    scene = a_set(looks_down, lights=(), cards=())
    (place,) = places(scene, build(scene))
    down = np.radians(looks_down)
    found = (place.right_mm, place.toward_mm, place.up_mm)
    assert found == pytest.approx((0.0, -300.0 * np.cos(down), -300.0 * np.sin(down)), abs=1e-6)
    assert place.kind == "backdrop"
    assert place.looks_up_deg == pytest.approx(looks_down)


def test_a_face_that_aims_beside_the_subject_says_by_how_much():
    card = Card(angle_deg=90.0, clock=3.0, distance_mm=100.0, aim_mm=(0.0, 30.0, 0.0))
    scene = a_set(lights=(), cards=(card,), backdrop=None)
    (place,) = places(scene, build(scene))
    # from (100, 0) past (0, 30): the line's distance from the origin is 100 * 30 / hypot(100, 30)
    assert place.aims_off_mm == pytest.approx(3000.0 / np.hypot(100.0, 30.0))


def test_the_width_of_a_face_is_level_in_the_picture_and_so_slopes_for_a_tilted_camera():
    scene = a_set(40.0, lights=(flash("flash", 90.0, 3.0, 200.0),), cards=(), backdrop=None)
    (place,) = places(scene, build(scene))
    # the face at the right looks left; its width runs along the lens axis, which rises by 40 degrees
    assert abs(place.slope_deg) == pytest.approx(40.0)


def test_the_camera_s_front_and_sensor_lie_along_its_tilted_axis():
    scene = a_set(30.0)
    camera = camera_place(scene, build(scene))
    assert camera.front_mm == 120.0  # the working distance of a scene without a lens
    assert camera.front_toward_mm == pytest.approx(120.0 * np.sqrt(0.75))
    assert camera.front_up_mm == pytest.approx(60.0)
    # thin lens of 1.5 times life size with the subject 120 mm before it: the image is 180 mm behind
    assert camera.sensor_mm == pytest.approx(300.0)
    assert camera.sensor_up_mm == pytest.approx(150.0)


def test_a_lens_at_life_size_has_subject_and_sensor_four_focal_lengths_apart():
    # Hecht, Optics, ch. 5: the least distance between object and image of a thin lens is 4 f, at 1:1
    scene = a_set(lens=Lens(focal_length_mm=100.0, native_focus_distance_mm=400.0))
    assert camera_place(scene, build(scene)).sensor_mm == pytest.approx(400.0)


def test_a_lens_of_which_nothing_is_said_is_as_long_as_lenses_are():
    # three focal lengths from subject to sensor at 1:1 (common practice, no source): 116 mm of lens are left
    scene = a_set(lens=Lens(focal_length_mm=100.0, native_working_distance_mm=140.0))
    place = camera_place(scene, build(scene))
    assert place.sensor_mm == pytest.approx(300.0)
    lens = next(body for body in build(scene).bodies if body.what == "lens")
    assert 2.0 * lens.half_depth_mm == pytest.approx(116.0)
    with_barrel = a_set(lens=Lens(focal_length_mm=100.0, barrel_length_mm=125.0))
    # 200 mm to the front principal plane less the 60 mm that the front stands ahead of it
    assert camera_place(with_barrel, build(with_barrel)).sensor_mm == pytest.approx(140.0 + 125.0 + 44.0)


def test_tubes_move_the_sensor_back_and_the_subject_nearer():
    # f = 100 mm, 50 mm of tubes at life size: m = 1.5, subject at f (1 + 1/m), image at f (1 + m)
    scene = a_set(lens=Lens(native_focus_distance_mm=400.0, extension_tubes_mm=(50.0,)))
    assert camera_place(scene, build(scene)).sensor_mm == pytest.approx(100.0 * (1 + 1 / 1.5) + 250.0)


def test_places_keep_the_scene_s_order_with_the_backdrop_last():
    scene = hard()
    names = [place.name for place in places(scene, build(scene))]
    assert names == ["key", "back", "beside the lens", "left card", "right card", "backdrop"]
