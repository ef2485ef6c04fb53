"""The light on the petal in closed form, against hand calculations and its own conventions."""

from __future__ import annotations

from dataclasses import replace
from math import cos, log2, pi, radians

import pytest

from lightsim.optics.trade import FLASH, ROOM
from lightsim.photograph.mix import AMBIENT
from lightsim.planning.levels import incident_stops, levels_of, lighting_ratio_of, stops_above
from lightsim.planning.petal_light import petal_light
from lightsim.scene.build import build
from lightsim.scene.records import Ambient, Camera, Card, Drops, Exposure, Lens, Light, Petal, Scene

GREY = (0.4, 0.4, 0.4)
THROUGH = (0.3, 0.3, 0.3)
FLAT = Petal(
    form="flat",
    outline="rectangle",
    width_mm=60.0,
    length_mm=60.0,
    mesh_spacing_mm=3.0,
    relief_mm=0.0,
    veins=0,
    vein_strength=0.0,
    reflectance_foot=GREY,
    reflectance_tip=GREY,
    transmittance_foot=THROUGH,
    transmittance_tip=THROUGH,
    gloss=0.0,
)
FLASH_FAR = Light(
    width_mm=2.0, height_mm=2.0, guide_number_m=24.0, power=1 / 16, angle_deg=0.0, distance_mm=2000.0
)


def flat_scene(**changes) -> Scene:
    base = Scene(
        petal=FLAT,
        drops=Drops(count=0),
        camera=Camera(field_width_mm=36.0),
        lights=(FLASH_FAR,),
        ambient=Ambient(illuminance_lx=128.0),
        exposure=Exposure(),
        bodies=False,
    )
    return replace(base, **changes)


def found(scene):
    stage = build(scene)
    light = petal_light(stage)
    return stage, light, levels_of(scene, stage, light)


@pytest.mark.parametrize("angle", [0.0, 30.0, 60.0])
def test_a_far_flash_by_guide_number_and_the_cosine_law(angle):
    """ISO 1230 and ISO 2720: E t = C GN^2 p / (S d^2); ISO 12232: H = q L t / N_eff^2, mid-tone at 10/S.

    GN 24, 1/16, 2 m: 250 * 36 / 4 / 100 = 22.5 lx s; petal 0.4 at that incidence; life size, so f/22 of f/11.
    """
    _, _, levels = found(flat_scene(lights=(replace(FLASH_FAR, angle_deg=angle),)))
    lx_s = 250.0 * 24.0**2 / 16 / 4.0 / 100.0
    on_sensor = 0.6515748 * (0.4 * lx_s * cos(radians(angle)) / pi) / (11.3137085 * 2) ** 2
    assert levels.part(FLASH) == pytest.approx(0.18 * on_sensor * 100.0 / 10.0, rel=2e-3)


def test_light_from_behind_comes_through():
    _, light, levels = found(flat_scene(lights=(replace(FLASH_FAR, angle_deg=180.0),)))
    _, _, front = found(flat_scene())
    assert light.on_petal["flash"] == 0.0
    assert levels.part(FLASH) / front.part(FLASH) == pytest.approx(0.3 / 0.4, rel=1e-3)


@pytest.mark.parametrize("gradient", [0.0, 0.6])
def test_the_dome_lights_both_sides(gradient):
    """An even dome gives its illuminance to each side; a gradient takes from the lower for the upper."""
    scene = flat_scene(ambient=Ambient(illuminance_lx=128.0, gradient=gradient))
    scene = replace(scene, camera=replace(scene.camera, looks_down_deg=90.0))
    _, light, _ = found(scene)
    assert light.on_petal[AMBIENT] == pytest.approx(1.0 + 2.0 / 3.0 * gradient, rel=1e-6)
    below = 1.0 - 2.0 / 3.0 * gradient
    assert light.colours[AMBIENT][1] == pytest.approx(
        (0.4 * light.on_petal[AMBIENT] + 0.3 * below) / pi, rel=1e-6
    )


