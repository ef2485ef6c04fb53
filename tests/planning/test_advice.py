"""Advice: each sentence with its number, against hand calculations."""

from __future__ import annotations

from dataclasses import replace
from math import log2

import pytest

from lightsim.optics.fresnel import reflectance
from lightsim.planning.advice.all_advice import advice
from lightsim.planning.exposure.scene_trade import make_trade
from lightsim.planning.lens_report import lens
from lightsim.planning.planned import given_scene, planned
from lightsim.scene.records import (
    Ambient,
    Camera,
    Drops,
    Exposure,
    Focus,
    Lens,
    Light,
    Motion,
    PlacedDrop,
    Scene,
)
from tests.planning.test_petal_light import FLAT

ONE_DROP = Drops(count=0, contact_angle_deg=90.0, placed=(PlacedDrop(0.0, 0.0, 1.6),))


def shot(**changes) -> Scene:
    base = Scene(
        petal=FLAT,
        drops=ONE_DROP,
        camera=Camera(focus=Focus(on="drop", drop=0)),
        lens=Lens(native_magnification=1.0, extension_tubes_mm=(50.0,)),
        lights=(Light(guide_number_m=20.0, power=1 / 4, distance_mm=200.0),),
    )
    return replace(base, **changes)


def by_topic(scene, **options):
    return {each.topic: each for each in advice(planned(scene, **options))}


def test_the_sharpest_f_number_for_a_depth():
    """m sqrt(z / 2.44 lambda), z half the depth: f/29 effective (Conrad, Depth of Field in Depth)."""
    said = by_topic(shot(), depth_mm=1.0)["sharpness"]
    assert said.number == pytest.approx(1.5 * (0.5 / (2.43934 * 550e-6)) ** 0.5 / 2.5, rel=1e-4)
    assert "beyond f/11" in said.sentence
    assert not said.minds
    assert by_topic(shot(camera=Camera(f_number=22.0)), depth_mm=1.0)["sharpness"].minds


def test_where_no_f_number_is_small_or_wide_enough_it_is_said():
    """The effective f-number wanted goes with the root of the depth: at 40 mm f/73, at 0.02 mm f/1.6."""
    deep = by_topic(shot(), depth_mm=40.0)["sharpness"]
    assert "stopping down pays down to the smallest stop of most lenses, f/32" in deep.sentence
    wide = by_topic(shot(lens=replace(shot().lens, widest_f_number=2.8)), depth_mm=0.02)["sharpness"]
    assert "sharpest is the widest, f/2.8" in wide.sentence


def test_the_wanted_depth_is_the_drop_s_own_height():
    """A drop of contact angle 90 degrees is half a sphere: its height is its radius."""
    plan = planned(shot())
    assert plan.depth_mm == pytest.approx(0.8, rel=1e-6)
    assert "drop in focus" in plan.depth_from
    assert planned(shot(), depth_mm=2.5).depth_mm == 2.5


def test_frames_of_a_stack_where_diffraction_covers_two_pixels():
    """6 um pixels: effective f/17.9, f/7.1 at m 1.5; d = 2 N_eff c / m^2 = 0.457 mm; counted."""
    said = by_topic(shot(), depth_mm=2.0)["focus stack"]
    assert "f/7.1" in said.sentence
    assert said.number == 6.0


@pytest.mark.parametrize(("angle", "clips"), [(75.0, True), (20.0, False)])
def test_highlights_by_fresnel_and_saturation(angle, clips):
    """Face 60 x 40 mm, 250 cd s: 104 167 cd s/m2 times Fresnel's share; H = q L / N_eff^2 against 78/S."""
    power = 1 / 4 if clips else 1 / 32
    scene = shot(lights=(Light(guide_number_m=20.0, power=power, distance_mm=300.0, angle_deg=angle),))
    said = by_topic(scene)["highlights"]
    bright = 250.0 * 20.0**2 * power / 100.0 / 2.4e-3 * float(reflectance(angle / 2))
    over = log2(0.6515748 * bright / (11.3137085 * 2.5) ** 2 / 0.78)
    assert said.number == pytest.approx(over, abs=1e-3)
    assert said.minds == (over > 0.05) == clips


def test_a_larger_face_by_the_stops_over_holds_the_highlights():
    said = by_topic(shot())["highlights"]
    grown = 2.0 ** (said.number / 2)
    assert f"{60 * grown:.0f} × {40 * grown:.0f} mm" in said.sentence
    light = replace(shot().lights[0], width_mm=60.0 * grown, height_mm=40.0 * grown)
    assert by_topic(shot(lights=(light,)))["highlights"].number == pytest.approx(0.0, abs=1e-6)


def test_room_light_ghosts_when_it_is_near_the_flash_and_moves_far():
    bright = shot(ambient=Ambient(illuminance_lx=20_000.0), motion=Motion(speed_mm_s=4.0))
    said = by_topic(bright)["ghost"]
    assert said.minds
    assert "it will ghost" in said.sentence
    assert "4 mm/s smears" in said.sentence
    # 4 mm/s for 1/128 s is 31.25 um; one 6 um pixel covers 4 um at m 1.5: 7.8 pixels.
    assert "31 µm (7.8 sensor pixels)" in said.sentence
    calm = by_topic(shot())["ghost"]
    assert not calm.minds
    assert "(supposed)" in calm.sentence
    assert calm.number - said.number == pytest.approx(log2(20_000 / 200), abs=1e-6)


