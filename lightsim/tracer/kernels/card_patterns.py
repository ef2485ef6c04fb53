"""What a card sends to the kept camera paths: found once for all the lights that may shine on it.

Light adds, and a card is lit so smoothly that its radiance is a sum of a few patterns. What it sends by each
of them depends on no lamp; a lamp's own work is to weigh the patterns. The shadows of drops in a card's light
are soft, since it comes from all over a wide face: with what it sends through them they are left to indirect
light.
"""

from __future__ import annotations

from math import pi
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.box_tree import STACK
from lightsim.tracer.kernels.camera_paths import TAG
from lightsim.tracer.kernels.caustics import back_irradiance
from lightsim.tracer.kernels.drop_shadow import toward_light
from lightsim.tracer.kernels.drop_visibility import STATE, OccluderList, petal_visibility
from lightsim.tracer.kernels.emitters import Boards, Lamp, face_of, point_on
from lightsim.tracer.kernels.gloss import response
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.light_pass import LightSample, SceneGeometry
from lightsim.tracer.kernels.path_store import base_end, petal_end, place_seen
from lightsim.tracer.kernels.sampling import PAIR, key, pair_of
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.unoccluded import boards_may_hide, sample_irradiance
from lightsim.tracer.kernels.vectors import dot, row, scale, sub, unit
from lightsim.tracer.kernels.visibility_cache import COARSE
from lightsim.tracer.kernels.visibility_classification import classify_corners

PATTERNS = 6
LEAST_WEIGHT = 0.05  # of the wide blocks about a pixel that see petal
LOOKS = 4  # points looked at in each part of a card, twice: spread along it and across
ASIDE = (0.125, 0.625, 0.375, 0.875)  # how they lie across and upward


def patterns(x, y):
    """The patterns of radiance at face coordinates x, y in -1..1: products of Legendre polynomials up to the
    second degree."""
    return 1.0 + 0.0 * x, x, y, x * y, 1.5 * x * x - 0.5, 1.5 * y * y - 0.5


patterns_at = jit(patterns)


class PetalAndStack(NamedTuple):
    """The petal, with room for a walk through its tree."""

    petal: petal_mesh.Petal
    stack: NDArray


class Sent(NamedTuple):
    """What a card sends by each pattern of radiance 1 cd/m2, straight or by way of drops.

    petal (pixels, PATTERNS, 3) float32: the petal seen straight. number (pixels,) int32: a pixel's place in
    surface and water (m, PATTERNS, 3), what the drops' surfaces mirror and what comes through the water, -1
    for a pixel that sees petal alone.
    """

    petal: NDArray
    number: NDArray
    surface: NDArray
    water: NDArray


class Card(NamedTuple):
    """A card as a light.

    lamp : its face, of radiance 1. boards : that may hide it. seed : of the sample points.
    node_pattern (m, PATTERNS), part (m, 4) : the patterns at the face's quadrature points, and the part of it
    that each stands for: across from and to, upward from and to, 0 to 1. visible (rows, columns, m) float32 :
    the share of each part that the petal leaves to each coarse block of the picture, see `find_visible`.
    behind (nd,) : what it hides from the back of each drop's base, see `drop_visibility.classify_drops`.
    """

    lamp: Lamp
    boards: Boards
    seed: int
    node_pattern: NDArray
    part: NDArray
    visible: NDArray
    behind: NDArray


class Sending(NamedTuple):
    """A card's light on the way to some paths.

    camera : a `path_store.CameraView`. card, face, sent : a `Card`, its face, a `Sent`. scene : for shadow
    rays. Room for light (2, PATTERNS) on both sides of a place and for the share (m,) of the card's parts
    that is seen from there.
    """

    camera: Any
    card: Any
    face: Any
    sent: Any
    scene: Any
    light: NDArray
    share: NDArray


