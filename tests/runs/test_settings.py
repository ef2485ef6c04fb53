"""Sweeps along settings and as grids: what they trace, how they are exposed, what is refused."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import inf, log2

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.errors import LightsimError, SceneError
from lightsim.runs.photographing import photograph
from lightsim.runs.sweep.schedule import plan_sweep
from lightsim.runs.sweep.sweep import SweepStopped, sweep
from lightsim.scene.records import Ambient, Diffuser, Lens, Light, Motion, Noise
from lightsim.scene.settings.change_light import resized
from lightsim.scene.settings.quantities import QUANTITIES
from lightsim.scene.settings.value_list import parse_values


@pytest.fixture
def with_lens(scene):
    """The same set seen through a lens train."""
    return replace(scene, lens=Lens(extension_tubes_mm=(36.0, 14.0), native_working_distance_mm=150.0))


def parsed(text, name):
    return parse_values(text, QUANTITIES[name])


# ISO 517 (f-numbers), ISO 516 (shutter times), ISO 12232 (speeds): the marks a stop apart. Power in whole
# stops: common practice, no source.
@pytest.mark.parametrize(
    ("name", "text", "values"),
    [
        ("f_number", "8:22:1", (8, 11, 16, 22)),
        ("f_number", "f/2.8,f/4", (2.8, 4)),
        ("f_number", "16:11:1/3", (11, 13, 14, 16)),
        ("iso", "100:800:1", (100, 200, 400, 800)),
        ("shutter", "1/250:1/30:1", (1 / 256, 1 / 128, 1 / 64, 1 / 32)),
        ("shutter", "1/125", (1 / 128,)),
        ("power", "1/128:1/16:1", (1 / 128, 1 / 64, 1 / 32, 1 / 16)),
        ("power", "1/16 + 1/3,1/16", (1 / 16, 2 ** (-11 / 3))),
        ("extension", "0:36:12", (0, 12, 24, 36)),
    ],
)
def test_settings_are_given_as_they_are_marked(name, text, values):
    assert parsed(text, name) == pytest.approx(values, rel=1e-12)


@pytest.mark.parametrize(
    ("name", "text", "sentence"),
    [
        ("iso", "0", "--iso: found 0, allowed 1 to 10000000"),
        ("iso", "1e9", "--iso: found 1e+09, allowed 1 to 10000000"),
        ("power", "2", '--power: found 2, allowed 0.0005 to 1, as "1/16"'),
        (
            "shutter",
            "quick",
            "--shutter: found 'quick', allowed numbers such as 1/250,1/60 or a range start:stop:step such as "
            "1/500:1/30:1 with the step in stops",
        ),
        ("shutter", "0", '--shutter: found 0, allowed 1e-06 to 3600 s, as "1/125"'),
        ("f_number", "0.3", '--f-number: found 0.3, allowed 0.5 to 1000, as "f/11"'),
        ("extension", "-5", "--extension: found -5, allowed 0 to 2000 mm"),
        (
            "f_number",
            "8:22:0",
            "--f-number: found '8:22:0', allowed a range start:stop:step with the step in stops, above 0",
        ),
        ("f_number", "8:22:0.001", "--f-number: found 3001 values, allowed up to 720"),
    ],
)
def test_what_cannot_be_set_gets_one_sentence(name, text, sentence):
    with pytest.raises(LightsimError) as error:
        parsed(text, name)
    assert str(error.value) == sentence


@given(st.sampled_from(["f_number", "iso", "shutter", "power"]), st.floats(-2, 2))
def test_a_setting_that_is_tidied_stays_the_same_light(name, stops):
    quantity = QUANTITIES[name]
    middle = {"f_number": 8.0, "iso": 400.0, "shutter": 1 / 64, "power": 1 / 16}[name]
    value = middle * 2.0**stops
    tidy = quantity.tidy(value)
    series = quantity.series
    assert abs(series.stops_between(series.exact(value), series.exact(tidy))) <= 0.021
    assert quantity.tidy(tidy) == tidy


@pytest.mark.parametrize("option", [{"power": "1/64:1/8:1"}, {"iso": "50:400:1"}])
def test_power_and_iso_need_one_trace_and_go_in_stops(tracer, scene, option):
    done = sweep(replace(scene, ambient=Ambient(illuminance_lx=0.0)), **option)
    assert (len(tracer.views), len(tracer.traced)) == (1, 1)
    means = [frame.measures.petal_linear for frame in done]
    stops = [log2(b / a) for a, b in pairwise(means)]
    assert stops == pytest.approx([1.0] * 3, abs=1e-6)


def test_a_longer_shutter_gives_more_of_the_room_alone(tracer, scene):
    done = sweep(scene, shutter="1/250:1/15:1")
    assert len(tracer.traced) == 1
    below = [frame.notes["room_light_stops_below_flash"] for frame in done]
    assert np.diff(below) == pytest.approx([-1.0] * 4)


def test_each_f_number_and_extension_is_seen_anew(tracer, with_lens):
    done = sweep(with_lens, f_number="8,16")
    assert [view.camera.f_number for view in tracer.views] == [8, 16]
    assert [frame.settings["effective_f_number"] for frame in done] == pytest.approx([8 * 2.5, 16 * 2.5])
    tracer.views.clear()
    done = sweep(with_lens, extension="0,25,100")
    # Extension over focal length is the magnification that tubes add (Ray, Applied Photographic Optics).
    assert [frame.settings["magnification"] for frame in done] == pytest.approx([1.0, 1.25, 2.0])
    assert len(tracer.views) == 3


def test_a_grid_traces_each_view_and_each_place_once(tracer, with_lens):
    done = sweep(with_lens, angles="15,75,135", f_number="8,16", power=1 / 64)
    assert len(tracer.views) == 2
    assert len(tracer.traced) == 6
    assert [frame.values for frame in done] == [(a, n) for n in (8, 16) for a in (15, 75, 135)]
    assert {each.lights[0].power for each in tracer.traced} == {1 / 64}
    tracer.traced.clear()
    tracer.views.clear()
    sweep(with_lens, power="1/64,1/32,1/16", angles="15,75")
    assert (len(tracer.views), len(tracer.traced)) == (1, 2)


def test_the_longer_list_runs_along_the_rows(scene):
    plan = plan_sweep(scene, {"angle": "15,75", "f_number": "8,11,16"}, samples=4)
    assert plan.names == ("f_number", "angle")
    assert plan.stem(plan.steps[0]) == "f-08_angle-015"


def test_a_grid_goes_on_where_it_stopped_and_leaves_other_frames_alone(tracer, scene, tmp_path):
    sweep(scene, angles="15,75", folder=tmp_path)
    tracer.traced.clear()
    tracer.stop_at = 3
    with pytest.raises(SweepStopped) as stop:
        sweep(scene, angles="15,75", f_number="8,16", folder=tmp_path)
    assert (stop.value.done, stop.value.whole) == (2, 4)
    tracer.stop_at = None
    assert sweep(scene, angles="15,75", f_number="8,16", folder=tmp_path).reused == 2
    assert sweep(scene, angles="15,75", folder=tmp_path).reused == 2
    bright = replace(scene, exposure=replace(scene.exposure, iso=400.0))
    sweep(bright, angles="15,75", f_number="8,16", folder=tmp_path)
    assert sweep(scene, angles="15,75", folder=tmp_path).reused == 2


def test_a_change_of_noise_or_movement_makes_frames_anew(tracer, scene, tmp_path):
    sweep(scene, power="1/32,1/16", folder=tmp_path)
    for change in ({"noise": Noise()}, {"motion": Motion(2.0)}):
        assert sweep(replace(scene, **change), power="1/32,1/16", folder=tmp_path).reused == 0


def test_exposure_settings_show_their_true_exposure_unless_asked(tracer, scene):
    auto = replace(scene, exposure=replace(scene.exposure, auto=True))
    true = sweep(auto, iso="100,400")
    assert [frame.exposure_stops for frame in true] == [0.0, 0.0]
    assert true.exposure_note == "ISO speed; each frame exposed as its settings say, all at f/11, 1/125 s"
    common = sweep(scene, iso="100,400", exposure="auto")
    assert len({frame.exposure_stops for frame in common}) == 1
    assert common[0].exposure_stops != 0.0
    own = sweep(scene, iso="100,400", exposure="own")
    assert own[0].exposure_stops - own[1].exposure_stops == pytest.approx(2.0, abs=1e-6)


def test_a_scene_without_lights_can_be_swept_along_the_camera_s_settings(tracer, scene):
    room = replace(scene, lights=())
    done = sweep(room, shutter="1/30:1/2:2")
    assert [frame.light for frame in done] == [None] * 3
    assert min(done.sheet().size) > 500
    with pytest.raises(LightsimError, match="no light to move"):
        sweep(room, power="1/4,1/2")
    with pytest.raises(LightsimError, match="no light to move"):
        sweep(room)


def test_tubes_need_a_lens_to_stand_behind(scene):
    with pytest.raises(LightsimError) as error:
        plan_sweep(scene, {"extension": "12,24"}, samples=4)
    assert str(error.value) == "--extension: found 12, allowed with a [lens] section only"


def test_a_frame_that_cannot_be_is_named(with_lens):
    wide = replace(with_lens, lens=replace(with_lens.lens, widest_f_number=2.8))
    with pytest.raises(SceneError) as error:
        plan_sweep(wide, {"f_number": "2,4"}, samples=4)
    assert str(error.value) == "at f-number f/2: camera.f_number: found 2, allowed 2.8 (the widest) or more"


def test_size_is_that_of_the_face_that_glows():
    flash = Light(guide_number_m=20.0, diffuser=Diffuser(width_mm=100.0, height_mm=80.0))
    larger = resized(flash, 200.0)
    assert (larger.diffuser.width_mm, larger.diffuser.height_mm) == (200.0, 160.0)
    assert (larger.width_mm, larger.height_mm) == (flash.width_mm, flash.height_mm)


def test_rows_say_what_each_frame_was_set_to(tracer, with_lens):
    rows = sweep(replace(with_lens, motion=Motion(2.0)), power="1/32,1/16", f_number="16").rows()
    assert [row["light_power"] for row in rows] == [1 / 32, 1 / 16]
    assert rows[0]["f_number"] == 16
    assert rows[0]["extension_mm"] == 50
    # 2 mm/s for 1/128 s: 15.6 um; the field of 24 mm on 120 pixels makes them 0.2 mm large.
    assert rows[0]["ghost_mm"] == pytest.approx(2 / 128)
    assert rows[0]["ghost_px"] == pytest.approx(2 / 128 / 0.2)
    assert rows[1]["room_light_stops_below_flash"] - rows[0]["room_light_stops_below_flash"] == pytest.approx(
        1.0
    )


def test_the_photograph_has_the_scene_s_movement_and_noise(tracer, scene):
    from lightsim.scene.build import build

    layers = tracer.trace_layers(scene)
    still = photograph(layers, scene, build(scene))
    moving = replace(scene, motion=Motion(40.0), exposure=replace(scene.exposure, shutter_s=0.25))
    smeared = photograph(layers, moving, build(moving))
    assert smeared.notes["ghost_mm"] == pytest.approx(10.0)
    noisy = replace(scene, noise=Noise(full_well_e=1000.0))
    grainy = photograph(layers, noisy, build(noisy))
    bare = layers.maps.petal_cover == 1.0  # drops mirror the flash beyond what the sensor holds
    assert grainy.linear[bare].std() > still.linear[bare].std()
    again = photograph(layers, noisy, build(noisy))
    np.testing.assert_array_equal(again.linear, grainy.linear)
    assert still.notes["room_light_stops_below_flash"] < inf


def test_noise_counts_the_sensor_s_pixels_in_one_of_the_picture(tracer, scene):
    from lightsim.scene.build import build

    layers = tracer.trace_layers(scene)
    flat = replace(scene, noise=Noise(read_noise_e=0.0))
    small = replace(flat, camera=replace(flat.camera, sensor_px=(12000, 8000)))
    petal = layers.maps.petal_cover == 1.0
    spread = []
    for each in (flat, small):
        clean = photograph(layers, replace(each, noise=None), build(each)).linear[petal]
        spread.append(float((photograph(layers, each, build(each)).linear[petal] - clean).std()))
    # Four times the pixels of the same full well hold four times the electrons: half the noise (Poisson).
    assert spread[0] / spread[1] == pytest.approx(2.0, rel=0.1)


def test_captions_say_what_the_millimetres_are_of_and_how_bright_the_petal_is(tracer, with_lens):
    shown = sweep(with_lens, extension="12,36").sheet_frames()
    assert [frame.heading for frame in shown] == ["12 mm of tubes", "36 mm of tubes"]
    assert all(frame.shows_level for frame in shown)
