"""Trading one setting for another."""

from __future__ import annotations

from dataclasses import replace
from math import inf, log2

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from lightsim.optics.exposure_values import illuminance_of_ev100
from lightsim.optics.lens_figures import at_stop, pixel_limited_f_number, sharpest_f_number
from lightsim.optics.lens_train import LensTrain
from lightsim.optics.marks import F_NUMBERS, FLASH_POWERS, ISO_SPEEDS, SHUTTER_TIMES
from lightsim.optics.trade import (
    FLASH,
    MOVES,
    ROOM,
    FaceSize,
    Settings,
    change_by_stops,
    change_stops,
    lighting_ratio,
)

F = F_NUMBERS.exact


def held(before, after, name, part):
    """`after` with the one thing changed so that the part is what it was before."""
    return change_by_stops(after, name, part, -change_stops(before, after, part))


faces = st.builds(
    FaceSize, st.sampled_from([0.0, 10.0, 60.0, 300.0]), st.sampled_from([0.0, 40.0, 200.0]), st.booleans()
)
settings = st.builds(
    Settings,
    f_number=st.floats(1.0, 64.0),
    iso=st.floats(25.0, 25600.0),
    shutter_s=st.floats(1e-4, 30.0),
    power=st.floats(1 / 256, 1.0),
    distance_mm=st.floats(30.0, 3000.0),
    face=faces,
    diffuser_stops=st.floats(0.0, 4.0),
    light_lost_stops=st.floats(0.0, 6.0),
    room_lx=st.floats(0.1, 1e5),
)
things = st.sampled_from([(name, part) for name, parts in MOVES.items() for part in parts])


def plain(f_number=8.0, iso=100.0, shutter_s=1 / 128, power=1 / 128, distance_mm=200.0, **others):
    return Settings(F(f_number), iso, shutter_s, power, distance_mm, **others)


def test_f_8_to_f_22_is_paid_for_by_three_stops_of_power():
    """Stop arithmetic on exact marks; 1/128 to 1/16 is common practice, no source."""
    before = plain(8)
    after = held(before, plain(22), "power", FLASH)
    assert after.power == pytest.approx(1 / 16)
    assert FLASH_POWERS.label(after.power) == "1/16"
    assert change_stops(before, after, FLASH) == pytest.approx(0.0, abs=1e-12)
    assert change_stops(before, after, ROOM) == pytest.approx(-3.0)


@pytest.mark.parametrize(
    ("name", "part", "before", "after", "expected"),
    [
        # ISO 517 marks: one stop from f/22 to f/32 for 1/16 to 1/8 (common practice, no source).
        ("power", FLASH, plain(22, power=1 / 16), plain(32, power=1 / 16), 1 / 8),
        # ISO 1230: the guide number grows with the root of the ISO speed, so half the f-number's stops each.
        ("iso", FLASH, plain(8), plain(16), 400.0),
        # ISO 516 marks: 1/128 s to 1/8 s is four stops, which f/8 to f/32 takes.
        ("shutter", ROOM, plain(8), plain(32), 1 / 8),
        # Inverse square: 1/4 of the power at half the distance.
        ("distance", FLASH, plain(power=1 / 16), plain(power=1 / 64), 100.0),
        ("f-number", FLASH, plain(8, power=1 / 16), plain(8, power=1 / 8), F(11)),
        ("f-number", ROOM, plain(8), plain(8, shutter_s=1 / 32), F(16)),
        # A diffuser that takes 1.3 stops.
        ("power", FLASH, plain(), plain(diffuser_stops=1.3), 2**1.3 / 128),
        # Extension to life size takes two stops.
        ("iso", FLASH, plain(), plain(light_lost_stops=2.0), 400.0),
    ],
)
def test_trades_by_hand(name, part, before, after, expected):
    assert held(before, after, name, part).value(name) == pytest.approx(expected)