@jit
def _from_all(sending, x, n):
    """Fill the light: irradiance at x from the face's visible parts on the side of n and the other."""
    face, light = sending.face, sending.light
    for i in range(PATTERNS):
        light[0, i] = light[1, i] = 0.0
    for m in range(face.flux.shape[0]):
        to = sub(row(face.node, m), x)
        r2 = dot(to, to)
        k = -dot(to, face.out)
        if k > 0.0:
            e = face.flux[m] * sending.share[m] * k * dot(to, n) / (r2 * r2)
            side = 0 if e > 0.0 else 1
            for i in range(PATTERNS):
                light[side, i] += abs(e) * sending.card.node_pattern[m, i]


@jit
def _from_point(light, a, b, e):
    """Fill light (2, PATTERNS) with the irradiance e from the face's point numbered a, b, negative on the
    other side."""
    by = patterns_at(2.0 * a - 1.0, 2.0 * b - 1.0)
    light[0, 0], light[0, 1], light[0, 2] = by[0], by[1], by[2]
    light[0, 3], light[0, 4], light[0, 5] = by[3], by[4], by[5]
    for i in range(PATTERNS):
        light[1, i] = max(-e, 0.0) * light[0, i]
        light[0, i] *= max(e, 0.0)


@jit
def _put(target, p, colour, k, by):
    for i in range(PATTERNS):
        for a in range(3):
            target[p, i, a] += colour[a] * k * by[i]


@jit
def _toward_all(sending, x, facing):
    """As `toward_light`, for a gloss: without one, which way does not matter."""
    return toward_light(sending.face, x, facing) if sending.camera.petal.gloss > 0.0 else facing


@jit
def _put_lit(sending, p, x, facing, to_light, colours, k):
    """Put down what the petal at x sends on to pixel p of the light on both its sides, seen from its first
    side. colours : reflectance and transmittance."""
    petal, target, light = sending.camera.petal, sending.sent.petal, sending.light
    lens_at = sending.camera.lens_at[0], sending.camera.lens_at[1], sending.camera.lens_at[2]
    matt, gloss = 1.0, 0.0
    if petal.gloss > 0.0:
        view = unit(sub(lens_at, x))
        matt, gloss = response(petal.gloss, petal.gloss_mean, petal.roughness, facing, view, to_light)
    _put(target, p, colours[0], k * matt / pi, light[0])
    _put(target, p, colours[1], k / pi, light[1])
    _put(target, p, (1.0, 1.0, 1.0), k * gloss, light[0])


@jit
def _put_part(sent, tag, p, colour, k, by):
    if tag & TAG.part == TAG.surface:
        _put(sent.surface, sent.number[p], colour, k, by)
    elif tag & TAG.part == TAG.water:
        _put(sent.water, sent.number[p], colour, k, by)
    else:
        _put(sent.petal, p, colour, k, by)


@jit
def _sample_card(sending, scramble, i, point, front):
    """Fill the light with that of sample i of the card at a point of the petal, on its front first or on its
    back; returns the irradiance on the front and the point of the card."""
    a, b = pair_of(scramble, i)
    y, power = point_on(sending.face, a, b)
    nobody = held(OccluderList(sending.camera.drops, sending.scene.stack, 0))
    e_front = sample_irradiance(
        sending.scene, sending.face, point, LightSample(y, power), STATE.mixed, nobody
    )
    _from_point(sending.light, a, b, e_front if front else -e_front)
    return e_front, y


@jit
def _straight_paths(sending, p, known):
    """The paths of a pixel that see the petal straight. known: whether it is known what the petal leaves of
    the card's parts, and no other card hides."""
    paths, petal = sending.camera.paths, sending.camera.petal
    scramble = key(sending.card.seed, paths.first + p, PAIR.light)
    many = 0
    for e in range(paths.petal_start[p], paths.petal_start[p + 1]):
        tag = paths.petal_tag[e]
        if tag & TAG.part != TAG.petal:
            continue
        f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
        point = petal_end(paths, petal, e)
        front = tag & TAG.front != 0
        facing = point.n if front else scale(point.n, -1.0)
        if known:
            to = _toward_all(sending, point.x, facing)
            _from_all(sending, point.x, facing)
        else:
            _, y = _sample_card(sending, scramble, many, point, front)
            to = sub(y, point.x)
        many += 1
        colours = (
            petal_mesh.blend(petal.reflectance, petal.face, f, u, v),
            petal_mesh.blend(petal.transmittance, petal.face, f, u, v),
        )
        _put_lit(sending, p, point.x, facing, unit(to), colours, paths.petal_weight[e] / paths.samples)


