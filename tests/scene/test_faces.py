"""Where faces stand and how they look."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from lightsim.scene.faces import (
    angle_and_clock,
    backdrop_face,
    card_face,
    direction,
    distance_from,
    light_face,
    points_on,
    position,
)
from lightsim.scene.records import Backdrop, Card, Light

AXES = {
    (0, 12): (0, 0, 1),
    (90, 12): (0, 1, 0),
    (90, 3): (1, 0, 0),
    (90, 6): (0, -1, 0),
    (90, 9): (-1, 0, 0),
    (180, 5): (0, 0, -1),
}


@pytest.mark.parametrize(("place", "axis"), AXES.items())
def test_angles_and_clock_positions_as_seen_from_the_camera(place, axis):
    np.testing.assert_allclose(direction(*place), axis, atol=1e-12)


@given(st.floats(0.01, 179.99), st.floats(0.01, 12.0))
def test_angle_and_clock_come_back(angle, clock):
    found = angle_and_clock(direction(angle, clock))
    assert found == pytest.approx((angle, clock), abs=1e-6)


def test_on_the_axis_the_clock_is_twelve():
    assert angle_and_clock(np.array([0.0, 0.0, 5.0])) == (0.0, 12.0)
    assert angle_and_clock(np.array([0.0, 0.0, -5.0])) == (180.0, 12.0)


@given(st.floats(0.0, 180.0), st.floats(0.0, 12.0), st.floats(10.0, 1000.0))
def test_a_face_looks_at_its_aim_with_its_width_level(angle, clock, distance):
    face = light_face(Light(angle_deg=angle, clock=clock, distance_mm=distance))
    assert np.linalg.norm(face.centre) == pytest.approx(distance)
    np.testing.assert_allclose(face.out, -face.centre / distance, atol=1e-9)
    frame = np.stack([face.right, face.up, face.out])
    np.testing.assert_allclose(frame @ frame.T, np.eye(3), atol=1e-9)
    assert np.linalg.det(frame) == pytest.approx(1.0)
    assert face.right[1] == pytest.approx(0.0, abs=1e-9)


def test_straight_above_the_width_lies_along_the_pictures_width():
    for clock, side in ((12, 1), (6, -1)):
        face = light_face(Light(angle_deg=90.0, clock=clock, distance_mm=100.0))
        np.testing.assert_allclose(face.centre, [0, 100 * side, 0], atol=1e-9)
        np.testing.assert_allclose(np.abs(face.right), [1, 0, 0], atol=1e-9)
        assert np.isfinite(face.up).all()


def test_an_explicit_position_and_aim():
    light = Light(position_mm=(10.0, 20.0, 30.0), aim_mm=(10.0, 20.0, 0.0), width_mm=8.0, height_mm=6.0)
    face = light_face(light)
    np.testing.assert_allclose(face.centre, [10, 20, 30])
    np.testing.assert_allclose(face.out, [0, 0, -1])
    assert (face.half_width_mm, face.half_height_mm, face.area_mm2) == (4.0, 3.0, 48.0)


def test_a_round_face_has_its_width_for_diameter():
    face = light_face(Light(shape="round", width_mm=30.0, height_mm=999.0))
    assert face.round
    assert face.half_height_mm == 15.0
    assert face.area_mm2 == pytest.approx(np.pi * 15**2)


def test_a_card_and_the_backdrop_look_at_the_subject():
    card = card_face(Card(angle_deg=90.0, clock=3.0, distance_mm=100.0))
    np.testing.assert_allclose(card.out, [-1, 0, 0], atol=1e-12)
    wall = backdrop_face(Backdrop(distance_mm=300.0, width_mm=500.0))
    np.testing.assert_allclose(wall.centre, [0, 0, -300])
    np.testing.assert_allclose(wall.out, [0, 0, 1])
    assert wall.half_width_mm == wall.half_height_mm == 250.0


def test_moving_a_light_that_has_a_position_keeps_what_is_not_named():
    light = Light(position_mm=(0.0, 0.0, 200.0)).moved(angle_deg=90.0, clock=3.0)
    np.testing.assert_allclose(position(light), [200, 0, 0], atol=1e-9)
    side = Light(position_mm=(150.0, 0.0, 0.0)).moved(distance_mm=80.0)
    np.testing.assert_allclose(position(side), [80, 0, 0], atol=1e-9)
    assert Light(position_mm=(1.0, 2.0, 3.0)).moved(width_mm=5.0).position_mm == (1.0, 2.0, 3.0)


@pytest.mark.parametrize("is_round", [False, True])
def test_distance_from_a_face_is_that_of_its_nearest_point(is_round):
    shape = "round" if is_round else "rectangle"
    face = light_face(Light(shape=shape, angle_deg=50, clock=2, distance_mm=60, width_mm=40, height_mm=24))
    dense = points_on(face, 161)
    points = np.random.default_rng(4).uniform(-80, 80, (60, 3))
    nearest = np.linalg.norm(points[:, None] - dense, axis=2).min(axis=1)
    np.testing.assert_allclose(distance_from(face, points), nearest, atol=0.15)


@pytest.mark.parametrize("shape", ["round", "rectangle"])
def test_points_on_a_face_fill_it(shape):
    face = light_face(Light(shape=shape, angle_deg=70, clock=4, width_mm=40, height_mm=20))
    points = points_on(face, 41)
    np.testing.assert_allclose(distance_from(face, points), 0, atol=1e-9)
    across = (points - face.centre) @ face.right
    assert across.max() == pytest.approx(20.0)
    assert across.min() == pytest.approx(-20.0)


@given(st.floats(0, 90), st.floats(0, 12), st.floats(-360, 360))
def test_the_pose_turns_then_leans(tilt, clock, turn):
    from lightsim.scene.petal.pose import turned_and_tilted
    from lightsim.scene.records import Petal

    found = turned_and_tilted(Petal(tilt_deg=tilt, tilt_clock=clock, turn_deg=turn))
    spin = Rotation.from_euler("z", turn, degrees=True)
    # leaning the top back is a negative turn about x; the clock position turns that axis along
    axis = Rotation.from_euler("z", -30 * clock, degrees=True).apply([1, 0, 0])
    lean = Rotation.from_rotvec(-np.radians(tilt) * axis)
    np.testing.assert_allclose(found, (lean * spin).as_matrix(), atol=1e-9)


def test_the_side_at_the_tilts_clock_position_goes_back():
    from lightsim.scene.petal.pose import turned_and_tilted
    from lightsim.scene.records import Petal

    lean = turned_and_tilted(Petal(tilt_deg=30.0, tilt_clock=3.0))
    right = lean @ [1.0, 0.0, 0.0]
    np.testing.assert_allclose(right, [np.cos(np.pi / 6), 0, -0.5], atol=1e-12)
    np.testing.assert_allclose(lean @ [0, 0, 1], [0.5, 0, np.cos(np.pi / 6)], atol=1e-12)