def test_a_flash_too_near_for_its_guide_number():
    """A round face of 100 mm at 100 mm gives 0.8 of the inverse square: 0.32 stops (Howell's catalogue)."""
    near = Light(shape="round", width_mm=100.0, guide_number_m=20.0, power=1 / 64, distance_mm=100.0)
    said = by_topic(shot(lights=(near,)))["guide number"]
    assert said.number == pytest.approx(-log2(0.8), abs=1e-6)
    assert "guide number" not in by_topic(shot(lights=(replace(near, distance_mm=1000.0),)))


def test_large_drops_are_said_to_be_flattened():
    """Bond number over 0.1 from 1.73 mm across (de Gennes et al. 2004)."""
    large = shot(drops=replace(ONE_DROP, placed=(PlacedDrop(0.0, 0.0, 2.5),)))
    assert "gravity flattens" in by_topic(large)["on the set"].sentence
    assert "on the set" not in by_topic(shot())


def test_the_lens_nearly_touches_and_stands_in_the_light():
    close = shot(
        lens=Lens(native_magnification=1.0, native_working_distance_mm=30.0, extension_tubes_mm=(25.0,)),
        lights=(Light(guide_number_m=20.0, power=1 / 64, angle_deg=5.0, clock=12.0, distance_mm=600.0),),
    )
    said = by_topic(close)
    assert 0.0 < said["working distance"].number < 15.0
    assert said["lens and light"].number > 0.9
    assert "working distance" not in by_topic(shot())
    assert "lens and light" not in by_topic(shot())


def test_a_shutter_too_short_for_a_flash():
    assert "synchronisation" in by_topic(shot(exposure=Exposure(shutter_s=1 / 1024)))
    assert "synchronisation" not in by_topic(shot(exposure=Exposure(shutter_s=1 / 256)))


def test_without_a_flash_movement_is_what_matters():
    window = Light(
        kind="continuous", illuminance_lx=900.0, width_mm=800.0, height_mm=800.0, distance_mm=1500.0
    )
    said = by_topic(shot(lights=(window,), exposure=Exposure(shutter_s=0.25, iso=800.0)))
    # 1 mm/s for a quarter of a second, 4 um for a pixel at the subject: 62.5 pixels.
    assert said["movement"].number == pytest.approx(62.5)
    assert "ghost" not in said


def test_every_piece_has_a_rule():
    for each in advice(planned(shot())):
        assert each.rule
        assert each.sentence.endswith(".")
        assert each.as_dict()["topic"] == each.topic


def test_a_trade_changes_the_level_by_what_it_says():
    plan = planned(shot())
    changed = given_scene(plan.scene, {"f-number": "22"})
    trade = make_trade(plan, changed, ("f-number",), solve="power")
    assert trade.solved.label == "1/1"
    # The scene in the end, worked out anew, has the flash's part held and the room's two stops lower.
    again = planned(trade.scene)
    assert again.levels.by_light["flash"] == pytest.approx(plan.levels.by_light["flash"], rel=1e-9)
    assert again.levels.by_light["ambient"] == pytest.approx(plan.levels.by_light["ambient"] / 4, rel=1e-9)
    assert trade.levels.by_light == pytest.approx(again.levels.by_light)


def test_several_flashes_are_each_solved_for():
    second = Light(name="rim", guide_number_m=20.0, power=1 / 16, distance_mm=250.0, angle_deg=120.0)
    plan = planned(shot(lights=(*shot().lights, second)))
    trade = make_trade(plan, given_scene(plan.scene, {"f-number": "16"}), ("f-number",), solve="power")
    assert [flash.solved.label for flash in trade.flashes] == ["1/2", "1/8"]
    assert [light.power for light in trade.scene.lights] == pytest.approx([0.5, 0.125])


def test_the_mid_tone_is_reached_by_whatever_is_solved_for():
    plan = planned(shot(ambient=Ambient(illuminance_lx=20_000.0)))
    for name in ("power", "iso"):
        trade = make_trade(plan, plan.scene, (), solve=name, to_mid_tone=True)
        assert trade.levels.whole == pytest.approx(0.18, rel=1e-9)


def test_the_lens_says_how_the_scene_frames():
    by_lens = lens(shot())
    assert by_lens.figures.magnification == 1.5
    assert "thin elements at their places (lens)" in by_lens.model
    assert any("50 mm of tubes" in caution for caution in by_lens.cautions)
    by_width = lens(
        Scene(camera=Camera(field_width_mm=24.0, working_distance_mm=120.0), lights=shot().lights)
    )
    assert by_width.framed_by_width
    # u m / (1 + m): 120 * 1.5 / 2.5 (Hecht, Optics, ch. 5).
    assert by_width.figures.focal_length_mm == pytest.approx(72.0)
    assert by_width.figures.effective_f_number == pytest.approx(2.5 * 11.3137085)
    assert any("field width" in sentence for sentence in by_width.trust)
