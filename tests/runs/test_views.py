"""What is traced again and what is not, in one process and from one to the next."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lightsim.runs.comparison.compare import compare
from lightsim.runs.layer_store import LayerStore, list_layers
from lightsim.runs.preview import preview
from lightsim.runs.setup_plan import setup_plan
from lightsim.runs.sweep.sweep import sweep
from lightsim.runs.views import Views
from lightsim.scene.records import Ambient, Card, Diffuser, Drops, Exposure, Motion


@pytest.fixture
def kept(monkeypatch, tmp_path):
    """A store of layers of one's own."""
    monkeypatch.setenv("LIGHTSIM_LAYERS_GB", "1")
    monkeypatch.setenv("LIGHTSIM_CACHE", str(tmp_path / "cache"))


def traced(scene, store, width_px=60):
    """Layers by a new object, as a new process has one."""
    with Views(width_px, 4, store) as views:
        return views.trace(scene, lambda share: None)


def with_light(scene, **changes):
    return replace(scene, lights=(replace(scene.lights[0], **changes), *scene.lights[1:]))


FREE = {
    "power": lambda scene: with_light(scene, power=1 / 4),
    "guide number": lambda scene: with_light(scene, guide_number_m=20.0),
    "colour": lambda scene: with_light(scene, colour_temperature_k=3200.0),
    "name": lambda scene: with_light(scene, name="another"),
    "shutter": lambda scene: replace(scene, exposure=Exposure(shutter_s=1.0)),
    "ISO": lambda scene: replace(scene, exposure=Exposure(iso=800.0)),
    "white balance": lambda scene: replace(scene, exposure=Exposure(white_balance=4000.0)),
    "room": lambda scene: replace(scene, ambient=Ambient(illuminance_lx=900.0, colour_temperature_k=3000.0)),
    "motion": lambda scene: replace(scene, motion=Motion()),
    "words": lambda scene: replace(scene, about="another"),
}
TRACED = {
    "f-number": lambda scene: replace(scene, camera=replace(scene.camera, f_number=22.0)),
    "drops": lambda scene: replace(scene, drops=Drops(count=2, diameter_mm=3.0)),
    "card": lambda scene: replace(scene, cards=(Card(),)),
    "petal": lambda scene: replace(scene, petal=replace(scene.petal, tilt_deg=10.0)),
    "gradient": lambda scene: replace(scene, ambient=replace(scene.ambient, gradient=0.5)),
    "angle": lambda scene: with_light(scene, angle_deg=40.0),
    "diffuser": lambda scene: with_light(scene, diffuser=Diffuser()),
    "looking down": lambda scene: replace(scene, camera=replace(scene.camera, looks_down_deg=50.0)),
}


@pytest.mark.parametrize("change", FREE)
def test_what_is_settled_when_exposing_traces_nothing_in_a_new_process(tracer, two_lights, tmp_path, change):
    store = LayerStore(tmp_path, 10**9)
    first = traced(two_lights, store)
    tracer.views.clear()
    tracer.traced.clear()
    again = traced(FREE[change](two_lights), store)
    assert (tracer.views, tracer.traced) == ([], [])
    for one, other in zip(first.by_light.values(), again.by_light.values(), strict=True):
        np.testing.assert_array_equal(one.petal, other.petal)
        np.testing.assert_array_equal(one.glint, other.glint)
    assert again.mm_per_px == first.mm_per_px


@pytest.mark.parametrize("change", TRACED)
def test_what_light_depends_on_is_traced(tracer, two_lights, tmp_path, change):
    store = LayerStore(tmp_path, 10**9)
    traced(two_lights, store)
    tracer.traced.clear()
    traced(TRACED[change](two_lights), store)
    assert len(tracer.traced) == 1


def test_a_moved_light_is_traced_and_the_others_are_known_where_lamps_hide_nothing(
    tracer, two_lights, tmp_path
):
    store = LayerStore(tmp_path, 10**9)
    bare = replace(two_lights, bodies=False)
    traced(bare, store)
    traced(with_light(bare, angle_deg=40.0), store)
    assert tracer.known == ["fill", "ambient"]


