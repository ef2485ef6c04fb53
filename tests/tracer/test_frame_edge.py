"""What a pixel shows does not depend on where the frame ends: the same set in a higher frame."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from lightsim.picture import luminance
from lightsim.scene.file.read import load_scene
from lightsim.tracer import trace_layers

SCENES = Path(__file__).parents[2] / "scenes"
WIDTH_PX, STRIP_PX, BLOCK_PX = 192, 8, 16
SEEDS = 3


def lower_edge(scene, sensor_height_mm, wanted_rows):
    """Means of blocks of the lowest rows of a frame `wanted_rows` high, by seed (seeds, blocks)."""
    framed = replace(scene, camera=replace(scene.camera, sensor_mm=(36.0, sensor_height_mm)))
    found = []
    for seed in range(SEEDS):
        layers = trace_layers(framed, width_px=WIDTH_PX, samples=16, seed=seed)
        light = sum(luminance(layers.by_light[light.name].total()) for light in scene.lights)
        light = light + luminance(layers.by_light["ambient"].total())
        end = (len(light) + wanted_rows) // 2
        strip = light[end - STRIP_PX : end]
        found.append(strip.reshape(STRIP_PX, -1, BLOCK_PX).mean(axis=(0, 2)))
    return np.array(found)


@pytest.mark.parametrize(("angle_deg", "count"), [(75.0, 90), (105.0, 90), (60.0, 600)])
def test_lower_rows_are_those_of_a_higher_frame(angle_deg, count):
    scene = load_scene(SCENES / "dewy-petal.toml")
    scene = replace(
        scene,
        lights=tuple(light.moved(angle_deg=angle_deg) for light in scene.lights),
        drops=replace(scene.drops, count=count),
    )
    rows = WIDTH_PX // 3 * 2
    low, high = lower_edge(scene, 24.0, rows), lower_edge(scene, 48.0, rows)
    noise = np.hypot(low.std(axis=0, ddof=1), high.std(axis=0, ddof=1)) / SEEDS**0.5
    ratio = low.mean(axis=0) / high.mean(axis=0)
    print(angle_deg, count, ratio.round(3), (noise / high.mean(axis=0)).round(3))
    assert ratio.mean() == pytest.approx(1.0, abs=0.01)
    assert np.all(np.abs(low.mean(axis=0) - high.mean(axis=0)) < 0.03 * high.mean(axis=0) + 4.0 * noise)
