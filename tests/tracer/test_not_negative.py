"""Light is never less than nothing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from lightsim.scene.file.read import load_scene
from lightsim.scene.records import Drops
from lightsim.tracer import View
from tests.tracer.sets import lamp, plain_petal, simple

SCENES = sorted((Path(__file__).parents[2] / "scenes").rglob("*.toml"))


def assert_not_negative(layers):
    for name, layer in layers.by_light.items():
        for part in ("glint", "surface", "water", "petal"):
            assert getattr(layer, part).min() >= 0.0, (name, part)


def crowded(angle_deg):
    """Twelve drops that stand close to one another on a small petal."""
    petal = replace(plain_petal(0.5, 0.0 if angle_deg < 90.0 else 0.3, width_mm=12.0), mesh_spacing_mm=0.2)
    drops = Drops(count=12, diameter_mm=1.2, diameter_spread=1.2, contact_angle_deg=110.0, seed=1)
    flash = lamp(angle_deg=angle_deg, clock=10.0, distance_mm=200.0, width_mm=60.0, height_mm=40.0)
    return simple(petal, drops, (flash,), field_mm=12.0)


@pytest.mark.parametrize("angle_deg", [75.0, 135.0])
def test_at_the_feet_of_drops_in_shadow(angle_deg):
    assert_not_negative(View(crowded(angle_deg), width_px=320, samples=4).trace())


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_in_every_layer_of_every_scene(path):
    scene = load_scene(path)
    view = View(scene, width_px=160, samples=4)
    assert_not_negative(view.trace())
    for angle_deg in (
        (20.0, 110.0) if scene.lights and path.stem != "window-light" else ()
    ):  # too large to move
        key = scene.lights[0].moved(angle_deg=angle_deg)
        assert_not_negative(view.trace(replace(scene, lights=(key, *scene.lights[1:]))))
