"""The dry petal's radiance against the laws of radiometry."""

from __future__ import annotations

from math import cos, pi, radians

import pytest

from lightsim.optics.radiometry import centred_rectangle_factor
from lightsim.scene.records import Ambient, Card
from lightsim.tracer import trace_layers
from tests.tracer.sets import lamp, plain_petal, simple

RHO = 0.4


def centre(scene, light="lamp"):
    layers = trace_layers(scene, width_px=48, samples=16)
    h, w = layers.shape
    return float(layers.by_light[light].petal[h // 2 - 2 : h // 2 + 2, w // 2 - 2 : w // 2 + 2].mean())


@pytest.mark.parametrize("angle_deg", [10, 40, 70])
@pytest.mark.parametrize("distance_mm", [200.0, 400.0])
def test_cosine_and_inverse_square(angle_deg, distance_mm):
    """E = I cos / d^2, L = rho E / pi (Lambert 1760)."""
    light = lamp(angle_deg=angle_deg, distance_mm=distance_mm, width_mm=4.0, height_mm=4.0)
    got = centre(simple(plain_petal(RHO), lights=(light,)))
    expected = RHO / pi * cos(radians(angle_deg)) * 1e6 / distance_mm**2
    assert got == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("shape", ["rectangle", "round"])
def test_a_near_face_by_its_configuration_factor(shape):
    """Howell, Catalog of Radiation Heat Transfer Configuration Factors: parallel rectangle and disc. Lit
    from behind, so that the lens is not in the way."""
    light = lamp(angle_deg=180.0, distance_mm=60.0, width_mm=80.0, height_mm=80.0, shape=shape)
    got = centre(simple(plain_petal(0.3, RHO), lights=(light,)))
    area_m2 = (80.0**2 if shape == "rectangle" else pi * 40.0**2) * 1e-6
    factor = (
        centred_rectangle_factor(80.0, 80.0, 60.0) if shape == "rectangle" else 40.0**2 / (40.0**2 + 60.0**2)
    )
    assert got == pytest.approx(RHO / area_m2 * float(factor), rel=5e-3)


def test_a_petal_glows_when_lit_from_behind_and_not_through_its_front():
    """Radiance tau E / pi on the far side."""
    light = lamp(angle_deg=180.0, distance_mm=300.0, width_mm=4.0, height_mm=4.0)
    got = centre(simple(plain_petal(0.3, 0.25), lights=(light,)))
    assert got == pytest.approx(0.25 / pi * 1e6 / 300.0**2, rel=2e-3)
    assert centre(simple(plain_petal(0.3, 0.0), lights=(light,))) == pytest.approx(0.0, abs=1e-9)


def test_the_dome_gives_pi_times_its_radiance():
    """A uniform dome of 1 lx: L = rho / pi whichever way the petal faces."""
    assert centre(simple(plain_petal(RHO)), "ambient") == pytest.approx(RHO / pi, rel=1e-3)


def test_a_gradient_dome_on_an_upright_petal():
    """Radiance (1 + g cos) is even about the horizon of an upright face: the uniform dome's irradiance."""
    scene = simple(plain_petal(RHO))
    tilted = simple(plain_petal(RHO)).__class__(
        **{**scene.__dict__, "ambient": Ambient(illuminance_lx=1.0, gradient=0.8)}
    )
    assert centre(tilted, "ambient") == pytest.approx(RHO / pi, rel=0.01)


def test_a_card_brightens_the_petal():
    light = lamp(angle_deg=75.0, clock=9.0)
    bare = simple(plain_petal(RHO), lights=(light,))
    with_card = simple(
        plain_petal(RHO), lights=(light,), cards=(Card(angle_deg=60.0, clock=3.0, distance_mm=120.0),)
    )
    assert 1.005 < centre(with_card) / centre(bare) < 1.5
