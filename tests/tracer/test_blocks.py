"""Shadows by blocks: none where nothing stands in the way, half of the light at a straight edge."""

from __future__ import annotations

import numpy as np

from lightsim.scene.records import Ambient, Camera, Card, Drops, Light, Petal, Scene
from lightsim.tracer import View


def traced(scene: Scene) -> View:
    return View(scene, width_px=160, samples=8)


def test_raised_veins_do_not_shade_themselves() -> None:
    """A light from the lens shades nothing on a petal that faces it, however its veins rise."""
    scene = Scene(
        petal=Petal(form="flat", relief_mm=0.05, veins=15, mesh_spacing_mm=0.15),
        drops=Drops(count=0),
        camera=Camera(field_width_mm=20.0, width_px=160),
        lights=(Light(angle_deg=10.0, distance_mm=300.0, intensity=1.0, width_mm=30.0, height_mm=30.0),),
        cards=(Card(angle_deg=60.0, distance_mm=120.0),),
        ambient=Ambient(illuminance_lx=0.0),
        bodies=False,  # else the lens hides a light that stands so near it
    )
    lit = traced(scene).trace().by_light["flash"].lit
    assert np.nanmin(lit) > 0.98


def test_light_and_shadow_of_a_curved_petal_meet_softly() -> None:
    """The shadow that a cupped petal's wall throws passes through all shares of the light, evenly."""
    scene = Scene(
        petal=Petal(form="cupped", curl=0.8, relief_mm=0.0, mesh_spacing_mm=0.3),
        drops=Drops(count=0),
        camera=Camera(field_width_mm=24.0, width_px=160),
        lights=(Light(angle_deg=65.0, clock=9.0, distance_mm=200.0, intensity=1.0),),
        ambient=Ambient(illuminance_lx=0.0),
    )
    lit = traced(scene).trace().by_light["flash"].lit
    middle = np.nanmean(lit[40:60], axis=0)
    inside = middle[np.isfinite(middle)]
    assert inside.min() < 0.05
    assert inside.max() > 0.95
    assert np.abs(np.diff(inside)).max() < 0.2
