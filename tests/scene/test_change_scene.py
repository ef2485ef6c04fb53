"""Values of a sweep and the light that they move."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.errors import LightsimError
from lightsim.scene.build import output
from lightsim.scene.faces import position
from lightsim.scene.records import Light, Scene
from lightsim.scene.settings.change_light import (
    light_named,
    moved_to_distance,
    placed_by_angle,
    resized,
    turned_to_angle,
)
from lightsim.scene.settings.quantities import QUANTITIES
from lightsim.scene.settings.value_list import parse_values

ANGLE, CLOCK, DISTANCE, SIZE = (QUANTITIES[name] for name in ("angle", "clock", "distance", "size"))


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("0:180:15", tuple(range(0, 181, 15))),
        ("10,45,80", (10, 45, 80)),
        ("80, 45 ,10", (10, 45, 80)),
        ("180:0:-60", (0, 60, 120, 180)),
        ("0:1:0.1", (0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1)),
        ("0:40:15", (0, 15, 30)),
        ("0:30:15,30,20", (0, 15, 20, 30)),
        ("45", (45,)),
    ],
)
def test_lists_and_ranges_of_angles(text, values):
    assert parse_values(text, ANGLE) == pytest.approx(values)


def test_clock_positions_keep_their_order_and_nought_is_twelve():
    assert parse_values("10:12:1,0,1,2", CLOCK) == (10, 11, 12, 1, 2)


@pytest.mark.parametrize(
    ("text", "quantity", "sentence"),
    [
        ("0:190:10", ANGLE, "--angles: found 190, allowed 0 to 180 degrees"),
        ("-5", ANGLE, "--angles: found -5, allowed 0 to 180 degrees"),
        ("nan", ANGLE, "--angles: found nan, allowed 0 to 180 degrees"),
        ("0:90", ANGLE, "--angles: found '0:90', allowed a range start:stop:step"),
        (
            "0:90:0",
            ANGLE,
            "--angles: found '0:90:0', allowed a range whose step leads from start to stop",
        ),
        (
            "0:90:-5",
            ANGLE,
            "--angles: found '0:90:-5', allowed a range whose step leads from start to stop",
        ),
        ("0:180:0.01", ANGLE, "--angles: found 18001 values, allowed up to 720"),
        (
            "side",
            ANGLE,
            "--angles: found 'side', allowed numbers such as 10,45,80 or a range start:stop:step "
            "such as 0:180:15",
        ),
        ("13", CLOCK, "--clock: found 13, allowed 0 to 12 o'clock"),
        ("0", DISTANCE, "--distance: found 0, allowed above 0 to 1000000 mm"),
        ("0", SIZE, "--size: found 0, allowed 0.1 to 100000 mm"),
    ],
)
def test_what_cannot_be_a_list_gets_one_sentence(text, quantity, sentence):
    with pytest.raises(LightsimError) as error:
        parse_values(text, quantity)
    assert str(error.value) == sentence


def test_an_unknown_light_is_answered_with_those_there_are():
    two_lights = Scene(lights=(Light(guide_number_m=10.0), Light(name="fill", guide_number_m=10.0)))
    with pytest.raises(LightsimError) as error:
        light_named(two_lights, "fil")
    assert str(error.value) == "--light: found 'fil', allowed flash, fill; did you mean 'fill'?"


def test_a_scene_without_lights_has_none_to_move():
    with pytest.raises(LightsimError, match="no light to move"):
        light_named(Scene(lights=()), None)


@given(st.tuples(*[st.floats(-300, 300)] * 3).filter(lambda p: np.hypot(*p[:2]) > 1 or abs(p[2]) > 1))
def test_a_light_placed_by_position_and_by_angle_stands_in_the_same_place(place):
    light = Light(position_mm=place)
    moved = placed_by_angle(light)
    assert moved.position_mm is None
    np.testing.assert_allclose(position(moved), place, atol=1e-6)  # a nanometre


def test_moving_a_light_by_angle_keeps_clock_and_distance_of_its_position():
    moved = turned_to_angle(Light(position_mm=(0.0, 200.0, 0.0)), 30.0)
    assert (moved.angle_deg, moved.clock, moved.distance_mm) == pytest.approx((30.0, 12.0, 200.0))


def test_a_lamp_moved_away_keeps_its_candelas():
    # Inverse-square law: 400 lx at 0.5 m are 100 cd, which give 25 lx at 2 m.
    lamp = Light(kind="continuous", illuminance_lx=400.0, distance_mm=500.0)
    far = moved_to_distance(lamp, 2000.0)
    assert output(far) == pytest.approx(100.0)
    assert output(far) / 2.0**2 == pytest.approx(25.0)


def test_a_larger_face_keeps_its_shape_and_output():
    light = Light(width_mm=60.0, height_mm=40.0, intensity=5.0)
    larger = resized(light, 90.0)
    assert (larger.width_mm, larger.height_mm) == pytest.approx((90.0, 60.0))
    assert output(larger) == output(light)


@pytest.mark.parametrize(
    ("quantity", "value", "stem"),
    [
        (ANGLE, 75.0, "angle-075"),
        (ANGLE, 7.5, "angle-007.5"),
        (CLOCK, 9.0, "clock-09"),
        (DISTANCE, 250.0, "distance-250mm"),
        (SIZE, 1200.0, "size-1200mm"),
    ],
)
def test_files_sort_by_name_as_by_value(quantity, value, stem):
    assert quantity.file_stem(value) == stem
