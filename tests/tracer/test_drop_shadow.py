"""Penumbrae of drops, against a count of rays from points all over the face, in plain
vectors."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lightsim.scene.records import Drops, PlacedDrop
from lightsim.tracer import kernels
from lightsim.tracer.area_light import lamp_of
from lightsim.tracer.kernels.box_tree import STACK
from lightsim.tracer.kernels.drop_spheres import SKIRT, Cone
from lightsim.tracer.kernels.drop_visibility import CANDIDATES, OccluderList
from lightsim.tracer.view import View
from tests.tracer.grids import points_of
from tests.tracer.inner import Room
from tests.tracer.naive import dots, unit
from tests.tracer.sets import lamp, one_drop, plain_petal, simple

cast = Room(kernels.drop_shadow)
faces = Room(kernels.emitters)
spheres = Room(kernels.drop_spheres)
CLOSE = PlacedDrop(1.6, 0.5, 1.2)


def lit(contact_deg, angle_deg, shape, second):
    """A drop or two and a light's face as the kernels know them."""
    width, height = (120.0, 120.0) if shape == "round" else (120.0, 80.0)  # so wide that it weighs unevenly
    light = lamp(
        angle_deg=angle_deg, clock=2.0, distance_mm=150.0, shape=shape, width_mm=width, height_mm=height
    )
    drops = one_drop(contact_deg)
    if second:
        drops = replace(drops, placed=(*drops.placed, CLOSE))
    view = View(simple(plain_petal(), drops, (light,), field_mm=8.0), width_px=24, samples=1)
    return view.packed.drops, faces.face_of(lamp_of(view.stage.lights[0]))


def counted(drops, face, o, n, side=200):
    """The share by rays to the middles of side x side cells of the face."""
    p = points_of(face, side) - o
    far2 = dots(p, p)
    weight = np.maximum(p @ n, 0.0) * np.maximum(-(p @ np.array(face.out)), 0.0) / far2**2
    d = unit(p)
    free = np.ones(len(p), dtype=bool)
    for c, r, foot, normal in zip(drops.centre, drops.radius, drops.foot, drops.normal, strict=True):
        m = c - o
        b = d @ m
        square = r * r - (m @ m - b * b)
        half = np.sqrt(np.maximum(square, 0.0))
        enters, leaves = (((o + t[:, None] * d - foot) @ normal) / r for t in (b - half, b + half))
        free &= ~((square > 0.0) & (b > 0.0) & ((enters > -SKIRT) | (leaves > SKIRT)))
    return weight[free].sum() / weight.sum() if weight.any() else 1.0


@pytest.mark.parametrize(
    ("at", "most", "usual", "mean"),
    [
        ((), 0.04, 0.003, 3e-4),  # between outlines
        ((0.125, 0.375, 0.625, 0.875), 0.02, 0.003, 4e-4),
        ((0.5,), 0.08, 0.006, 1e-3),
    ],
)
@pytest.mark.parametrize("second", [False, True])
@pytest.mark.parametrize("shape", ["rectangle", "round"])
@pytest.mark.parametrize(
    ("contact_deg", "angle_deg"), [(60.0, 75.0), (90.0, 60.0), (110.0, 45.0), (150.0, 20.0)]
)
def test_penumbra_of_drops_is_that_of_rays(contact_deg, angle_deg, shape, second, at, most, usual, mean):
    drops, face = lit(contact_deg, angle_deg, shape, second)
    foot, up = drops.foot[0], drops.normal[0]
    away = -(np.array(face.centre) - foot)
    away = unit(away - away @ up * up)
    aside = np.cross(up, away)
    r = drops.radius[0]
    rng = np.random.default_rng(4)
    blockers = OccluderList(drops, np.arange(len(drops.radius), dtype=np.int32), len(drops.radius))
    in_between, off = 0, []
    for along, across, tilt, sunk in rng.uniform((-0.5, -2.5, 0.0, -0.5), (4.0, 2.5, 1.6, 0.5), (250, 4)):
        o = foot + r * (along * away + across * aside - max(sunk, 0.0) * up)  # a petal may fall away
        if np.any(np.linalg.norm(drops.centre - o, axis=1) < drops.radius * 1.001):
            continue
        n = unit(up + max(tilt - 1.0, 0.0) * away)  # the light may stand low, partly below
        wanted = counted(drops, face, o, n)
        in_between += 0.02 < wanted < 0.98
        place = (blockers, face, tuple(o), tuple(n))
        if at:
            found = np.mean([cast.unshaded_by_few_strips(*place, one) for one in at])
        else:
            found = cast.unshaded_by_drops(*place)
        off.append(found - wanted)
    assert in_between > 15
    assert np.abs(off).max() < most
    assert np.sqrt(np.mean(np.square(off))) < usual
    assert abs(np.mean(off)) < mean


def test_penumbra_under_a_near_light_has_no_steps():
    """A face of 100 x 80 mm, 60 mm away and partly below the petal, seen past a drop at growing distances."""
    light = lamp(angle_deg=75.0, clock=9.0, distance_mm=60.0, width_mm=100.0, height_mm=80.0)
    view = View(simple(plain_petal(), one_drop(110.0), (light,)), width_px=24, samples=1)
    drops, face = view.packed.drops, faces.face_of(lamp_of(view.stage.lights[0]))
    blockers, up = OccluderList(drops, np.zeros(1, dtype=np.int32), 1), (0.0, 0.0, 1.0)
    for aside in (0.0, 0.4):
        for away in np.linspace(0.9, 2.2, 40):
            o = np.array([away, aside, 0.0])
            wanted = counted(drops, face, o, np.array(up), side=400)
            assert cast.unshaded_by_drops(blockers, face, tuple(o), up) == pytest.approx(wanted, abs=0.005)


def test_a_crowd_of_drops_shades_a_place_as_rays_say():
    """A face of 150 x 150 mm, 90 mm away, among 600 drops of which more than a hundred lie in its cone."""
    light = lamp(angle_deg=60.0, clock=2.0, distance_mm=90.0, width_mm=150.0, height_mm=150.0)
    crowd = Drops(count=600, diameter_mm=0.3, seed=5)
    view = View(simple(plain_petal(), crowd, (light,), field_mm=6.0), width_px=24, samples=1)
    drops, face = view.packed.drops, faces.face_of(lamp_of(view.stage.lights[0]))
    up, rng, off = (0.0, 0.0, 1.0), np.random.default_rng(2), []
    room, stack = np.empty(CANDIDATES, dtype=np.int32), np.empty(STACK, dtype=np.int32)
    for o in np.column_stack([rng.uniform(-2.0, 2.0, (100, 2)), np.zeros(100)]):
        if (np.linalg.norm(drops.centre - o, axis=1) < 1.05 * drops.radius).any():
            continue
        to = np.array(face.centre) - o
        far = float(np.linalg.norm(to))
        cone = Cone(tuple(o), tuple(to / far), far, 0.0, face.spread / far)
        many = spheres.near_cone(drops, cone, -1, room, stack)
        assert 100 < many < CANDIDATES
        found = cast.unshaded_by_drops(OccluderList(drops, room, many), face, tuple(o), up)
        off.append(found - counted(drops, face, o, np.array(up)))
    assert np.abs(off).max() < 0.03
    assert np.mean(off) == pytest.approx(0.0, abs=0.002)
