"""Light through a drop near its caustics, worked out by planes, against a count of rays followed backward in
plain vectors: Snell's law and Fresnel's formulas (Born and Wolf, Principles of Optics, 1.5)."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pytest

from lightsim.tracer import kernels
from lightsim.tracer.area_light import LampWork
from lightsim.tracer.kernels import caustic_list
from lightsim.tracer.kernels.backward_rays import FAN
from lightsim.tracer.view import View
from tests.tracer.inner import Room
from tests.tracer.naive import N, bent, dots, unit
from tests.tracer.sets import lamp, one_drop, plain_petal, simple

backward, faces, image, petal = (
    Room(room) for room in (kernels.backward_rays, kernels.emitters, kernels.light_image, kernels.petal_mesh)
)
RAYS = 60_000
HALF_PETAL = 15.0  # mm, of the square petal


class Seen(NamedTuple):
    """How drops see the emitter."""

    visibility: Any


class DropLit(NamedTuple):
    """What a light's image takes of a `LightPass`."""

    scene: Any
    emitter: Any
    drop_light: Seen
    caustics: Any


def lit(contact_deg, angle_deg, distance_mm, width_mm, shape):
    """One drop in a light: petal and drops as packed, the light's pass, the face."""
    light = lamp(
        angle_deg=angle_deg,
        clock=2.0,
        distance_mm=distance_mm,
        width_mm=width_mm,
        height_mm=width_mm if shape == "round" else 0.6 * width_mm,
        shape=shape,
    )
    view = View(simple(plain_petal(), one_drop(contact_deg), (light,), field_mm=8.0), width_px=24, samples=1)
    work = LampWork(view, view.stage.lights[0])
    scene = work.scene._replace(stack=np.empty(192, dtype=np.int32))
    face = faces.face_of(work.face)
    return view.packed, DropLit(scene, face, Seen(work.visibility), caustic_list.new_caustics()), face


def through_water(c):
    """Fresnel's share that passes a surface at the cosine c."""
    t = np.sqrt(1.0 - (1.0 - c**2) / N**2)
    rs, rp = (c - N * t) / (c + N * t), (N * c - t) / (N * c + t)
    return 1.0 - 0.5 * (rs**2 + rp**2)


def let_out(drops, q, out):
    """Which rays that leave the drop at q along `out` neither petal nor its relief is in the way of."""
    r, up, foot = drops.radius[0], drops.normal[0], drops.foot[0]
    rises, height = dots(out, up), dots(q - foot, up)
    # light from under the petal's plane may not come in low on the drop: the petal's relief is there
    good = np.isfinite(out[:, 0]) & (height > 0.0) & ((rises >= 0.0) | (height >= 0.1 * r))
    # nor through the petal
    with np.errstate(invalid="ignore", divide="ignore"):
        met = q - foot + (height / -rises)[:, None] * out
    return good & ((rises >= 0.0) | (np.abs(met[:, :2]).max(axis=1) > HALF_PETAL))


def meet(face, q, out):
    """Which rays from q along `out` meet the face."""
    middle, right, high, front = (np.array(v) for v in (face.centre, face.right, face.up, face.out))
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = -dots(out, front)
        t = dots(q - middle, front) / slope
        m = q + t[:, None] * out - middle
        at, to = dots(m, right) / face.half_width, dots(m, high) / face.half_height
        inside = at**2 + to**2 <= 1.0 if face.disc else (np.abs(at) <= 1.0) & (np.abs(to) <= 1.0)
        return (slope > 0.0) & (t > 0.0) & inside


def counted_on_base(drops, face, x, n, rng):
    """Irradiance at x on the drop's base by rays spread evenly over the half-sphere in the water, and its
    error."""
    c, r = drops.centre[0], drops.radius[0]
    u = unit(np.cross(n, [1.0, 0.0, 0.0] if abs(n[0]) < 0.9 else [0.0, 1.0, 0.0]))
    z, turn = rng.random(RAYS), 2.0 * np.pi * rng.random(RAYS)
    across = np.sqrt(1.0 - z * z)
    d = z[:, None] * n + (across * np.cos(turn))[:, None] * u
    d += (across * np.sin(turn))[:, None] * np.cross(n, u)
    b = dots(x - c, d)
    q = x + (-b + np.sqrt(b * b - (dots(x - c, x - c) - r * r)))[:, None] * d
    out = bent(d, -(q - c) / r, N)
    good = let_out(drops, q, out) & meet(face, q, out)
    with np.errstate(invalid="ignore"):
        light = np.where(good, through_water(dots(out, (q - c) / r)) * z, 0.0)
    solid = 2.0 * np.pi * N**2 * face.radiance[0, 0]
    return solid * light.mean(), solid * light.std() / np.sqrt(RAYS)


