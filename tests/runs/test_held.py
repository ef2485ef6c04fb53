"""Exposure held in a sweep: hand arithmetic in stops, and that the petal stays as bright."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lightsim.errors import LightsimError
from lightsim.runs.sweep.held import hold_exposure
from lightsim.runs.sweep.schedule import plan_sweep
from lightsim.runs.sweep.sweep import sweep
from lightsim.scene.records import Ambient, Diffuser, Exposure, Lens, Light
from lightsim.scene.settings.quantities import change_scene


def held(scene, light=None, **changes):
    """Power of the key, ISO and words after a change."""
    found = hold_exposure(scene, change_scene(scene, changes, light), tuple(changes))
    return found.scene.lights[0].power if found.scene.lights else None, found.scene.exposure.iso, found.words


# Full stops of f-number (ISO 517): f/11, 16, 22 let in a half each; the scene has f/11, power 1/16, ISO 100.
@pytest.mark.parametrize(
    ("f_number", "power", "iso", "words"),
    [
        (11, 1 / 16, 100, ("power 1/16",)),
        (16, 1 / 8, 100, ("power 1/8",)),
        (8, 1 / 32, 100, ("power 1/32",)),
        (45, 1.0, 100, ("power 1/1",)),
        (64, 1.0, 200, ("power 1/1", "ISO 200")),
        (2, 1 / 256, 50, ("power 1/256", "ISO 50")),
    ],
)
def test_power_makes_up_for_the_f_number_and_iso_where_power_ends(scene, f_number, power, iso, words):
    found = held(scene, f_number=f_number)
    assert found[:2] == (pytest.approx(power), iso)
    assert [each for each in found[2] if "stops" not in each] == [
        each for each in words if "stops" not in each
    ]


def test_what_cannot_be_held_is_said_in_stops(scene):
    # f/11 to f/1: 7 stops less light wanted, 4 of them by 1/16 -> 1/256, one by ISO 100 -> 50.
    power, iso, words = held(scene, f_number=1.0)
    assert (power, iso) == (pytest.approx(1 / 256), 50)
    assert words == ("power 1/256", "flash +2.0 stops", "ISO 50")


def test_twice_the_distance_takes_four_times_the_power(scene):
    far = change_scene(scene, {"distance": 2000.0})
    # inverse-square law; a face of 60 x 40 mm is as good as a point from 2 m on
    assert held(far, distance=4000.0)[0] == pytest.approx(4 / 16, rel=1e-3)


def test_a_diffuser_taken_off_is_made_up_for(scene):
    light = replace(scene.lights[0], diffuser=Diffuser(width_mm=60.0, height_mm=40.0, loss_stops=2.0))
    assert held(replace(scene, lights=(light,)), diffuser=0.0)[0] == pytest.approx(1 / 64, rel=1e-6)


def test_tubes_are_made_up_for(scene):
    # Extension over focal length is magnification; light falls with (1 + m)^2 (Ray, Applied Photographic
    # Optics): from m = 1 to m = 2 by (3/2)^2.
    long = replace(scene, lens=Lens(native_working_distance_mm=150.0))
    assert held(long, extension=100.0)[0] == pytest.approx((3 / 2) ** 2 / 16, rel=1e-6)


def test_a_longer_shutter_is_made_up_for_by_iso_and_the_flash_by_power(scene):
    slow = replace(scene, exposure=Exposure(iso=400.0, shutter_s=1 / 128))
    assert held(slow, shutter=1 / 32)[:2] == (pytest.approx(1 / 4), 100)
    dark = replace(slow, lights=())
    assert held(dark, shutter=1 / 32) == (None, 100, ("ISO 100",))
    assert held(slow, iso=1600.0)[:2] == (pytest.approx(1 / 64), 1600)
    assert held(slow, power=1 / 4)[:2] == (1 / 4, 100)


def test_each_flash_is_held_by_its_own_power(two_lights):
    second = Light(name="second", guide_number_m=10.0, power=1 / 2, angle_deg=120.0)
    scene = replace(two_lights, lights=(*two_lights.lights, second))
    found = hold_exposure(scene, change_scene(scene, {"f_number": 22}), ("f_number",))
    # two stops: the second flash lacks one, which ISO gives to both
    assert [light.power for light in found.scene.lights if light.kind == "flash"] == pytest.approx(
        [1 / 8, 1.0]
    )
    assert found.scene.exposure.iso == 200
    assert found.words == ("flash 1/8", "second 1/1", "ISO 200")


def test_a_held_sweep_keeps_the_petal_as_bright_and_says_by_what(tracer, scene):
    scene = replace(scene, ambient=Ambient(illuminance_lx=0.0))
    done = sweep(scene, f_number="8:64:1", exposure="hold")
    levels = [frame.measures.petal_linear for frame in done]
    # within a thousandth: diffraction takes a little of the light across the petal's edge
    assert levels == pytest.approx([levels[0]] * len(levels), rel=1e-3)
    assert [each.settings for each in done.sheet_frames()][-1] == ("power 1/1", "ISO 200")
    assert done.rows()[0]["exposure_held_by"] == "power 1/32"
    assert "exposure held by the flash’s power, then by ISO" in done.exposure_note
    assert done.sheet().width > 500


def test_a_held_sweep_is_kept_apart_from_one_that_is_not(tracer, scene, tmp_path):
    sweep(scene, f_number="8,16", folder=tmp_path)
    assert sweep(scene, f_number="8,16", folder=tmp_path, exposure="hold").reused == 0
    assert sweep(scene, f_number="8,16", folder=tmp_path, exposure="hold").reused == 2


@pytest.mark.parametrize(
    ("wanted", "sentence"),
    [
        ({"angle": "0,45"}, "--hold: found a sweep of --angles, allowed with --distance, "),
        ({"power": "1/4,1/2", "iso": "100,200"}, "--hold: found --power and --iso, allowed with one"),
    ],
)
def test_a_sweep_that_cannot_be_held_gets_one_sentence(scene, wanted, sentence):
    with pytest.raises(LightsimError) as error:
        plan_sweep(scene, wanted, samples=4, exposure="hold")
    assert str(error.value).startswith(sentence)
