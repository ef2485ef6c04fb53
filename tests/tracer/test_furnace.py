"""White furnace: in a uniform surround nothing that absorbs nothing can be seen (radiance scales with n^2
inside the water, and the factors cancel on the way out)."""

from __future__ import annotations

from math import pi
from pathlib import Path

import numpy as np
import pytest

from lightsim.scene.file.read import load_scene
from lightsim.tracer import trace_layers
from tests.tracer.sets import one_drop, plain_petal, simple

SCENES = Path(__file__).parents[2] / "scenes"


@pytest.mark.parametrize("contact_angle_deg", [60.0, 90.0, 110.0, 150.0])
def test_a_white_petal_and_its_drop_vanish(contact_angle_deg):
    scene = simple(plain_petal(1.0), one_drop(contact_angle_deg), field_mm=2.5)
    layers = trace_layers(scene, width_px=64, samples=64)
    radiance = layers.by_light["ambient"].total()[..., 0] * pi
    inside = layers.maps.drop_cover > 0.99
    assert inside.sum() > 100
    assert radiance[layers.maps.petal_cover > 0.99].mean() == pytest.approx(1.0, abs=0.002)
    assert radiance[inside].mean() == pytest.approx(1.0, abs=0.01)
    assert np.abs(radiance - 1.0).max() < 0.15


def test_the_furnace_scene_says_what_its_comment_says():
    scene = load_scene(SCENES / "checks" / "furnace.toml")
    layers = trace_layers(scene, width_px=96, samples=16)
    assert layers.by_light["ambient"].total().mean() * pi == pytest.approx(1.0, abs=0.01)
