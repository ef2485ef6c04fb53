"""The traced and measured highlight of a small distant disc against the closed forms.

The mirror law on a sphere: the highlight lies where the normal halves the angle between camera and light
(Hecht, Optics, ch. 5), so its place is R sin(t/2), its width R cos(t/2) a/2, its height R a / (2 cos(t/2))
and its luminance the Fresnel reflectance at t/2 (Born and Wolf, Principles of Optics, 1.5).
"""

from __future__ import annotations

from functools import cache
from math import cos, pi, radians, sin, tan

import numpy as np
import pytest

from lightsim.measures import measure_frame
from lightsim.measures.measure_records import DropMeasures
from lightsim.measures.patch_shape import RECTANGLE, ROUND
from lightsim.optics.fresnel import reflectance
from lightsim.tracer import trace_layers
from tests.tracer.sets import as_photograph, lamp, one_drop, plain_petal, simple

ALPHA = radians(16.0)
RADIUS_MM = 0.75
DISTANCE_MM = 500.0
FACE_MM = 2.0 * DISTANCE_MM * tan(ALPHA / 2.0)
ANGLES = (20, 60, 90, 120)


@cache
def traced(angle_deg: int) -> tuple[DropMeasures, np.ndarray, float]:
    light = lamp(
        shape="round",
        width_mm=FACE_MM,
        height_mm=FACE_MM,
        distance_mm=DISTANCE_MM,
        angle_deg=angle_deg,
        clock=2.0,
    )
    # a petal small enough that it hides no light from behind the drop
    scene = simple(plain_petal(width_mm=2.2), one_drop(150.0), (light,), field_mm=2.4, far=True)
    layers = trace_layers(scene, width_px=480, samples=16)
    photo = as_photograph(layers, "lamp")
    found = measure_frame(photo, light_clock=2.0, light_angle_deg=angle_deg, light_outline=ROUND)
    return found.drops[0], layers.by_light["lamp"].glint, layers.mm_per_px


@pytest.mark.parametrize("angle_deg", ANGLES)
def test_place(angle_deg):
    found, _, _ = traced(angle_deg)
    assert found.highlight_place_share == pytest.approx(sin(radians(angle_deg) / 2.0), abs=0.01)
    assert found.highlight_clock == pytest.approx(2.0, abs=0.05)


@pytest.mark.parametrize("angle_deg", ANGLES)
def test_width_height_and_aspect(angle_deg):
    found, _, _ = traced(angle_deg)
    half = cos(radians(angle_deg) / 2.0)
    assert found.highlight_short_mm == pytest.approx(RADIUS_MM * ALPHA / 2.0 * half, rel=0.03)
    assert found.highlight_long_mm == pytest.approx(RADIUS_MM * ALPHA / 2.0 / half, rel=0.03)
    assert found.highlight_aspect == pytest.approx(1.0 / half**2, rel=0.04)


@pytest.mark.parametrize("angle_deg", [30, 75])
def test_a_rectangular_face_has_its_full_widths(angle_deg):
    """At 3 o'clock the face's width lies in the plane of light and lens axis, its height across it."""
    sides = 2.0 * DISTANCE_MM * np.tan(np.radians([10.0, 16.0]) / 2.0)
    light = lamp(
        width_mm=sides[0], height_mm=sides[1], distance_mm=DISTANCE_MM, angle_deg=angle_deg, clock=3.0
    )
    scene = simple(plain_petal(width_mm=2.2), one_drop(150.0), (light,), field_mm=2.4, far=True)
    photo = as_photograph(trace_layers(scene, width_px=480, samples=16), "lamp")
    found = measure_frame(photo, light_clock=3.0, light_angle_deg=angle_deg, light_outline=RECTANGLE).drops[0]
    half = cos(radians(angle_deg) / 2.0)
    assert found.highlight_short_mm == pytest.approx(RADIUS_MM * radians(10.0) / 2.0 * half, rel=0.02)
    assert found.highlight_long_mm == pytest.approx(RADIUS_MM * radians(16.0) / 2.0 / half, rel=0.02)


@pytest.mark.parametrize("angle_deg", ANGLES)
def test_area_is_the_same_at_every_angle(angle_deg):
    """Projected area R^2 Omega / 4 with Omega = 2 pi (1 - cos(a/2)): exact for distant source and camera."""
    found, _, _ = traced(angle_deg)
    omega = 2.0 * pi * (1.0 - cos(ALPHA / 2.0))
    assert found.highlight_area_mm2 == pytest.approx(RADIUS_MM**2 * omega / 4.0, rel=0.03)


@pytest.mark.parametrize("angle_deg", ANGLES)
def test_luminance_is_the_fresnel_share_of_the_sources(angle_deg):
    """Mean over the highlight, from its sum and the closed form of its area."""
    _, glint, mm_per_px = traced(angle_deg)
    source = 1e6 / (pi * (FACE_MM / 2.0) ** 2)
    area_mm2 = RADIUS_MM**2 * 2.0 * pi * (1.0 - cos(ALPHA / 2.0)) / 4.0
    mean = float(glint.sum()) * mm_per_px**2 / area_mm2
    assert mean / source == pytest.approx(float(reflectance(angle_deg / 2.0)), rel=0.04)