def test_the_flash_s_part_follows_the_guide_number():
    """ISO 1230 with light lost to extension: GN 24 at 1/16, 0.15 m, m 1 asks for f/20."""
    before = Settings(20.0, 100.0, 1 / 128, 1 / 16, 150.0, light_lost_stops=2.0)
    for f_number, distance in ((10.0, 150.0), (20.0, 300.0), (28.0, 75.0)):
        after = replace(before, f_number=f_number, distance_mm=distance)
        power = (after.effective_f_number * distance / 1000.0 / 24.0) ** 2  # N = GN sqrt(power) / d
        assert held(before, after, "power", FLASH).power == pytest.approx(power)


@pytest.mark.parametrize(("ev", "f_number", "time"), [(15, 16, 1 / 128), (12, 8, 1 / 64), (5, 4, 0.5)])
def test_the_room_s_part_follows_iso_2720(ev, f_number, time):
    """Settings of one EV under the illuminance that ISO 2720 gives that EV: all the same exposure."""
    reference = Settings(1.0, 100.0, 1.0, room_lx=illuminance_of_ev100(0))
    other = Settings(F(f_number), 100.0, time, room_lx=illuminance_of_ev100(ev))
    assert change_stops(reference, other, ROOM) == pytest.approx(0.0, abs=1e-12)


@given(settings, things, st.floats(-6.0, 6.0))
def test_a_trade_and_its_inverse_lead_back(start, thing, stops):
    name, part = thing
    there = change_by_stops(start, name, part, stops)
    assume(there is not None)
    assert change_stops(start, there, part) == pytest.approx(stops, abs=1e-6)
    back = change_by_stops(there, name, part, -stops)
    assert back.value(name) == pytest.approx(start.value(name), rel=1e-6)


@given(settings, settings, things)
def test_what_is_held_is_held(before, after, thing):
    name, part = thing
    found = held(before, after, name, part)
    assume(found is not None)
    assert change_stops(before, found, part) == pytest.approx(0.0, abs=1e-6)
    assert held(found, before, name, part).value(name) == pytest.approx(before.value(name), rel=1e-6)


@given(settings, things, st.floats(0.01, 4.0))
def test_more_light_asks_for_more_of_it(start, thing, stops):
    name, part = thing
    there = change_by_stops(start, name, part, stops)
    assume(there is not None)
    less_is_more = name in ("distance", "f-number")
    assert (there.value(name) < start.value(name)) == less_is_more
    for other in {FLASH, ROOM} - set(MOVES[name]):
        assert change_stops(start, there, other) == 0.0


def test_what_does_not_move_a_part_cannot_hold_it():
    with pytest.raises(ValueError, match="shutter does not move the flash"):
        change_by_stops(plain(), "shutter", FLASH, 1.0)


@given(faces, st.floats(5.0, 5000.0), st.floats(1.01, 8.0))
def test_light_falls_with_distance_and_never_beats_the_inverse_square(face, distance, times):
    assert face.lx_per_cd(distance * times) < face.lx_per_cd(distance)
    assert face.lx_per_cd(distance) <= 1e6 / distance**2 * (1 + 1e-9)
    if face.area_m2 > 0:
        assert face.distance_mm(face.lx_per_cd(distance)) == pytest.approx(distance, rel=1e-6)


@pytest.mark.parametrize("diameters", [0.5, 1.0, 2.0, 5.0])
def test_a_round_face_loses_what_the_inverse_square_promises(diameters):
    """Howell's catalogue of configuration factors: 1/(1 + 1/(4 k^2)); 0.8 at one diameter."""
    face = FaceSize(80.0, 80.0, round=True)
    expected = log2(1 / (1 + 1 / (4 * diameters**2)))
    assert face.near_loss_stops(80.0 * diameters) == pytest.approx(expected)


def test_no_distance_is_near_enough_for_more_than_the_face_gives():
    face = FaceSize(100.0, 80.0)
    assert face.distance_mm(np.pi / 0.008 * 1.001) is None
    assert change_by_stops(plain(distance_mm=5.0, face=face), "distance", FLASH, 3.0) is None


