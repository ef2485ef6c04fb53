"""A card's light against plain sums over its face, point by point, by Lambert's laws (Photometria, 1760):
E = L cos cos dA / d^2 from a part of a bright face, I cos / d^2 from a small lamp."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from lightsim.scene.records import Card, Petal
from lightsim.tracer import View, kernels
from lightsim.tracer.area_light import lamp_of
from lightsim.tracer.fill_cards import CardLight, shares_of
from lightsim.tracer.kernels import near_transfer
from lightsim.tracer.kernels.drop_visibility import STATE
from lightsim.tracer.kernels.face_light import FaceLight
from lightsim.tracer.kernels.near_transfer import REACH
from lightsim.tracer.light_layer import LightWork
from lightsim.tracer.main_card import MainCard
from lightsim.tracer.prepared_scene import Ground
from tests.tracer.inner import Room
from tests.tracer.sets import lamp, one_drop, plain_petal, simple

vectors = Room(kernels.vectors)
RHO, ACROSS = 0.4, 64
CARD = Card(angle_deg=60.0, clock=3.0, distance_mm=120.0)


def points_of(face):
    """Middles of many even parts of a face, and what area each has."""
    t = (np.arange(ACROSS) + 0.5) / ACROSS * 2.0 - 1.0
    x, y = (one.ravel() for one in np.meshgrid(t, t))
    x, y = x[:, None] * face.half_width_mm, y[:, None] * face.half_height_mm
    return face.centre + x * face.right + y * face.up, face.area_mm2 / len(x)


def irradiance(from_points, out, sent, at, n):
    """At `at` with normal n by points that send `sent` cd each from a surface with normal `out`."""
    to = from_points - at
    r2 = np.sum(to * to, axis=-1)
    return float(np.sum(sent * np.maximum(-(to @ out), 0.0) * np.maximum(to @ n, 0.0) / r2**2))


def card_alone(card, light, at, n):
    """Irradiance at `at` by a card lit by a small lamp of one candela, and its radiance's points."""
    points, part = points_of(card)
    to = light.centre - points
    r2 = np.sum(to * to, axis=-1)
    lit = 1e6 * np.maximum(to @ card.out, 0.0) * np.maximum(-(to @ light.out), 0.0) / r2**2
    return points, part, lit, irradiance(points, card.out, lit * part, at, n)


def layers_of(scene):
    view = View(scene, width_px=48, samples=16)
    return view, view.trace()