def test_a_wide_face_close_up_by_its_configuration_factor():
    """Howell's catalogue: a disc of radius R square on at distance h, F = R^2 / (R^2 + h^2)."""
    wide = Light(shape="round", width_mm=200.0, intensity=100.0, angle_deg=0.0, distance_mm=2000.0)
    stage = build(flat_scene(lights=(wide,), camera=Camera(field_width_mm=1.0)))
    assert petal_light(stage).on_petal["flash"] == pytest.approx(1e6 / (2000.0**2 + 100.0**2), rel=1e-3)


def test_one_stop_of_anything_is_one_stop():
    _, _, start = found(flat_scene())
    for change, flash, room in (
        ({"exposure": Exposure(iso=200.0)}, 1.0, 1.0),
        ({"exposure": Exposure(shutter_s=1 / 64)}, 0.0, 1.0),
        ({"camera": Camera(field_width_mm=36.0, f_number=16.0)}, -1.0, -1.0),
        ({"lights": (replace(FLASH_FAR, power=1 / 8),)}, 1.0, 0.0),
        ({"ambient": Ambient(illuminance_lx=256.0)}, 0.0, 1.0),
    ):
        _, _, levels = found(flat_scene(**change))
        assert log2(levels.part(FLASH) / start.part(FLASH)) == pytest.approx(flash, abs=1e-6)
        assert log2(levels.part(ROOM) / start.part(ROOM)) == pytest.approx(room, abs=1e-6)


def test_an_incident_meter_agrees_with_the_guide_number():
    """GN 24 at 1/16 and 0.15 m, life size, asks for f/20 (N = GN sqrt(p) / (d (1 + m)), ISO 1230)."""
    flash = replace(FLASH_FAR, distance_mm=150.0, angle_deg=40.0)
    scene = flat_scene(
        lights=(flash,), camera=Camera(field_width_mm=36.0, f_number=20.0, working_distance_mm=100.0)
    )
    stage = build(scene)
    exact = 2.0 ** (26 / 6)  # what f/20 stands for
    assert incident_stops(scene, stage, stage.lights[0]) == pytest.approx(2 * log2(20.0 / exact), abs=2e-3)


def test_the_lighting_ratio_counts_key_and_fill():
    """(key + fill) : fill: two flashes of which the second gives a quarter make 5 : 1 (common practice)."""
    fill = replace(FLASH_FAR, name="fill", distance_mm=4000.0)
    scene = flat_scene(lights=(FLASH_FAR, fill), ambient=Ambient(illuminance_lx=0.0))
    stage = build(scene)
    ratio = lighting_ratio_of(scene, stage, petal_light(stage))
    assert ratio.ratio == pytest.approx(5.0, rel=1e-3)
    assert ratio.key == "flash"


def test_a_card_fills_and_is_counted_with_the_fill():
    card = Card(angle_deg=60.0, clock=3.0, distance_mm=100.0)
    lit = replace(FLASH_FAR, angle_deg=60.0, clock=9.0)
    dark = flat_scene(lights=(lit,), ambient=Ambient(illuminance_lx=0.0))
    stage = build(replace(dark, cards=(card,)))
    with_card = lighting_ratio_of(dark, stage, petal_light(stage))
    assert 1.0 < with_card.ratio < 100.0
    alone = lighting_ratio_of(dark, build(dark), petal_light(build(dark)))
    assert alone.fill_lx_s == 0.0


def test_a_lens_train_and_the_field_it_frames_give_the_same_level():
    """Life size with pupil ratio 1: both ways to say it light the sensor alike."""
    _, _, by_width = found(flat_scene())
    _, _, by_lens = found(flat_scene(camera=Camera(), lens=Lens(native_magnification=1.0)))
    assert by_lens.whole == pytest.approx(by_width.whole, rel=1e-6)


def test_black_is_told_as_minus_infinity():
    assert stops_above(0.0) == float("-inf")
    assert stops_above(0.18) == 0.0
