"""A small scene and a tracer that draws, for the tests of sweeps and commands."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lightsim.scene.records import Camera, Drops, Exposure, Light, Petal, Scene
from tests.runs.fake import FakeTracer


@pytest.fixture
def tracer(monkeypatch):
    """A tracer that draws, in the place of the real one."""
    import lightsim.tracer

    fake = FakeTracer()
    for name in ("View", "trace_layers", "trace_strips", "compiled", "QUALITY"):
        monkeypatch.setattr(lightsim.tracer, name, getattr(fake, name))
    return fake


@pytest.fixture
def scene():
    """A flat petal with a few large drops, one flash, 120 pixels wide."""
    return Scene(
        petal=Petal(form="flat", mesh_spacing_mm=2.0, relief_mm=0.0),
        drops=Drops(count=4, diameter_mm=3.0, diameter_spread=1.1),
        camera=Camera(width_px=120),
        exposure=Exposure(),
        lights=(Light(guide_number_m=10.0, power=1 / 16),),
    )


@pytest.fixture
def two_lights(scene):
    """The same with a second, continuous light."""
    fill = Light(name="fill", kind="continuous", illuminance_lx=300.0, angle_deg=40.0, clock=3.0)
    return replace(scene, lights=(*scene.lights, fill))