def counted(drops, face, x, n, rng):
    """Irradiance at x by rays spread evenly over the cone in which the drop is seen, and its error."""
    c, r, up, foot = drops.centre[0], drops.radius[0], drops.normal[0], drops.foot[0]
    axis = unit(c - x)
    cosine = np.sqrt(1.0 - (r / np.linalg.norm(c - x)) ** 2)
    u = unit(np.cross(axis, [1.0, 0.0, 0.0] if abs(axis[0]) < 0.9 else [0.0, 1.0, 0.0]))
    z, turn = 1.0 - rng.random(RAYS) * (1.0 - cosine), 2.0 * np.pi * rng.random(RAYS)
    across = np.sqrt(1.0 - z * z)
    d = z[:, None] * axis + (across * np.cos(turn))[:, None] * u
    d += (across * np.sin(turn))[:, None] * np.cross(axis, u)
    b = dots(x - c, d)
    p = x + (-b - np.sqrt(np.maximum(r * r - (dots(x - c, x - c) - b * b), 0.0)))[:, None] * d
    inner = bent(d, (p - c) / r, 1.0 / N)
    q = p - 2.0 * dots((p - c) / r, inner)[:, None] * r * inner
    out = bent(inner, -(q - c) / r, N)
    good = (dots(p - foot, up) > 0.0) & let_out(drops, q, out) & meet(face, q, out)
    with np.errstate(invalid="ignore", divide="ignore"):
        light = np.where(good, through_water(-dots(d, (p - c) / r)) ** 2 * np.maximum(dots(d, n), 0.0), 0.0)
    solid = 2.0 * np.pi * (1.0 - cosine) * face.radiance[0, 0]
    return solid * light.mean(), solid * light.std() / np.sqrt(RAYS)


def away_from_light(drops, face):
    """Along the petal away from the light, and across that."""
    up, toward = drops.normal[0], np.array(face.centre) - drops.centre[0]
    along = toward - toward @ up * up
    ahead = unit(-along) if along @ along > 1e-9 else np.array([1.0, 0.0, 0.0])
    return ahead, np.cross(up, ahead)


def hold(wanted, error, found, face):
    """That what was found at some places is what was counted there, within its error."""
    wanted, error, found = (np.array(one) for one in (wanted, error, found))
    if wanted.sum() == 0.0:
        assert found.sum() < 1e-3 * face.radiance[0, 0]
        return
    known = error > 0.0
    off = (found - wanted)[known] / np.hypot(error, 0.004 * wanted)[known]
    assert np.sqrt(np.mean(np.square(off))) < 1.5
    assert np.max(np.abs(off)) < 4.5
    assert abs(found.sum() - wanted.sum()) < 0.005 * wanted.sum() + 2.5 * np.sqrt(np.sum(error**2))


@pytest.mark.parametrize("contact_deg", [90.0, 110.0, 150.0])
@pytest.mark.parametrize(
    ("angle_deg", "distance_mm", "width_mm", "shape"),
    [
        (60.0, 1500.0, 1200.0, "rectangle"),
        (45.0, 250.0, 120.0, "rectangle"),
        (60.0, 250.0, 60.0, "rectangle"),
        (75.0, 250.0, 90.0, "round"),
        (75.0, 150.0, 120.0, "rectangle"),  # partly under the petal's plane
        (82.0, 250.0, 60.0, "round"),
        (75.0, 400.0, 20.0, "rectangle"),
    ],
)
def test_light_through_a_drop_is_that_of_rays(contact_deg, angle_deg, distance_mm, width_mm, shape):
    packed, light, face = lit(contact_deg, angle_deg, distance_mm, width_mm, shape)
    drops, r, up, foot = packed.drops, packed.drops.radius[0], packed.drops.normal[0], packed.drops.foot[0]
    ahead, aside = away_from_light(drops, face)
    rng = np.random.default_rng(5)
    counts, found, rough = [], [], []
    for away in (1.02, 1.1, 1.2, 1.4, 1.8, 2.5, 3.2):
        for turn in (0.0, 0.15, -0.3, 0.5):
            x = foot + away * r * (np.cos(turn) * ahead + np.sin(turn) * aside)
            if np.linalg.norm(x - drops.centre[0]) < 1.001 * r:
                continue
            asked = (light, 0, petal.as_point(0, tuple(x), tuple(up)))
            counts.append(counted(drops, face, x, up, rng))
            found.append(image.through_drop(*asked, 256, 0.5, 0.5))
            if found[-1] > 0.0:
                few = [image.through_drop(*asked, 8, shift, shift) for shift in (0.1, 0.5, 0.9)]
                rough.append(np.std(few) / found[-1])
    hold(*np.transpose(counts), found, face)
    assert not rough or np.median(rough) < 0.04  # eight planes do