@jit
def _mirrored_paths(sending, p):
    """The paths of a pixel that see the dry petal by way of a drop."""
    paths, petal, light, sent = sending.camera.paths, sending.camera.petal, sending.light, sending.sent
    scramble = key(sending.card.seed, paths.first + p, PAIR.mirror_light)
    first = paths.petal_start[p]
    for e in range(first, paths.petal_start[p + 1]):
        tag = paths.petal_tag[e]
        if tag & TAG.part == TAG.petal:
            continue
        f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
        e_front, _ = _sample_card(
            sending, scramble, e - first, petal_end(paths, petal, e), tag & TAG.front != 0
        )
        if e_front == 0.0:
            continue
        k = paths.petal_weight[e] / (paths.samples * pi)
        if light[0, 0] > 0.0:
            _put_part(sent, tag, p, petal_mesh.blend(petal.reflectance, petal.face, f, u, v), k, light[0])
        else:
            _put_part(sent, tag, p, petal_mesh.blend(petal.transmittance, petal.face, f, u, v), k, light[1])


@jit
def _base_paths(sending, p):
    """The paths of a pixel that end on a drop's wet base: light through the petal from behind."""
    paths, petal, card = sending.camera.paths, sending.camera.petal, sending.card
    scramble = key(card.seed, paths.first + p, PAIR.light)
    first = paths.base_start[p]
    for e in range(first, paths.base_start[p + 1]):
        f, u, v = int(paths.base_face[e]), paths.base_uv[e, 0], paths.base_uv[e, 1]
        a, b = pair_of(scramble, e - first)
        y, power = point_on(sending.face, a, b)
        point, sample = base_end(paths, petal, e), LightSample(y, power)
        hidden = card.behind[paths.base_drop[e]]
        back = back_irradiance(sending.scene, sending.face, point, sample, hidden)
        if back > 0.0:
            _from_point(sending.light, a, b, back)
            k = paths.base_weight[e] / (paths.samples * pi)
            colour = petal_mesh.blend(petal.transmittance, petal.face, f, u, v)
            _put_part(sending.sent, paths.base_tag[e], p, colour, k, sending.light[0])


