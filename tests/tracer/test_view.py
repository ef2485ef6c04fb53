"""The tracer's door: layers, maps, determinism, what is kept and what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lightsim.errors import PictureError, SceneError
from lightsim.scene.records import Ambient, Camera, Drops, Light, Petal, Scene
from lightsim.tracer import View, trace_layers
from tests.tracer.sets import lamp, one_drop, plain_petal, simple

SIDE = lamp(angle_deg=60.0, clock=9.0, width_mm=20.0, height_mm=20.0)


@pytest.fixture(scope="module")
def wet():
    return simple(plain_petal(0.5, 0.2), Drops(count=25, diameter_mm=1.0, seed=3), (SIDE,), field_mm=8.0)


def parts(layers, name="lamp"):
    layer = layers.by_light[name]
    return [layer.glint, layer.surface, layer.water, layer.petal, layer.lit]


def test_the_same_bits_whatever_the_number_of_threads(wet, monkeypatch):
    monkeypatch.setenv("LIGHTSIM_THREADS", "1")
    alone = parts(trace_layers(wet, width_px=96, samples=4))
    monkeypatch.setenv("LIGHTSIM_THREADS", "3")
    together = parts(trace_layers(wet, width_px=96, samples=4))
    for a, b in zip(alone, together, strict=True):
        np.testing.assert_array_equal(a, b)


def test_a_light_that_stays_is_not_traced_again(wet):
    fill = replace(SIDE, name="fill", angle_deg=20.0)
    view = View(replace(wet, lights=(SIDE, fill)), width_px=64, samples=4)
    first = view.trace()
    second = view.trace(replace(wet, lights=(SIDE.moved(angle_deg=30.0), fill)))
    assert second.by_light["fill"] is first.by_light["fill"]
    assert second.by_light["ambient"] is first.by_light["ambient"]
    assert not np.array_equal(second.by_light["lamp"].petal, first.by_light["lamp"].petal)


def test_a_moved_light_gives_the_same_as_a_fresh_view(wet):
    moved = replace(wet, lights=(SIDE.moved(angle_deg=30.0),))
    kept = View(wet, width_px=64, samples=4).trace(moved)
    for a, b in zip(parts(kept), parts(trace_layers(moved, width_px=64, samples=4)), strict=True):
        np.testing.assert_array_equal(a, b)


def test_another_petal_is_refused(wet):
    view = View(wet, width_px=48, samples=4)
    with pytest.raises(SceneError, match="more than its lights"):
        view.trace(replace(wet, petal=plain_petal(0.2)))


def test_too_large_a_picture_is_refused(wet):
    with pytest.raises(PictureError, match="allowed up to about"):
        View(wet, width_px=400_000)


def test_output_is_not_in_the_layer(wet):
    brighter = replace(wet, lights=(replace(SIDE, intensity=50.0),))
    for a, b in zip(
        parts(trace_layers(wet, width_px=48, samples=4)),
        parts(trace_layers(brighter, width_px=48, samples=4)),
        strict=True,
    ):
        np.testing.assert_array_equal(a, b)


def test_maps(wet):
    layers = trace_layers(wet, width_px=96, samples=16)
    maps = layers.maps
    np.testing.assert_allclose(maps.petal_cover + maps.drop_cover + maps.backdrop_cover, 1.0, atol=1e-6)
    assert ((maps.drop_index >= 0) == (maps.drop_cover > 0.5))[np.abs(maps.drop_cover - 0.5) > 0.01].all()
    lit = layers.by_light["lamp"].lit
    seen = maps.petal_cover > 0
    assert np.isnan(lit[~seen]).all()
    assert ((lit[seen] >= 0.0) & (lit[seen] <= 1.0)).all()


def test_the_shadow_lies_away_from_the_light_and_holds_a_bright_spot():
    scene = simple(plain_petal(), one_drop(130.0), (SIDE,), field_mm=5.0)
    layers = trace_layers(scene, width_px=120, samples=16)
    layer = layers.by_light["lamp"]
    dark = layer.lit < 0.05
    columns = np.nonzero(dark)[1]
    assert columns.mean() > 60 + 10  # light from nine o'clock, shadow to the right
    inside = layer.petal[dark].mean(axis=-1)
    assert inside.max() > 10.0 * np.median(inside)


def test_the_inside_of_a_drop_is_brighter_on_the_side_away_from_the_light():
    scene = simple(plain_petal(), one_drop(90.0), (SIDE,), field_mm=2.0)
    water = trace_layers(scene, width_px=96, samples=16).by_light["lamp"].water.mean(axis=-1)
    row = water[28:36].mean(axis=0)
    assert row[52:75].mean() > 1.3 * row[21:44].mean()


def test_more_samples_give_less_noise(wet):
    few = [trace_layers(wet, width_px=48, samples=4, seed=s).by_light["lamp"].petal for s in range(4)]
    many = [trace_layers(wet, width_px=48, samples=64, seed=s).by_light["lamp"].petal for s in range(4)]
    assert np.std(many, axis=0).mean() < 0.5 * np.std(few, axis=0).mean()


def test_a_sketch_leaves_the_room_as_it_was_traced_and_a_whole_trace_does_not():
    """A lamp's head that moves hides other parts of the room: a sketch takes no notice, the picture does."""
    light = Light(angle_deg=40.0, clock=9.0, distance_mm=60.0, intensity=1.0, width_mm=60.0, height_mm=60.0)
    scene = Scene(
        petal=Petal(form="flat", mesh_spacing_mm=2.0, relief_mm=0.0, veins=0),
        drops=Drops(count=0),
        camera=Camera(field_width_mm=20.0, width_px=32),
        lights=(light,),
        ambient=Ambient(illuminance_lx=500.0),
    )
    moved = replace(scene, lights=(light.moved(clock=3.0),))
    view = View(scene, samples=4)
    first = view.trace()
    sketch = view.trace(moved, sketch=True)
    assert sketch.by_light["ambient"] is first.by_light["ambient"]
    assert sketch.by_light["flash"] is not first.by_light["flash"]
    whole = view.trace(moved)
    fresh = View(moved, samples=4).trace()
    for name in ("flash", "ambient"):
        np.testing.assert_array_equal(whole.by_light[name].total(), fresh.by_light[name].total())
    assert np.abs(whole.by_light["ambient"].total() - first.by_light["ambient"].total()).max() > 0.0
