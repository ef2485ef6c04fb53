"""Light followed from the source through the drops: it is all there, wherever it is put down."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from lightsim.scene.records import Drops, PlacedDrop
from lightsim.tracer.area_light import LampWork
from lightsim.tracer.first_irradiance import FirstIrradiance
from lightsim.tracer.kernels.near_transfer import REACH
from lightsim.tracer.view import View
from tests.tracer.sets import lamp, one_drop, plain_petal, simple

N = 1.333
RADIUS_MM = 0.75
FAR = lamp(angle_deg=0.0, distance_mm=2000.0, width_mm=60.0, height_mm=60.0)


def first_of(drops: Drops, light) -> tuple[FirstIrradiance, View, float]:
    """The lamp's first light, and its irradiance on the clear petal, both per unit of output."""
    view = View(simple(plain_petal(0.5), drops, (light,), field_mm=8.0), width_px=24, samples=1)
    found = LampWork(view, view.stage.lights[0]).first()
    beam = 1e6 / light.distance_mm**2
    return found, view, beam


def mirrored_share() -> float:
    """Share of a parallel beam on a sphere's disc that its surface mirrors (Fresnel; Born and Wolf, 1.5)."""
    b = (np.arange(20_000) + 0.5) / 20_000
    i, r = np.arcsin(b), np.arcsin(b / N)
    across = np.sin(i - r) / np.sin(i + r)
    along = np.tan(i - r) / np.tan(i + r)
    return float(np.mean(2.0 * b * 0.5 * (across**2 + along**2)))


def test_what_enters_a_hemisphere_from_above_arrives_on_its_base():
    first, view, beam = first_of(one_drop(90.0, 2.0 * RADIUS_MM), FAR)
    arrives = float((first.base * view.indirect.areas.base).sum())
    enters = beam * pi * RADIUS_MM**2 * (1.0 - mirrored_share())
    assert arrives == pytest.approx(enters, rel=0.01)
    np.testing.assert_allclose(first.base, first.own_base, atol=0.02 * beam)


@pytest.mark.parametrize("contact_angle_deg", [60.0, 90.0, 130.0])
def test_the_places_of_a_drop_add_up_to_its_base_and_the_petal_round_it(contact_angle_deg):
    _, view, _ = first_of(one_drop(contact_angle_deg, 2.0 * RADIUS_MM), FAR)
    rim = np.sin(np.radians(contact_angle_deg))
    areas = view.indirect.areas
    assert areas.base.sum() == pytest.approx(pi * (rim * RADIUS_MM) ** 2, rel=1e-3)
    assert areas.ring.sum() == pytest.approx(pi * (REACH.outer**2 - rim**2) * RADIUS_MM**2, rel=1e-3)
    assert areas.point.sum() == pytest.approx(30.0**2, rel=1e-6)


def test_a_drop_in_the_light_of_another_is_given_what_that_one_passes_on():
    pair = Drops(
        count=0, placed=(PlacedDrop(-0.7, 0.0, 1.2), PlacedDrop(0.75, 0.2, 1.4)), contact_angle_deg=110.0
    )
    side = replace(FAR, angle_deg=75.0, clock=9.0)
    first, view, _ = first_of(pair, side)
    passed_on = ((first.base - first.own_base) * view.indirect.areas.base).sum(axis=1)
    own = (first.own_base * view.indirect.areas.base).sum(axis=1)
    nearer, farther = np.argsort(view.stage.drops.centre[:, 0])
    assert passed_on[farther] > 0.1 * own[farther]
    assert passed_on[nearer] < 0.1 * own[nearer]


def test_light_behind_the_petal_puts_nothing_down_in_front():
    first, _, _ = first_of(one_drop(100.0, 2.0 * RADIUS_MM), replace(FAR, angle_deg=170.0))
    assert not first.base.any()
    assert not first.ring.any()