@jit
def _visible_part(scene, face, f, o, part):
    """Share of a part of a card that the petal leaves to point o of its face f."""
    seen = 0
    for i in range(2 * LOOKS):
        even, aside = (i // 2 + 0.5) / LOOKS, ASIDE[i // 2]
        u, v = (even, aside) if i % 2 == 0 else (aside, even)
        y, _ = point_on(face, part[0] + (part[1] - part[0]) * u, part[2] + (part[3] - part[2]) * v)
        seen += petal_visibility(scene.petal, f, o, y, scene.stack)
    return 0.5 * seen / LOOKS


@jit
def _visible_row(view, card, face, i, stack):
    """Fill the card's visible parts for a row of coarse blocks; of a block that sees no petal the first is
    -1."""
    paths, scene = view.paths, held(PetalAndStack(view.petal, stack))
    top = paths.first // paths.width // COARSE
    for j in range(card.visible.shape[1]):
        visible = card.visible[top + i, j]
        state, p = classify_corners(paths, scene, face, COARSE, i, j)
        visible[:] = 1.0 if state == STATE.clear else 0.0
        if state == STATE.empty:
            visible[0] = -1.0
        if state != STATE.mixed:
            continue
        f, o = int(paths.petal_face[paths.mean_end[p]]), place_seen(paths, view.petal, p)
        for m in range(visible.shape[0]):
            part = card.part[m, 0], card.part[m, 1], card.part[m, 2], card.part[m, 3]
            visible[m] = _visible_part(scene, face, f, o, part)


@jit_allocating
def _find_visible_one(view, card, i):
    _visible_row(view, card, held(face_of(card.lamp)), i, np.empty(STACK, dtype=np.int32))


@threaded
def find_visible(begin, end, view, card):
    """Fill a `Card`'s visible parts for the coarse blocks of a view's paths."""
    for i in range(begin, end):
        _find_visible_one(view, card, i)


@jit
def visible_from(visible, x, y, share):
    """Fill share (m,): how much of the parts of a card is visible from pixel x, y, between the coarse blocks
    about it; whether one of them sees petal."""
    v, u = (y + 0.5) / COARSE - 0.5, (x + 0.5) / COARSE - 0.5
    i, j = int(np.floor(v)), int(np.floor(u))
    v, u = v - i, u - j
    total = 0.0
    share[:] = 0.0
    for a in range(2):
        for b in range(2):
            one = visible[min(max(i + a, 0), visible.shape[0] - 1), min(max(j + b, 0), visible.shape[1] - 1)]
            if one[0] < 0.0:
                continue
            w = (v if a else 1.0 - v) * (u if b else 1.0 - u)
            total += w
            for m in range(share.shape[0]):
                share[m] += w * one[m]
    if total < LEAST_WEIGHT:
        return False
    for m in range(share.shape[0]):
        share[m] /= total
    return True


@jit
def _send_pixel(sending, x_pixel, r):
    card, paths = sending.card, sending.camera.paths
    p = r * paths.width + x_pixel
    if paths.mean_end[p] >= 0:
        x = row(paths.mean_place, p)
        known = visible_from(card.visible, x_pixel, paths.first // paths.width + r, sending.share)
        known = known and not boards_may_hide(card.boards, sending.face, x)
        if paths.whole[p] == 1 and known:
            facing = row(paths.mean_normal, p)
            _from_all(sending, x, facing)
            rho, tau = row(paths.mean_reflectance, p), row(paths.mean_transmittance, p)
            colours = scale(rho, 1.0), scale(tau, 1.0)  # doubles, as those of paths
            _put_lit(sending, p, x, facing, unit(_toward_all(sending, x, facing)), colours, 1.0)
            return
        _straight_paths(sending, p, known)
    if sending.sent.number[p] >= 0:
        _mirrored_paths(sending, p)
        _base_paths(sending, p)


@jit
def _send_row(view, card, face, sent, room, r):
    light, share, stack = room
    scene = held(SceneGeometry(view.petal, view.drops, card.boards, stack))
    sending = held(Sending(view, card, face, sent, scene, light, share))
    for x_pixel in range(view.paths.width):
        _send_pixel(sending, x_pixel, r)


@jit_allocating
def _send_one(view, card, sent, r):
    light, share = np.empty((2, PATTERNS)), np.empty(card.visible.shape[2])
    room = light, share, np.empty(STACK, dtype=np.int32)
    _send_row(view, card, held(face_of(card.lamp)), sent, room, r)


@threaded
def send(begin, end, view, card, sent):
    """Add to `sent`, a `Sent`, what a card sends to the rows of a view's paths."""
    for r in range(begin, end):
        _send_one(view, card, sent, r)


@threaded
def add_sent(begin, end, width, sent, shares, parts):
    """Add to `parts`, for rows of `width` pixels, what a card sends with its patterns weighed by shares
    (PATTERNS,)."""
    for p in range(begin * width, end * width):
        for i in range(PATTERNS):
            for a in range(3):
                parts.petal[p, a] += shares[i] * sent.petal[p, i, a]
        m = sent.number[p]
        if m >= 0:
            for i in range(PATTERNS):
                for a in range(3):
                    parts.surface[p, a] += shares[i] * sent.surface[m, i, a]
                    parts.water[p, a] += shares[i] * sent.water[m, i, a]