def test_lighting_ratio_counts_key_and_fill_together():
    """(key + fill) : fill: equal lamps give 2:1, a key one stop over the fill 3:1 (common practice)."""
    assert lighting_ratio(1.0, 1.0) == 2.0
    assert lighting_ratio(2.0, 1.0) == 3.0
    assert lighting_ratio(1.0, 0.0) == inf


def test_marks_of_answers():
    """ISO 517, ISO 516 and ISO 12232 marks: what a photographer dials."""
    assert F_NUMBERS.label(held(plain(8), plain(8, power=1 / 16), "f-number", FLASH).f_number) == "f/22"
    assert SHUTTER_TIMES.label(held(plain(8), plain(22), "shutter", ROOM).shutter_s) == "1/15 s"
    assert ISO_SPEEDS.label(held(plain(8), plain(22), "iso", FLASH).iso) == "ISO 800"


LIFE_SIZE = LensTrain(focal_length_mm=100.0, f_number=8.0, native_magnification=1.0, circle_mm=0.02)


def test_frames_of_a_stack_by_counting():
    """Depth 5 mm, 0.64 mm a frame (f/8, c 0.02, m 1), overlap 0.2: 10 frames."""
    found = at_stop(LIFE_SIZE, 8.0, 5.0)
    assert found.depth_of_field_mm == pytest.approx(0.64, rel=1e-3)
    assert found.stack_frames == 10
    assert found.stack_step_mm == pytest.approx(0.512, rel=1e-3)


def test_diffraction_at_the_subject():
    """Hecht, Optics, ch. 10: Airy disc 2.44 lambda N_eff, 21.47 um at f/16 effective and 550 nm."""
    found = at_stop(LIFE_SIZE, 8.0, 1.0)
    assert found.effective_f_number == 16.0
    assert found.diffraction_um == pytest.approx(21.47, abs=0.01)
    assert found.detail_um == pytest.approx(10.73, abs=0.01)


def test_defocus_at_the_edge_of_the_depth_is_the_circle_of_confusion():
    """Where the wanted depth is the depth of field, its nearer end blurs to about the circle: c / m."""
    depth = at_stop(LIFE_SIZE, 8.0, 1.0).depth_of_field_mm
    assert at_stop(LIFE_SIZE, 8.0, depth).defocus_um == pytest.approx(20.0, rel=2e-3)


@given(st.floats(0.1, 8.0), st.floats(0.3, 4.0))
def test_no_f_number_is_sharper_than_the_sharpest(depth, magnification):
    lens = replace(LIFE_SIZE, native_magnification=magnification)
    best = sharpest_f_number(lens, depth)
    least = at_stop(lens, best, depth).edge_blur_um
    for times in (0.5, 0.8, 1.25, 2.0):
        assert at_stop(lens, best * times, depth).edge_blur_um > least * (1 - 1e-3)


@given(st.floats(1.5, 40.0), st.floats(1.05, 2.0), st.floats(0.1, 20.0))
def test_stopping_down_gains_depth_and_loses_detail(f_number, times, depth):
    open_, closed = at_stop(LIFE_SIZE, f_number, depth), at_stop(LIFE_SIZE, f_number * times, depth)
    assert closed.depth_of_field_mm > open_.depth_of_field_mm
    assert closed.diffraction_um > open_.diffraction_um
    assert closed.defocus_um < open_.defocus_um
    assert closed.stack_frames <= open_.stack_frames


def test_from_there_on_diffraction_covers_two_pixels():
    """Rayleigh's 1.22 lambda N_eff against two pixels of 6 um: effective f/17.9 at 550 nm."""
    best = pixel_limited_f_number(LIFE_SIZE)
    assert 2 * best == pytest.approx(0.012 / (1.21967 * 550e-6), rel=1e-4)
