"""Light adds: each light's layer is its own, and the dome and cards bring what they should."""

from __future__ import annotations

from dataclasses import replace
from math import pi, radians, sin

import numpy as np
import pytest

from lightsim.optics.fresnel import reflectance
from lightsim.photograph.mix import mix_layers
from lightsim.scene.records import Ambient, Card, Drops
from lightsim.tracer import trace_layers
from tests.tracer.sets import lamp, one_drop, plain_petal, simple

KEY = lamp(angle_deg=60.0, clock=9.0, width_mm=20.0, height_mm=20.0)
FILL = replace(KEY, name="fill", angle_deg=45.0, clock=2.0, shape="round", width_mm=60.0, height_mm=60.0)
RHO = 0.4
GRADIENT = 0.8


def under_a_sky(looks_down_deg: float, drops: Drops, **size):
    """The dome's layer, brighter above, seen from the side or from straight above."""
    scene = simple(plain_petal(RHO, width_mm=12.0), drops, field_mm=2.0, far=bool(drops.placed))
    scene = replace(
        scene,
        camera=replace(scene.camera, looks_down_deg=looks_down_deg),
        ambient=Ambient(illuminance_lx=1.0, gradient=GRADIENT),
    )
    layers = trace_layers(scene, **size)
    return layers.by_light["ambient"], layers.mm_per_px


def test_two_lights_together_are_each_alone_added():
    scene = simple(plain_petal(0.5, 0.2), Drops(count=12, diameter_mm=1.0, seed=3), field_mm=8.0)
    both = trace_layers(replace(scene, lights=(KEY, FILL)), width_px=64, samples=4)
    alone = {
        light.name: trace_layers(replace(scene, lights=(light,)), width_px=64, samples=4)
        for light in (KEY, FILL)
    }
    for name, layers in alone.items():
        np.testing.assert_array_equal(both.by_light[name].total(), layers.by_light[name].total())
    whole = {"lamp": np.eye(3, dtype=np.float32), "fill": 3.0 * np.eye(3, dtype=np.float32)}
    added = sum(mix_layers(alone[name], {name: matrix}) for name, matrix in whole.items())
    np.testing.assert_allclose(mix_layers(both, whole), added, rtol=1e-5)


def test_a_sky_brighter_above_on_a_petal_that_lies_flat():
    """Radiance (1 + g cos) L over the upper half: irradiance pi L (1 + 2 g / 3), by the integral of cos^2."""
    layer, _ = under_a_sky(90.0, Drops(count=0), width_px=48, samples=16)
    assert layer.petal.mean() * pi / RHO == pytest.approx(1.0 + 2.0 / 3.0 * GRADIENT, rel=2e-3)


@pytest.mark.parametrize("phase_deg", [30.0, 60.0, 80.0])
def test_a_sky_brighter_above_mirrored_in_a_drop(phase_deg):
    """At R sin(t/2) from the middle a drop mirrors the direction t off the lens axis, F(t/2) of it (Hecht,
    Optics, ch. 4 and 5): above the middle the sky, below it the ground.
    """
    layer, mm_per_px = under_a_sky(0.0, one_drop(150.0), width_px=120, samples=64)
    h, w, _ = layer.surface.shape
    off_px = 0.75 * sin(radians(phase_deg) / 2.0) / mm_per_px
    share = float(reflectance(phase_deg / 2.0)) / pi
    for side, tilt in ((-1.0, 1.0), (1.0, -1.0)):
        row, column = round(h / 2.0 + side * off_px), w // 2
        got = layer.surface[row - 1 : row + 1, column - 3 : column + 3].mean()
        assert got == pytest.approx(share * (1.0 + tilt * GRADIENT * sin(radians(phase_deg))), rel=0.04)


def test_a_card_brightens_the_shadow_most():
    bare = simple(plain_petal(RHO), one_drop(130.0), (KEY,), field_mm=5.0)
    card = Card(angle_deg=60.0, clock=3.0, distance_mm=120.0)
    without = trace_layers(bare, width_px=96, samples=16).by_light["lamp"]
    with_card = trace_layers(replace(bare, cards=(card,)), width_px=96, samples=16).by_light["lamp"]
    assert without.lit is not None
    shadow, open_petal = np.asarray(without.lit < 0.02), np.asarray(without.lit > 0.98)
    assert shadow.sum() > 100
    gain = (with_card.petal - without.petal).mean(axis=-1)
    # the card's light is soft: the shadow gets nearly as much of it as the open petal, and had far less
    assert 0.4 < np.median(gain[shadow]) / np.median(gain[open_petal]) < 1.1
    ratio = np.median(with_card.petal[shadow]) / np.median(without.petal[shadow])
    assert ratio > 2.0 * np.median(with_card.petal[open_petal]) / np.median(without.petal[open_petal])
    # what shows as lit is what the lamp itself reaches
    np.testing.assert_array_equal(with_card.lit, without.lit)


def test_another_seed_is_another_noise_about_the_same_mean():
    scene = simple(plain_petal(0.5, 0.2), Drops(count=12, diameter_mm=1.0, seed=3), (KEY,), field_mm=8.0)
    first, second = (
        trace_layers(scene, width_px=64, samples=16, seed=s).by_light["lamp"].total() for s in (0, 1)
    )
    assert not np.array_equal(first, second)
    assert first.mean() == pytest.approx(second.mean(), rel=0.01)