@pytest.mark.parametrize(
    ("angle_deg", "clock", "distance_mm"),
    [(75.0, 9.0, 200.0), (20.0, 12.0, 150.0), (60.0, 9.0, 90.0), (120.0, 9.0, 200.0), (88.0, 3.0, 200.0)],
)
def test_a_card_sends_to_the_petal_what_its_parts_do(angle_deg, clock, distance_mm):
    """Lamps far and near, from the side, and past the card's own horizon, where its light has a kink."""
    light = lamp(angle_deg=angle_deg, clock=clock, distance_mm=distance_mm, width_mm=4.0, height_mm=4.0)
    bare = simple(plain_petal(RHO), lights=(light,))
    with_card = simple(plain_petal(RHO), lights=(light,), cards=(CARD,))
    (view, lit), (_, dark) = layers_of(with_card), layers_of(bare)
    gain = (lit.by_light["lamp"].petal - dark.by_light["lamp"].petal).mean(axis=-1)
    up = np.array([0.0, 0.0, 1.0])
    face, small = view.stage.cards[0].face, view.stage.lights[0].face
    *_, e = card_alone(face, small, np.zeros(3), up)
    expected = RHO / pi * view.stage.cards[0].reflectance / pi * e
    h, w = gain.shape
    got = float(gain[h // 2 - 2 : h // 2 + 2, w // 2 - 2 : w // 2 + 2].mean())
    assert got == pytest.approx(expected, rel=0.01)


def test_a_card_sends_to_the_places_of_soft_light():
    """Not hidden by itself. A card's radiance is taken as growing evenly there."""
    light = lamp(angle_deg=75.0, clock=9.0, width_mm=4.0, height_mm=4.0)
    scene = simple(plain_petal(RHO), one_drop(), lights=(light,), cards=(CARD,))
    view = View(scene, width_px=24, samples=1)
    card, points = view._cards[0], view.indirect.points
    small = view.stage.lights[0]
    glow = view.boards.card_glow([lamp_of(small)], False)[0]
    first = card.first(shares_of(glow))
    face = view.stage.cards[0].face
    expected = [
        card_alone(face, small.face, place, np.array([0.0, 0.0, 1.0]))[-1] for place in points.place[::40]
    ]
    scale = view.stage.cards[0].reflectance / pi
    far = np.linalg.norm(points.place[::40], axis=1) > 5.0  # the drop's light and shade left out
    assert far.sum() >= 5
    np.testing.assert_allclose(first.own_point[::40, 0][far], scale * np.array(expected)[far], rtol=0.02)


def test_cards_that_stand_in_no_light_are_left_out():
    """Rays from all over the set to all over the lamp's face meet no card that is left out, and a card in
    their way is kept."""
    rng = np.random.default_rng(5)
    for angle in (20.0, 60.0, 75.0, 100.0, 150.0):
        light = lamp(angle_deg=angle, clock=4.0, distance_mm=200.0, width_mm=60.0, height_mm=40.0)
        cards = (
            CARD,
            Card(name="low", angle_deg=80.0, clock=6.0),
            Card(name="b", angle_deg=angle, clock=4.5),
        )
        ground = Ground(simple(plain_petal(RHO), one_drop(), lights=(light,), cards=cards), 16, 1, 0)
        face = ground.stage.lights[0].face
        kept = ground.boards.may_hide(face)
        left_out = [
            card
            for card in ground.boards.cards
            if not np.any(np.all(kept.frame[:, :3] == card.centre, axis=1))
        ]
        at = ground.stage.petal.vertices[rng.integers(0, len(ground.stage.petal.vertices), 4000)]
        u, v = rng.uniform(-1.0, 1.0, (2, 4000, 1))
        to = face.centre + u * face.half_width_mm * face.right + v * face.half_height_mm * face.up
        hit = {card.centre.tobytes(): _met(card, at, to) for card in ground.boards.cards}
        assert not any(hit[card.centre.tobytes()] for card in left_out)
        assert sum(hit.values()) <= len(kept.frame)
    behind = lamp(angle_deg=60.0, clock=3.0, distance_mm=250.0)
    ground = Ground(simple(plain_petal(RHO), lights=(behind,), cards=(CARD,)), 16, 1, 0)
    assert len(ground.boards.may_hide(ground.stage.lights[0].face).frame) == 1
    beside = lamp(angle_deg=60.0, clock=9.0, distance_mm=250.0)
    ground = Ground(simple(plain_petal(RHO), lights=(beside,), cards=(CARD,)), 16, 1, 0)
    assert len(ground.boards.may_hide(ground.stage.lights[0].face).frame) == 0


def _met(card, begin, end):
    """Whether one of the ways from begin to end (n, 3) meets a card."""
    over, under = (begin - card.centre) @ card.out, (end - card.centre) @ card.out
    t = over / (over - under)
    at = begin + t[:, None] * (end - begin) - card.centre
    inside = np.abs(at @ card.right) <= card.half_width_mm
    inside &= np.abs(at @ card.up) <= card.half_height_mm
    return bool(np.any(inside & (t > 0.0) & (t < 1.0)))


def places_round(view, drop=0):
    """The places of soft light round a drop, on its plane, ring by ring: the distance in radii, and where."""
    drops, rim, detail = view.packed.drops, view.packed.rims[drop], view.indirect.detail
    ring, spoke = np.divmod(np.arange(detail.rings * detail.spokes), detail.spokes)
    away = rim * (REACH.outer / rim) ** (ring / (detail.rings - 1.0)) ** 2
    turn = 2.0 * pi * spoke / detail.spokes
    s, t = vectors.basis(tuple(drops.normal[drop]))
    aside = np.cos(turn)[:, None] * np.array(s) + np.sin(turn)[:, None] * np.array(t)
    return away, drops.foot[drop] + drops.radius[drop] * away[:, None] * aside


def test_a_drop_throws_its_shadow_in_a_cards_light():
    """What a place gets beside the drop's own shadow is what the card sends; what it loses comes from the
    card's parts behind the sphere."""
    light = lamp(angle_deg=75.0, clock=9.0, width_mm=4.0, height_mm=4.0)
    view = View(
        simple(plain_petal(RHO), one_drop(110.0), lights=(light,), cards=(CARD,)), width_px=24, samples=1
    )
    first = view._cards[0]._first_of([np.ones((16, 16))])[0]
    card, up = view.stage.cards[0].face, np.array([0.0, 0.0, 1.0])
    points, part = points_of(card)
    centre, radius = view.packed.drops.centre[0], view.packed.drops.radius[0]
    _, places = places_round(view)
    open_sky = np.array([irradiance(points, card.out, part, at, up) for at in places])
    np.testing.assert_allclose(first.own_ring[0], open_sky, rtol=0.01)
    left = []
    for at in places:
        to = points - at
        d = to / np.linalg.norm(to, axis=1)[:, None]
        m = centre - at
        free = np.sum(m * m) - (d @ m) ** 2 > radius**2
        free |= d @ m < 0.0
        left.append(irradiance(points[free], card.out, part, at, up))
    found = np.zeros((2, 1, len(places)))
    shadowed(view, found)
    np.testing.assert_allclose(found[0, 0], left, atol=0.12 * open_sky.max())  # 36 parts of the card
    assert np.mean(found[0, 0] - left) == pytest.approx(0.0, abs=0.01 * open_sky.max())
    assert np.min(left / open_sky) < 0.1


def shadowed(view, found):
    card, detail = view._cards[0], view.indirect.detail
    light = FaceLight(view.packed.petal, view.packed.drops, card._boards, card._lamp, *card._state[:3])
    ring, beside = (one.reshape(1, 1, detail.rings, detail.spokes) for one in found)
    near_transfer.ring_light(1, light, view.packed.rims, card._lamp.flux[None], ring, beside)


def test_a_hollow_petal_does_not_hide_the_light_round_its_drops():
    """The plane of a drop in a hollow runs under the petal."""
    petal = Petal(form="cupped", curl=0.3, mesh_spacing_mm=0.25, width_mm=20.0, length_mm=20.0, relief_mm=0.0)
    light = lamp(angle_deg=75.0, clock=9.0)
    view = View(simple(petal, one_drop(), lights=(light,), cards=(CARD,)), width_px=24, samples=1)
    card = view._cards[0]
    assert card._state[0][0, 0] == STATE.mixed  # the petal's edge hides a part of the card
    found = np.zeros((2, 1, view.indirect.detail.rings * view.indirect.detail.spokes))
    shadowed(view, found)
    away, places = places_round(view)
    points, part = points_of(view.stage.cards[0].face)
    n = view.packed.drops.normal[0]
    unhidden = np.array([irradiance(points, view.stage.cards[0].face.out, part, at, n) for at in places])
    share = found[1, 0] / unhidden
    assert share.max() < 1.01
    assert np.median(share[away < 3.0]) > 0.7


# A lamp that looks away from the set, at CARD: the card alone lights the petal.
ENVIRONMENT = replace(
    lamp(width_mm=4.0, height_mm=4.0), position_mm=(19.5, 39.0, 11.25), aim_mm=(104.0, 0.0, 60.0)
)


def by_card_alone(drops):
    """A flat petal, and the card's light on it."""
    return simple(plain_petal(RHO), drops, lights=(ENVIRONMENT,), cards=(CARD,), field_mm=5.0)


def senders(scene, light=0):
    """What sends the light of each card of one light, as the picture has it."""
    view = View(scene, width_px=16, samples=1)
    return LightWork(view, view.stage.lights[light], view._cards, view.stage.bodies).cards


def test_a_card_that_outshines_its_lamp_is_traced_as_a_lamp():
    """And a fill is not, nor any card under the dome; each light has its own way, whatever came before it."""
    fill = lamp(angle_deg=45.0, clock=9.0)
    scene = simple(
        plain_petal(RHO), one_drop(), lights=(ENVIRONMENT, replace(fill, name="second")), cards=(CARD,)
    )
    assert isinstance(senders(scene, 0)[0], MainCard)
    assert isinstance(senders(scene, 1)[0], CardLight)
    view = View(scene, width_px=16, samples=1)
    assert isinstance(LightWork(view, None, view._cards, view.stage.bodies).cards[0], CardLight)
    together = View(scene, width_px=32, samples=4).trace().by_light
    alone = View(replace(scene, lights=scene.lights[1:]), width_px=32, samples=4).trace().by_light
    np.testing.assert_array_equal(together["second"].petal, alone["second"].petal)


def test_a_card_as_a_main_light_sends_what_its_parts_do():
    """Aside from where a drop throws its light, with what its sphere hides of the card."""
    view = View(by_card_alone(one_drop(110.0)), width_px=96, samples=16)
    found = view.trace()
    card, small, up = view.stage.cards[0].face, view.stage.lights[0].face, np.array([0.0, 0.0, 1.0])
    points, part, lit, _ = card_alone(card, small, np.zeros(3), up)
    sent, scale = lit * part, RHO / pi * view.stage.cards[0].reflectance / pi
    centre, radius = view.packed.drops.centre[0], view.packed.drops.radius[0]
    paths = view._blocks[0].paths
    petal = found.by_light["lamp"].petal.mean(axis=-1).ravel()
    bare, shares, more = found.maps.petal_cover.ravel() > 0.999, [], []
    for p in np.flatnonzero((paths.whole == 1) & bare)[::23]:
        at = paths.mean_place[p].astype(float)
        if np.hypot(*at[:2]) < 1.3 * radius or (at[0] < 0.0 and abs(at[1]) < 0.9 * radius):
            continue
        to, m = points - at, centre - at
        d = to / np.linalg.norm(to, axis=1)[:, None]
        free = (np.sum(m * m) - (d @ m) ** 2 > radius**2) | (d @ m < 0.0)
        left, whole = (irradiance(points[k], card.out, sent[k], at, up) for k in (free, slice(None)))
        shares.append(left / whole)
        more.append(petal[p] / (scale * whole) - left / whole)
    assert len(shares) > 100
    assert np.mean(np.array(shares) < 0.95) > 0.05
    assert np.percentile(np.abs(more), 90.0) < 0.02
    assert np.max(np.abs(more)) < 0.07  # next to the drop, which throws on the petal what its base sends
