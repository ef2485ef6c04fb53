"""How far two pictures of one set, of other seeds, lie apart where a drop gathers light."""

from __future__ import annotations

import numpy as np

from lightsim.trace import trace
from tests.trace.sets import lamp, one_drop, plain_petal, simple

LAMP = lamp(angle_deg=60.0, distance_mm=150.0, width_mm=30.0, height_mm=30.0)
SET = simple(plain_petal(0.5), one_drop(110.0), (LAMP,), field_mm=5.0)


def grain(samples: int) -> float:
    """Of the bright spot on the petal: spread between seeds over its mean."""
    one, other = (
        trace(SET, width_px=192, samples=samples, seed=seed).by_light["lamp"].petal.mean(axis=-1)
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
