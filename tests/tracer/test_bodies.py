"""Solid bodies against rays, against strips of a face, and in what a set gets of the light."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lightsim.optics.trade import FaceSize
from lightsim.scene.build import build
from lightsim.scene.faces import points_on
from lightsim.scene.obstruction import cut_by, share_cut
from lightsim.scene.records import Card, Light
from lightsim.scene.stage import Body
from lightsim.tracer import View, trace_layers
from lightsim.tracer.area_light import lamp_of
from lightsim.tracer.kernels import bodies as kernels
from lightsim.tracer.kernels import body_shadow, emitters
from lightsim.tracer.kernels.drop_visibility import OccluderList
from lightsim.tracer.pack import pack_boards, pack_bodies, pack_drops
from tests.tracer.inner import Room
from tests.tracer.sets import lamp, one_drop, simple

INNER, SHADOW, EMITTERS = Room(kernels), Room(body_shadow), Room(emitters)


def random_bodies(count, seed):
    """Boxes and rods of many shapes, turned every way, about 0, 0, 60."""
    rng = np.random.default_rng(seed)
    bodies = []
    for number in range(count):
        axes, _ = np.linalg.qr(rng.normal(size=(3, 3)))
        half = rng.uniform(2.0, 25.0, 3)
        is_round = number % 2 == 1
        if is_round:
            half[1] = half[0]
        centre = np.array([0.0, 0.0, 60.0]) + rng.normal(scale=12.0, size=3)
        bodies.append(Body("thing", "what", centre, *axes, *half.tolist(), round=is_round))
    return bodies


def unit(vector):
    return vector / np.linalg.norm(vector)


def test_a_ray_meets_a_body_where_points_along_it_begin_to_lie_inside():
    rng = np.random.default_rng(1)
    for body in random_bodies(40, 2):
        packed = pack_bodies([body])
        axes, half = np.array([body.right, body.up, body.out]), packed[0, 12:15]
        for _ in range(20):
            o = rng.normal(scale=5.0, size=3)
            d = unit(body.centre + rng.normal(scale=15.0, size=3) - o)
            t = np.linspace(0.0, 140.0, 28_001)
            local = (o + t[:, None] * d - body.centre) @ axes.T
            inside = np.abs(local[:, 2]) < half[2]
            if body.round:
                inside &= np.hypot(local[:, 0], local[:, 1]) < half[0]
            else:
                inside &= (np.abs(local[:, :2]) < half[:2]).all(axis=1)
            found = INNER.body_met(packed, 0, tuple(o), tuple(d))
            if inside.any():
                assert found == pytest.approx(t[inside.argmax()], abs=0.006)
            else:  # it may pass through a corner between two of these points
                assert found == np.inf or found < 140.0


def test_a_body_covers_of_a_strip_what_its_rays_find_covered():
    rng = np.random.default_rng(3)
    some = 0
    for body in random_bodies(200, 4):
        packed = pack_bodies([body])
        o = rng.normal(scale=4.0, size=3)
        start = np.array([0.0, 0.0, 130.0]) + rng.normal(scale=15.0, size=3) - o
        way = unit(rng.normal(size=3) * [1.0, 1.0, 0.2])
        t = np.linspace(-60.0, 60.0, 2401)
        ends = start + t[:, None] * way
        covered = cut_by([body], o[None], o + ends)
        low, high = INNER.body_covers(packed, 0, tuple(o), tuple(start), tuple(way), -60.0, 60.0)
        assert np.array_equal(covered, (t > low) & (t < high)) or (
            np.count_nonzero(covered != ((t > low) & (t < high))) <= 2
        ), (body, low, high)
        some += covered.any() and not covered.all()
    assert some > 80


def test_rays_in_plain_arrays_and_in_kernels_agree():
    rng = np.random.default_rng(5)
    bodies = random_bodies(20, 6)
    packed = pack_bodies(bodies)
    start, end = rng.normal(scale=6.0, size=(400, 3)), rng.normal((0.0, 0.0, 110.0), 40.0, size=(400, 3))
    for i, body in enumerate(bodies):
        plain = cut_by([body], start, end)
        for o, y, cut in zip(start, end, plain, strict=True):
            far = float(np.linalg.norm(y - o))
            assert (INNER.body_met(packed, i, tuple(o), tuple((y - o) / far)) < far) == cut


def cosine_rays(count):
    """Directions over +z that a matt surface gets equal parts of an even dome from, a golden angle apart."""
    i = np.arange(count) + 0.5
    flat, turn = np.sqrt(i / count), np.pi * (np.sqrt(5.0) - 1.0) * i
    return np.stack([flat * np.cos(turn), flat * np.sin(turn), np.sqrt(1.0 - flat**2)], axis=-1)


def petal_level(layer):
    return float(layer.total()[..., 1].mean() * np.pi / 0.5)


NEAR_FACE = lamp(angle_deg=50.0, clock=10.0, distance_mm=60.0, width_mm=100.0, height_mm=80.0)


@pytest.mark.parametrize("lights", [(), (NEAR_FACE,)])
def test_lens_and_lamps_hide_the_room_from_the_petal(lights):
    """By rays over the dome; the lens alone, a disc of radius 33 mm seen from 120 mm on its axis, hides
    33^2 / (33^2 + 120^2) = 7.0 % of it (form factor of a disc)."""
    scene = simple(lights=lights, field_mm=2.0, bodies=True)
    stage = build(scene)
    left = 1.0 - cut_by(stage.bodies, np.zeros(3), 1e4 * cosine_rays(40_000)).mean()
    layers = trace_layers(scene, width_px=16, samples=4)
    assert petal_level(layers.by_light["ambient"]) == pytest.approx(left, abs=0.004)
    if lights:
        assert left < 0.85
    else:
        assert left == pytest.approx(1.0 - 33.0**2 / (33.0**2 + 120.0**2), abs=0.002)
    thin = trace_layers(replace(scene, bodies=False), width_px=16, samples=4)
    assert petal_level(thin.by_light["ambient"]) == pytest.approx(1.0, abs=0.002)


def test_a_lamp_is_hidden_by_the_lens_by_the_share_of_its_lines():
    light = lamp(angle_deg=20.0, clock=3.0, distance_mm=230.0, width_mm=60.0, height_mm=60.0)
    scene = simple(lights=(light,), field_mm=2.0, bodies=True)
    stage = build(scene)
    thin = trace_layers(replace(scene, bodies=False), width_px=16, samples=64)
    solid = trace_layers(scene, width_px=16, samples=64)
    ratio = petal_level(solid.by_light["lamp"]) / petal_level(thin.by_light["lamp"])
    lines = share_cut(stage.bodies[:1], np.zeros((1, 3)), points_on(stage.lights[0].face, 201))
    assert 0.1 < lines < 0.3
    assert ratio == pytest.approx(1.0 - lines, abs=0.01)
    gone = replace(scene, lights=(light.moved(angle_deg=8.0, width_mm=20.0),))
    assert petal_level(trace_layers(gone, width_px=16, samples=4).by_light["lamp"]) == 0.0


def test_a_drop_mirrors_the_lens_as_a_dark_disc():
    """Seen from the lens, a sphere's mirror image of what lies on the axis is in its middle: under the dome
    that is dark, and what the surface mirrors beside it is not."""
    scene = simple(drops=one_drop(110.0, 1.5), field_mm=2.0, bodies=True)
    mirrored = trace_layers(scene, width_px=40, samples=16).by_light["ambient"].surface[..., 1]
    middle = mirrored[len(mirrored) // 2 - 1 : len(mirrored) // 2 + 1, 19:21]
    plain = (
        trace_layers(replace(scene, bodies=False), width_px=40, samples=16)
        .by_light["ambient"]
        .surface[..., 1]
    )
    assert middle.max() == 0.0
    assert plain[len(plain) // 2, 20] > 0.0
    # a convex mirror of focal length R/2 shows what is seen at the angle a off its axis at sin(a/2) of its
    # radius: the lens's rim, about atan(33/120) = 15.4 degrees off, at 0.134
    row = mirrored[len(mirrored) // 2]
    dark = np.flatnonzero((row == 0.0) & (np.abs(np.arange(40) - 19.5) < 12))
    radius_px = 0.75 / 2.0 * 40
    assert (dark.max() - dark.min() + 1) / 2 == pytest.approx(0.134 * radius_px, abs=1.0)


def test_a_ring_lights_the_petal_as_a_disc_less_its_hole():
    ring = Light(name="ring", kind="continuous", intensity=1.0, shape="ring", width_mm=120.0,
                 inner_width_mm=90.0)  # fmt: skip
    scene = simple(lights=(ring,), field_mm=1.0, bodies=True)
    stage = build(scene)
    distance = float(stage.lights[0].face.centre[2])
    found = petal_level(trace_layers(scene, width_px=16, samples=64).by_light["ring"])
    assert found == pytest.approx(FaceSize(120.0, 120.0, True, 90.0).lx_per_cd(distance), rel=0.01)


def test_a_moved_lamp_hides_the_room_as_one_that_stood_there():
    scene = simple(drops=one_drop(110.0, 1.5), lights=(NEAR_FACE,), field_mm=3.0, bodies=True)
    view = View(replace(scene, lights=(NEAR_FACE.moved(angle_deg=80.0),)), width_px=24, samples=4)
    view.trace()
    moved, stood = view.trace(scene), trace_layers(scene, width_px=24, samples=4)
    assert np.array_equal(moved.by_light["ambient"].total(), stood.by_light["ambient"].total())
    assert np.array_equal(moved.by_light["lamp"].total(), stood.by_light["lamp"].total())


@pytest.mark.parametrize("is_round", [False, True])
def test_what_bodies_leave_of_a_face_by_strips_and_by_rays(is_round):
    """A near face, a barrel and a card in its way: against 40 000 rays from each of many places."""
    light = lamp(angle_deg=25.0, clock=2.0, distance_mm=220.0, width_mm=70.0, height_mm=70.0,
                 shape="round" if is_round else "rectangle")  # fmt: skip
    card = Card(position_mm=(55.0, 40.0, 80.0), aim_mm=(0.0, 0.0, 0.0), width_mm=40.0, height_mm=30.0)
    stage = build(simple(lights=(light,), cards=(card,), bodies=True))
    face = stage.lights[0].face
    sheet = Body("card", "card", stage.cards[0].face.centre, stage.cards[0].face.right,
                 stage.cards[0].face.up, stage.cards[0].face.out, 20.0, 15.0, 1e-6)  # fmt: skip
    boards = pack_boards([stage.cards[0].face], [np.zeros((16, 16, 3))], stage.bodies)
    held, drops = EMITTERS.face_of(lamp_of(stage.lights[0])), pack_drops(stage.drops)
    t = (np.arange(200) + 0.5) / 100.0 - 1.0
    u, v = (grid.ravel() for grid in np.meshgrid(t, t))
    kept = np.hypot(u, v) < (1.0 if is_round else 2.0)
    points = face.centre + 35.0 * (u[kept, None] * face.right + v[kept, None] * face.up)
    shares = []
    for x in np.random.default_rng(7).uniform(-12.0, 12.0, size=(30, 2)):
        place = np.array([*x, 0.0])
        to = points - place
        light_share = (to @ -face.out) * to[:, 2] / np.sum(to * to, axis=1) ** 2
        cut = cut_by([*stage.bodies, sheet], place, points)
        shares.append(1.0 - np.sum(light_share[cut]) / np.sum(light_share))
        nobody = OccluderList(drops, np.zeros(24, np.int32), 0)
        found = SHADOW.unblocked_share(boards, nobody, held, tuple(place), (0.0, 0.0, 1.0))
        assert found == pytest.approx(shares[-1], abs=0.004)
    assert np.std(shares) > 0.02
