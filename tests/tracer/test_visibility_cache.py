"""Visibility cached by blocks of pixels, against a shadow ray for every path."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lightsim.scene.records import Focus, Petal
from lightsim.tracer.area_light import LampWork
from lightsim.tracer.kernels.drop_visibility import STATE
from lightsim.tracer.view import View
from tests.tracer.sets import NO_DROPS, lamp, simple

BLOCK = 4  # pixels


def by_ray(work, block):
    """As `classify_fine`, nothing known of the petal."""
    cache = work.cache
    cache.petal_state[:], cache.petal_share[:], cache.cells[:] = STATE.sharp, -1.0, 0
    cache.horizon.elevation[:] = np.nan
    cache.drops_state[:], cache.drops_share[:] = STATE.sharp, -1.0


def traced(scene):
    """The light that a petal sends to a camera, of one lamp."""
    return View(scene, width_px=192, samples=64).trace().by_light["lamp"].petal.mean(axis=2)


def by_blocks(a):
    """Means over blocks of pixels."""
    rows, columns = (n // BLOCK for n in a.shape)
    return a[: rows * BLOCK, : columns * BLOCK].reshape(rows, BLOCK, columns, BLOCK).mean(axis=(1, 3))


@pytest.mark.parametrize("blur_mm", [0.0, 0.6])
@pytest.mark.parametrize(("angle_deg", "shape"), [(82.0, "rectangle"), (88.0, "round"), (98.0, "rectangle")])
def test_a_wrinkled_petal_gets_the_light_that_its_paths_rays_find(monkeypatch, angle_deg, shape, blur_mm):
    light = lamp(
        angle_deg=angle_deg, clock=2.0, distance_mm=150.0, shape=shape, width_mm=40.0, height_mm=40.0
    )
    petal = Petal(form="cupped", curl=0.15, relief_mm=0.02, mesh_spacing_mm=0.1, gloss=0.0)
    scene = simple(petal, NO_DROPS, (light,), field_mm=6.0)
    focus = Focus(on="offset", offset_mm=blur_mm)
    camera = replace(scene.camera, f_number=5.6, focus=focus, diffraction=False)
    scene = replace(scene, camera=camera, ambient=replace(scene.ambient, illuminance_lx=0.0))
    ours = traced(scene)
    monkeypatch.setattr(LampWork, "classify_fine", by_ray)
    counted = traced(scene)
    lit = by_blocks(counted) > 0.1 * counted.mean()
    dark, bright = np.quantile(by_blocks(ours)[lit] / by_blocks(counted)[lit], [0.01, 0.99])
    assert ours.sum() == pytest.approx(counted.sum(), rel=0.004)
    assert dark > 0.86
    assert bright < 1.16
