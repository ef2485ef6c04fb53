"""Values of a sweep and the light that they move."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.errors import LightsimError
from lightsim.scene.build import output
from lightsim.scene.faces import position
from lightsim.scene.records import Card, Diffuser, Lens, Light, Scene
from lightsim.scene.settings.change_light import (
    light_named,
    moved_to_distance,
    placed_by_angle,
    resized,
    turned_to_angle,
)
from lightsim.scene.settings.quantities import QUANTITIES, change_scene
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
        ("0:900:100", ANGLE, "--angles: found 800, allowed -360 to 720 degrees"),
        ("-500", ANGLE, "--angles: found -500, allowed -360 to 720 degrees"),
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


def test_each_quantity_of_the_table_changes_its_own_and_nothing_else():
    light = Light(guide_number_m=10.0, diffuser=Diffuser(width_mm=80.0))
    scene = Scene(lens=Lens(native_working_distance_mm=150.0), lights=(light,), cards=(Card(),))
    wanted = {
        "angle": 40.0, "clock": 3.0, "distance": 333.0, "size": 44.0, "power": 1 / 8, "diffuser": 0.0,
        "f_number": 8.0, "shutter": 1 / 64, "iso": 400.0, "extension": 36.0, "close_up": 4.0,
        "teleconverter": 1.4, "reversed": 1.0, "magnification": 0.5, "card": 0.0, "room": 77.0,
        "drops": 7.0, "drop_size": 2.0, "contact_angle": 80.0,
    }  # fmt: skip
    assert set(wanted) == set(QUANTITIES)
    for name, value in wanted.items():
        changed = change_scene(scene, {name: value})
        parts = [
            each.name for each in fields(scene) if getattr(scene, each.name) != getattr(changed, each.name)
        ]
        assert len(parts) == 1, name
    changed = change_scene(scene, wanted)
    assert changed.lights[0].diffuser is None
    assert (changed.lights[0].angle_deg, changed.lights[0].width_mm) == (40.0, 44.0)
    assert changed.cards == ()
    assert changed.ambient.illuminance_lx == 77.0
    assert (changed.drops.count, changed.drops.diameter_mm, changed.drops.contact_angle_deg) == (7, 2.0, 80.0)


def test_a_light_at_a_negative_angle_stands_at_the_opposite_clock_position():
    scene = Scene(lights=(Light(guide_number_m=10.0, clock=10.0),))
    for changes, place in (({"angle": -15.0}, (15.0, 4.0)), ({"clock": 12.0, "angle": 200.0}, (160.0, 6.0))):
        moved = change_scene(scene, changes).lights[0]
        assert (moved.angle_deg, moved.clock) == place


@pytest.mark.parametrize(
    ("name", "text", "values"),
    [
        ("diffuser", "on,off", (1.0, 0.0)),
        ("drops", "10, 40", (10.0, 40.0)),
        ("close_up", "+4,8D", (4.0, 8.0)),
        ("f_number", "F8, f/11", (8.0, 11.0)),
        ("distance", "60mm,12 cm", (60.0, 120.0)),
        ("clock", "9:30,12", (9.5, 12.0)),
        ("shutter", "1/60s", (1 / 64,)),
    ],
)
def test_lists_are_read_as_a_hand_types_them(name, text, values):
    assert parse_values(text, QUANTITIES[name]) == pytest.approx(values)


@pytest.mark.parametrize(
    ("name", "text", "sentence"),
    [
        ("diffuser", "maybe", "--diffuser: found 'maybe', allowed on, off, or both as on,off"),
        ("drops", "2.5", "--drops: found 2.5, allowed whole numbers 0 to 100000"),
        ("shutter", "200", "allowed numbers such as 1/250,1/60"),
    ],
)
def test_a_list_that_cannot_be_gets_one_sentence(name, text, sentence):
    with pytest.raises(LightsimError) as error:
        parse_values(text, QUANTITIES[name])
    assert sentence in str(error.value)


def test_captions_name_what_a_number_alone_would_not():
    some = {"diffuser": 0.0, "card": 1.0, "close_up": 4.0, "drop_size": 0.5, "contact_angle": 90.0}
    words = {name: QUANTITIES[name].caption_of(value) for name, value in some.items()}
    assert list(words.values()) == [
        "diffuser off", "cards on", "close-up lens +4", "drops of 0.5 mm", "contact angle 90°"
    ]  # fmt: skip
    assert QUANTITIES["diffuser"].file_stem(1.0) == "diffuser-on"


def test_another_setting_of_the_focus_ring_forgets_what_was_known_of_the_old_one():
    known = Lens(native_working_distance_mm=140.0, native_focus_distance_mm=300.0)
    scene = Scene(lens=known)
    same = change_scene(scene, {"magnification": 1.0}).lens
    assert same == known
    other = change_scene(scene, {"magnification": 0.5}).lens
    assert (other.native_magnification, other.native_working_distance_mm) == (0.5, None)
    assert other.native_focus_distance_mm is None