def test_a_moved_lamp_that_is_solid_makes_the_others_anew(tracer, two_lights, tmp_path):
    store = LayerStore(tmp_path, 10**9)
    traced(two_lights, store)
    traced(with_light(two_lights, angle_deg=40.0), store)
    assert tracer.known == []


def test_another_width_or_number_of_samples_is_another_picture(tracer, scene, tmp_path):
    store = LayerStore(tmp_path, 10**9)
    traced(scene, store)
    traced(scene, store, width_px=80)
    with Views(60, 16, store) as views:
        views.trace(scene, lambda share: None)
    assert len(tracer.traced) == 3


def test_a_damaged_layer_is_made_anew(tracer, scene, tmp_path):
    store = LayerStore(tmp_path, 10**9)
    traced(scene, store)
    for file in store.files():
        file.path.write_bytes(file.path.read_bytes()[:100])
    traced(scene, store)
    assert len(tracer.traced) == 2
    traced(scene, store)
    assert len(tracer.traced) == 2


def test_layers_of_older_code_are_not_used(tracer, scene, tmp_path, monkeypatch):
    store = LayerStore(tmp_path, 10**9)
    traced(scene, store)
    monkeypatch.setattr("lightsim.runs.views.code_version", lambda rooms: "newer")
    traced(scene, store)
    assert len(tracer.traced) == 2


def test_no_command_traces_a_second_time_what_another_one_traced(tracer, scene, kept):
    sweep(scene, angles="15,75", quality="draft")
    assert len(tracer.traced) == 2
    brighter = with_light(replace(scene, exposure=Exposure(iso=400.0)), power=1 / 4, angle_deg=75.0)
    sweep(brighter, angles="15,75", quality="draft")
    compare([brighter], angles="15,75", quality="draft")
    preview(brighter, quality="draft")
    assert len(tracer.traced) == 2
    sweep(scene, power="1/64,1/16", angles=15, quality="draft", exposure="auto")
    assert len(tracer.traced) == 3  # the small picture for the common exposure
    sweep(scene, power="1/64,1/16", angles=15, quality="draft", exposure="auto", force=True)
    assert len(tracer.traced) == 5


def test_a_plan_takes_its_picture_from_the_layers_kept(tracer, scene, kept):
    setup_plan(scene, quality="draft")
    setup_plan(with_light(scene, power=1 / 2), quality="draft")
    assert len(tracer.traced) == 1


def test_a_traced_picture_and_one_of_kept_layers_are_the_same(tracer, scene, kept):
    first, again = (preview(scene, quality="draft") for _ in range(2))
    assert len(tracer.traced) == 1
    np.testing.assert_array_equal(first.frame.image, again.frame.image)
    assert first.frame.measures == again.frame.measures


def test_layers_for_whoever_computes_on_are_exact(tracer, scene, kept):
    preview(scene, quality="draft")
    exact = preview(scene, quality="draft", exact_layers=True)
    drawn = tracer.trace_layers(scene, width_px=120).by_light["flash"].petal
    np.testing.assert_array_equal(exact.layers.by_light["flash"].petal, drawn)


def test_a_large_picture_is_kept_strip_by_strip(tracer, scene, kept):
    first = preview(scene, quality="draft", strips=True)
    again = preview(scene, quality="draft", strips=True)
    preview(with_light(scene, colour_temperature_k=5000.0), quality="draft", strips=True)
    assert len(tracer.traced) == 1
    np.testing.assert_array_equal(first.frame.image, again.frame.image)
    (listed,) = list_layers().pictures
    assert (listed.lights, listed.pixels) == (2, (120, 80))


def test_a_strip_that_is_damaged_is_traced_and_the_picture_is_the_same(tracer, scene, kept):
    first = preview(scene, quality="draft", strips=True)
    for file in LayerStore().files():
        if "-row-00032" in file.path.name:
            file.path.write_bytes(b"")
    again = preview(scene, quality="draft", strips=True)
    assert len(tracer.traced) == 2
    np.testing.assert_array_equal(first.frame.image, again.frame.image)
    preview(scene, quality="draft", strips=True)
    assert len(tracer.traced) == 2
