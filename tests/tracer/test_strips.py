"""A scene traced strip by strip gives what it gives at once, bit by bit, whatever reaches over the edges."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lightsim import memory
from lightsim.errors import PictureError
from lightsim.picture import Layers
from lightsim.scene.records import Ambient, Camera, Card, Drops, Light, Petal, Scene
from lightsim.tracer import View, path_blocks, trace_layers, trace_strips

WIDTH_PX, SAMPLES = 144, 4
PARTS = ("glint", "surface", "water", "petal", "lit")
MAPS = ("petal_cover", "drop_cover", "backdrop_cover", "drop_index", "depth_mm")
RAKING = Light(angle_deg=60.0, clock=12.0, distance_mm=150.0, intensity=1.0, width_mm=30.0, height_mm=20.0)
FRONT = Light(angle_deg=20.0, clock=12.0, distance_mm=200.0, intensity=1.0)
LAMP = Light(name="lamp", kind="continuous", angle_deg=40.0, clock=3.0, distance_mm=300.0, intensity=1.0)
WET = Scene(
    petal=Petal(form="cupped", curl=0.35, mesh_spacing_mm=0.5),
    drops=Drops(count=30, diameter_mm=1.2, seed=3),
    camera=Camera(field_width_mm=16.0, f_number=16.0, width_px=WIDTH_PX),
    lights=(RAKING,),
)
SCENES = {
    "one light": WET,
    "two lights, two cards, the room": replace(
        WET,
        lights=(RAKING, LAMP),
        cards=(Card(angle_deg=60.0, distance_mm=120.0), Card(name="low", angle_deg=80.0, clock=6.0)),
        ambient=Ambient(illuminance_lx=100.0, gradient=0.7),
    ),
    "a lamp that shines on a card alone, and a lamp": replace(
        WET,
        lights=(replace(RAKING, position_mm=(75.0, 0.0, -10.0), aim_mm=(104.0, 0.0, 60.0)), LAMP),
        cards=(Card(angle_deg=60.0, clock=3.0, distance_mm=120.0),),
    ),
    "out of focus": replace(WET, camera=replace(WET.camera, f_number=2.0)),
    "no light but the room's": replace(WET, lights=()),
}


@pytest.fixture(autouse=True)
def low_blocks(monkeypatch):
    """Blocks of 16 rows, as in a picture of 24 megapixels."""
    monkeypatch.setattr(path_blocks, "ENDS_AT_ONCE", 1)


def together(scene: Scene) -> Layers:
    """The strips put together."""
    strips = list(trace_strips(scene, width_px=WIDTH_PX, samples=SAMPLES))
    assert [strip.first_row for strip in strips] == list(range(0, strips[0].shape[0], 16))
    first = strips[0].layers

    def stacked(of, name):
        arrays = [getattr(of(strip.layers), name) for strip in strips]
        return None if arrays[0] is None else np.concatenate(arrays)

    by_light = {
        light: replace(layer, **{part: stacked(lambda one, n=light: one.by_light[n], part) for part in PARTS})
        for light, layer in first.by_light.items()
    }
    maps = replace(first.maps, **{name: stacked(lambda one: one.maps, name) for name in MAPS})
    return Layers(by_light, maps, first.mm_per_px)


@pytest.mark.parametrize("name", SCENES)
def test_strips_are_the_whole_s(name):
    at_once, strips = trace_layers(SCENES[name], width_px=WIDTH_PX, samples=SAMPLES), together(SCENES[name])
    assert strips.mm_per_px == at_once.mm_per_px
    assert list(strips.by_light) == list(at_once.by_light)
    for light, layer in at_once.by_light.items():
        for part in PARTS:
            found, wanted = getattr(strips.by_light[light], part), getattr(layer, part)
            if wanted is None:
                assert found is None
            elif part == "glint":  # thrown highlights are added up in another order
                np.testing.assert_allclose(found, wanted, rtol=1e-5, atol=1e-6 * wanted.max())
            else:
                np.testing.assert_array_equal(found, wanted)
    for one in MAPS:
        np.testing.assert_array_equal(getattr(strips.maps, one), getattr(at_once.maps, one))
    np.testing.assert_array_equal(strips.maps.drops.centre_px, at_once.maps.drops.centre_px)


def test_highlights_out_of_focus_are_thrown_into_all_strips():
    glint = together(SCENES["out of focus"]).by_light["flash"].glint
    edges = range(16, len(glint), 16)
    assert any((glint[edge - 1] > 0.0).any() and (glint[edge] > 0.0).any() for edge in edges)


def test_blur_that_reaches_beyond_the_blocks_in_memory_costs_no_light(monkeypatch):
    """With the least memory far shadows are found path by path: the same light, with a little more grain."""
    petal = Petal(form="flat", tilt_deg=65.0, tilt_clock=12.0, mesh_spacing_mm=1.0)
    scene = replace(
        WET,
        petal=petal,
        drops=Drops(count=0),
        camera=replace(WET.camera, field_width_mm=24.0, f_number=1.0),
        lights=(FRONT,),
    )
    at_once = trace_layers(scene, width_px=WIDTH_PX, samples=SAMPLES).by_light["flash"]
    monkeypatch.setattr(memory, "PENDING_BYTES", 0)
    strips = together(scene).by_light["flash"]
    assert not np.array_equal(strips.petal, at_once.petal)
    assert strips.petal.mean() == pytest.approx(at_once.petal.mean(), rel=0.003)
    rows = at_once.petal.mean(axis=(1, 2))
    np.testing.assert_allclose(strips.petal.mean(axis=(1, 2)), rows, atol=0.05 * rows.max())


def test_progress_comes_to_its_end():
    told = []
    for _ in trace_strips(WET, width_px=48, samples=1, progress=told.append):
        pass
    assert told == sorted(told)
    assert told[-1] == 1.0


@pytest.mark.parametrize("calls", [1, 3, 5])
def test_progress_that_raises_ends_even_the_preparation(calls):
    told = []

    def report(share):
        told.append(share)
        if len(told) == calls:
            raise InterruptedError

    with pytest.raises(InterruptedError):
        View(WET, width_px=48, samples=1, progress=report)
    assert told == [0.0] * calls


def test_what_does_not_fit_even_so_is_refused(monkeypatch):
    monkeypatch.setattr(memory, "free_bytes", lambda: 2_000_000_000)
    with pytest.raises(PictureError, match=r"width: found 60000 pixels.* allowed up to about \d+ pixels"):
        trace_strips(WET, width_px=60_000)