@pytest.mark.parametrize("contact_deg", [60.0, 90.0, 110.0, 150.0])
@pytest.mark.parametrize(
    ("angle_deg", "distance_mm", "width_mm", "shape"),
    [
        (0.0, 250.0, 120.0, "round"),
        (20.0, 1500.0, 1200.0, "rectangle"),
        (45.0, 250.0, 120.0, "rectangle"),
        (60.0, 250.0, 60.0, "rectangle"),
        (75.0, 150.0, 120.0, "rectangle"),  # partly under the petal's plane
        (82.0, 250.0, 60.0, "round"),
    ],
)
def test_light_on_a_drop_s_base_is_that_of_rays(contact_deg, angle_deg, distance_mm, width_mm, shape):
    packed, light, face = lit(contact_deg, angle_deg, distance_mm, width_mm, shape)
    drops, up, foot = packed.drops, packed.drops.normal[0], packed.drops.foot[0]
    wide = drops.radius[0] * np.sin(np.radians(contact_deg))
    ahead, aside = away_from_light(drops, face)
    rng = np.random.default_rng(6)
    counts, found = [], []
    for away in (0.0, 0.3, 0.6, 0.8, 0.9, 0.97):
        for turn in (0.0, 0.4, 1.5, 3.0):
            x = foot + away * wide * (np.cos(turn) * ahead + np.sin(turn) * aside)
            asked = (light, 0, petal.as_point(0, tuple(x), tuple(up)))
            counts.append(counted_on_base(drops, face, x, up, rng))
            found.append(image.into_drop(*asked, 256, 0.5, 0.5))
    in_shade = contact_deg == 150.0 and angle_deg > 45.0  # of the ball, at its foot
    assert in_shade or np.sum(found) > 0.0
    hold(*np.transpose(counts), found, face)


def test_a_low_drop_sends_nothing_through_itself_to_the_petal():
    """Below a contact angle of 90 degrees every chord that ends on the petal's side comes from under it."""
    packed, light, face = lit(60.0, 60.0, 250.0, 60.0, "rectangle")
    drops = packed.drops
    up, foot, r = drops.normal[0], drops.foot[0], drops.radius[0]
    toward = unit(np.array(face.centre) - foot)
    ahead = unit(-(toward - toward @ up * up))
    for away in (0.9, 1.2, 2.0):
        point = petal.as_point(0, tuple(foot + away * r * ahead), tuple(up))
        assert image.through_drop(light, 0, point, 32, 0.5, 0.5) == 0.0


@pytest.mark.parametrize("s", [1.05, 1.5, 1.98])
def test_a_node_lies_where_rays_turn_back(s):
    """Within the focus of a ball rays that leave near the axis spread and others are drawn together: between
    them the last direction stands still."""
    nodes = np.empty((FAN.nodes, FAN.kept))
    backward.follow_nodes(s, nodes)
    i = nodes[:, 9]
    assert (np.diff(i) > 0.0).all()
    psi, r = np.arcsin(np.sin(i) / s), np.arcsin(np.sin(i) / N)
    run = psi - 2.0 * (i - r)
    assert np.allclose(np.arctan2(nodes[:, 1], nodes[:, 0]), run, atol=1e-8)
    assert np.allclose(np.gradient(run, i, edge_order=2)[1:-1], nodes[1:-1, 8], atol=0.02)
    assert np.abs(nodes[:, 8]).min() < 0.01


@pytest.mark.parametrize("s", [0.2, 0.6, 0.74, 0.78, 0.95])
def test_nodes_from_inside_a_drop_follow_snell_s_law(s):
    """Rays that leave a point inside, but those that are mirrored wholly; one of them lies wherever the last
    direction stands still."""
    nodes = np.empty((FAN.nodes, FAN.kept))
    backward.follow_nodes(s, nodes)
    m = max(N * s, 1.0)
    t = nodes[:, 9]
    assert (np.diff(t) > 0.0).all()
    psi = np.arcsin(np.sin(t) / m)
    psi = np.where(t > 0.5 * np.pi, np.pi - psi, psi)
    leave = psi + np.arcsin(s * np.sin(psi))
    run = leave - np.arcsin(np.minimum(N * s * np.sin(psi), 1.0))
    assert np.allclose(nodes[:, 2], N * s * np.sin(psi), atol=1e-8)
    assert np.allclose(np.arctan2(nodes[:, 7], nodes[:, 6]), leave, atol=1e-6)
    assert np.allclose(np.arctan2(nodes[:, 1], nodes[:, 0]), run, atol=1e-6)
    for half in (slice(0, FAN.half), slice(FAN.half, FAN.nodes)):
        fine = np.linspace(t[half][0], t[half][-1], 4001)
        way = np.arcsin(np.sin(fine) / m)
        way = np.where(fine > 0.5 * np.pi, np.pi - way, way)
        last = way + np.arcsin(s * np.sin(way)) - np.arcsin(np.minimum(N * s * np.sin(way), 1.0))
        slope = np.gradient(last, fine)
        assert np.allclose(np.interp(t[half][1:-1], fine, slope), nodes[half, 8][1:-1], atol=0.02)
        turns = np.count_nonzero(np.diff(np.sign(slope)))
        assert np.count_nonzero(np.abs(nodes[half, 8]) < 0.03) >= turns
