"""How far two pictures of one set, of other seeds, lie apart where a drop gathers light."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lightsim.scene.records import Focus
from lightsim.tracer import trace_layers
from tests.tracer.sets import lamp, one_drop, plain_petal, simple

LAMP = lamp(angle_deg=60.0, distance_mm=150.0, width_mm=30.0, height_mm=30.0)
SET = simple(plain_petal(0.5), one_drop(110.0), (LAMP,), field_mm=5.0)


def grain(samples: int) -> float:
    """Of the bright spot on the petal: spread between seeds over its mean."""
    one, other = (
        trace_layers(SET, width_px=192, samples=samples, seed=seed).by_light["lamp"].petal.mean(axis=-1)
        for seed in (0, 1)
    )
    mean = 0.5 * (one + other)
    bright = mean > 1.5 * np.median(mean)
    assert bright.sum() > 50
    return float(np.sqrt(np.mean((one - other)[bright] ** 2) / 2.0) / mean[bright].mean())


def test_a_fine_picture_of_gathered_light_has_little_grain():
    """A twentieth of the level is about what the eye sees of speckle (common practice, no source)."""
    fine = grain(64)
    assert fine < 0.05
    assert fine < 0.6 * grain(16)


def test_no_speckle_where_a_drop_gathers_a_wide_light():
    """Beside a drop, at the edge of the picture that it throws of a window: light that is found by chance
    would show as single bright pixels, and did, up to the petal's own level."""
    wide = lamp(angle_deg=45.0, distance_mm=1500.0, width_mm=1000.0, height_mm=1300.0)
    window = simple(plain_petal(0.5), one_drop(110.0), (wide,), field_mm=5.0)
    one, other = (trace_layers(window, width_px=192, samples=64, seed=seed) for seed in (0, 1))
    bare = one.maps.petal_cover > 0.999
    first, second = (layers.by_light["lamp"].petal.mean(axis=-1)[bare] for layers in (one, other))
    mean = 0.5 * (first + second)
    level = float(np.median(mean))
    lit = np.abs(mean / level - 1.0) > 0.1
    assert lit.sum() > 1000
    apart = np.abs(first - second)[lit] / np.maximum(mean[lit], level)
    assert apart.max() < 0.4
    assert np.mean(apart > 0.1) < 0.01


def test_no_speckle_in_a_drop_out_of_focus():
    """A petal that leans to a flash: what a drop gathers on its own base is a crescent, spread by the blur.
    Found by points of the light it stood there as single bright pixels, up to 0.9 of the level off."""
    small = lamp(angle_deg=50.0, clock=9.0, distance_mm=200.0, width_mm=60.0, height_mm=40.0)
    leaning = replace(plain_petal(0.5), tilt_deg=20.0, tilt_clock=9.0)
    sharp = simple(leaning, one_drop(110.0), (small,), field_mm=4.0)
    camera = replace(sharp.camera, f_number=8.0, focus=Focus(on="offset", offset_mm=1.0))
    blurred = replace(sharp, camera=camera)
    pictures = [trace_layers(blurred, width_px=192, samples=16, seed=seed) for seed in range(3)]
    inside = pictures[0].maps.drop_cover > 0.5
    assert inside.sum() > 3000
    water = np.array([one.by_light["lamp"].water.mean(axis=-1)[inside] for one in pictures])
    mean = water.mean(axis=0)
    apart = np.abs(water - mean).max(axis=0) / np.maximum(mean, np.median(mean))
    assert np.sqrt(np.mean(water.var(axis=0, ddof=1))) < 0.04 * mean.mean()
    assert apart.max() < 0.4
    assert np.mean(apart > 0.1) < 0.02
