"""What a card sends to the kept camera paths: found once for all the lights that may shine on it.

Light adds, and a card is lit so smoothly that its radiance is a sum of a few patterns. What it sends by each
of them depends on no lamp; a lamp's own work is to weigh the patterns. The shadows of drops in a card's light
are soft, since it comes from all over a wide face: with what it sends through them they are left to indirect
light.
"""

from __future__ import annotations

from math import pi
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.camera_paths import FRONT, PART, SURFACE_PART, WATER_PART
from lightsim.tracer.kernels.caustics import back_irradiance
from lightsim.tracer.kernels.drop_shadow import toward_light
from lightsim.tracer.kernels.drop_visibility import OccluderList, petal_visibility
from lightsim.tracer.kernels.emitters import face_of, point_on
from lightsim.tracer.kernels.gloss import response
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.light_pass import LightSample, SceneGeometry
from lightsim.tracer.kernels.path_store import base_end, petal_end, place_seen
from lightsim.tracer.kernels.sampling import LIGHT, MIRROR_LIGHT, key, pair_of
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.unoccluded import boards_may_hide, sample_irradiance
from lightsim.tracer.kernels.vectors import dot, row, scale, sub, unit
from lightsim.tracer.kernels.visibility_cache import CLEAR, COARSE, EMPTY, MIXED
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
    """What sending a card's light takes beside its face of radiance 1.

    node_pattern (m, PATTERNS), part (m, 4): the patterns at the face's quadrature points, and the part of it
    that each stands for: across from and to, upward from and to, 0 to 1. behind (nd,): what the petal leaves
    of its light to the back of each drop's base, see `drop_visibility.classify_drops`. lens_at (3,): the
    pupil's centre. seed: of the sample points."""

    node_pattern: NDArray
    part: NDArray
    behind: NDArray
    lens_at: NDArray
    seed: int


@jit
def _from_all(face, card, x, n, left, light):
    """Fill light (2, PATTERNS): irradiance at x from the face on the side of n and the other. left (m,):
    by how much the petal leaves the part about each quadrature point."""
    for i in range(PATTERNS):
        light[0, i] = light[1, i] = 0.0
    for m in range(face.flux.shape[0]):
        to = sub(row(face.node, m), x)
        r2 = dot(to, to)
        k = -dot(to, face.out)
        if k > 0.0:
            e = face.flux[m] * left[m] * k * dot(to, n) / (r2 * r2)
            side = 0 if e > 0.0 else 1
            for i in range(PATTERNS):
                light[side, i] += abs(e) * card.node_pattern[m, i]


@jit
def _from_point(a, b, e, light):
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
def _toward_all(petal, face, x, facing):
    """As `toward_light`, for a gloss: without one, which way does not matter."""
    return toward_light(face, x, facing) if petal.gloss > 0.0 else facing


@jit
def _put_lit(target, p, petal, x, lens_at, facing, to_light, reflectance, transmittance, k, light):
    """Put down what a petal lit on both sides (2, PATTERNS) sends on, seen from its first side."""
    matt, gloss = 1.0, 0.0
    if petal.gloss > 0.0:
        view = unit(sub(lens_at, x))
        matt, gloss = response(petal.gloss, petal.gloss_mean, petal.roughness, facing, view, to_light)
    _put(target, p, reflectance, k * matt / pi, light[0])
    _put(target, p, transmittance, k / pi, light[1])
    _put(target, p, (1.0, 1.0, 1.0), k * gloss, light[0])


@jit
def _put_part(sent, tag, p, colour, k, by):
    if tag & PART == SURFACE_PART:
        _put(sent.surface, sent.number[p], colour, k, by)
    elif tag & PART == WATER_PART:
        _put(sent.water, sent.number[p], colour, k, by)
    else:
        _put(sent.petal, p, colour, k, by)


@jit
def _straight_paths(paths, petal, drops, boards, face, card, lens_at, p, known, left, light, sent, stack):
    """The paths of a pixel that see the petal straight. known: whether it is known what the petal leaves of
    the face's parts, left (m,), and no other card hides."""
    scramble = key(card.seed, paths.first + p, LIGHT)
    scene, nobody = held(SceneGeometry(petal, drops, boards, stack)), held(OccluderList(drops, stack, 0))
    many = 0
    for e in range(paths.petal_start[p], paths.petal_start[p + 1]):
        tag = paths.petal_tag[e]
        if tag & PART != 0:
            continue
        f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
        x, n = petal_mesh.place(petal, f, u, v), petal_mesh.normal_at(petal, f, u, v)
        seen_front = tag & FRONT != 0
        facing = n if seen_front else scale(n, -1.0)
        if known:
            to = _toward_all(petal, face, x, facing)
            _from_all(face, card, x, facing, left, light)
        else:
            a, b = pair_of(scramble, many)
            y, power = point_on(face, a, b)
            point, sample = petal_end(paths, petal, e), LightSample(y, power)
            e_front = sample_irradiance(scene, face, point, sample, MIXED, nobody)
            _from_point(a, b, e_front if seen_front else -e_front, light)
            to = sub(y, x)
        many += 1
        _put_lit(
            sent.petal, p, petal, x, lens_at, facing, unit(to),
            petal_mesh.blend(petal.reflectance, petal.face, f, u, v),
            petal_mesh.blend(petal.transmittance, petal.face, f, u, v), paths.petal_weight[e] / paths.samples,
            light,
        )  # fmt: skip


@jit
def _mirrored_paths(paths, petal, drops, boards, face, seed, p, light, sent, stack):
    """The paths of a pixel that see the dry petal by way of a drop."""
    scramble = key(seed, paths.first + p, MIRROR_LIGHT)
    scene, nobody = held(SceneGeometry(petal, drops, boards, stack)), held(OccluderList(drops, stack, 0))
    first = paths.petal_start[p]
    for e in range(first, paths.petal_start[p + 1]):
        tag = paths.petal_tag[e]
        if tag & PART == 0:
            continue
        f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
        a, b = pair_of(scramble, e - first)
        y, power = point_on(face, a, b)
        point, sample = petal_end(paths, petal, e), LightSample(y, power)
        e_front = sample_irradiance(scene, face, point, sample, MIXED, nobody)
        if e_front == 0.0:
            continue
        _from_point(a, b, e_front if tag & FRONT else -e_front, light)
        k = paths.petal_weight[e] / (paths.samples * pi)
        if light[0, 0] > 0.0:
            _put_part(sent, tag, p, petal_mesh.blend(petal.reflectance, petal.face, f, u, v), k, light[0])
        else:
            _put_part(sent, tag, p, petal_mesh.blend(petal.transmittance, petal.face, f, u, v), k, light[1])


@jit
def _base_paths(paths, petal, drops, boards, face, state, seed, p, light, sent, stack):
    """The paths of a pixel that end on a drop's wet base: light through the petal from behind."""
    scramble = key(seed, paths.first + p, LIGHT)
    scene, first = held(SceneGeometry(petal, drops, boards, stack)), paths.base_start[p]
    for e in range(first, paths.base_start[p + 1]):
        f, u, v = int(paths.base_face[e]), paths.base_uv[e, 0], paths.base_uv[e, 1]
        a, b = pair_of(scramble, e - first)
        y, power = point_on(face, a, b)
        point, sample = base_end(paths, petal, e), LightSample(y, power)
        back = back_irradiance(scene, face, point, sample, state[paths.base_drop[e]])
        if back > 0.0:
            _from_point(a, b, back, light)
            k = paths.base_weight[e] / (paths.samples * pi)
            colour = petal_mesh.blend(petal.transmittance, petal.face, f, u, v)
            _put_part(sent, paths.base_tag[e], p, colour, k, light[0])


@jit
def _look_at_part(petal, face, f, o, part, stack):
    """Share of a part of a card that the petal leaves to point o of its face f."""
    seen = 0
    for i in range(2 * LOOKS):
        even, aside = (i // 2 + 0.5) / LOOKS, ASIDE[i // 2]
        u, v = (even, aside) if i % 2 == 0 else (aside, even)
        y, _ = point_on(face, part[0] + (part[1] - part[0]) * u, part[2] + (part[3] - part[2]) * v)
        seen += petal_visibility(petal, f, o, y, stack)
    return 0.5 * seen / LOOKS


@jit
def _look_from(paths, petal, face, card, i, j, left, stack):
    """Fill left (m,) of a wide block, the first -1 where it sees no petal."""
    scene = held(PetalAndStack(petal, stack))
    state, p = classify_corners(paths, scene, face, COARSE, i, j)
    left[:] = 1.0 if state == CLEAR else 0.0
    if state == EMPTY:
        left[0] = -1.0
    if state != MIXED:
        return
    f, o = int(paths.petal_face[paths.mean_end[p]]), place_seen(paths, petal, p)
    for m in range(left.shape[0]):
        part = card.part[m, 0], card.part[m, 1], card.part[m, 2], card.part[m, 3]
        left[m] = _look_at_part(petal, face, f, o, part, stack)


@jit_allocating
def _look_one(paths, petal, lamp, card, left, i):
    face = held(face_of(lamp))
    stack = np.empty(192, dtype=np.int32)
    top = paths.first // paths.width // COARSE
    for j in range(left.shape[1]):
        _look_from(paths, petal, face, card, i, j, left[top + i, j], stack)


@threaded
def look(begin, end, paths, petal, lamp, card, left):
    """Fill left (rows, columns, m) float32, of the whole picture, for the wide blocks of `paths`: by how much
    the petal leaves each part of a card to them."""
    for i in range(begin, end):
        _look_one(paths, petal, lamp, card, left, i)


@jit
def left_between(left, x, y, share):
    """Fill share (m,): by how much the petal leaves the parts of a card to pixel x, y, between the wide
    blocks about it; whether one of them sees petal."""
    v, u = (y + 0.5) / COARSE - 0.5, (x + 0.5) / COARSE - 0.5
    i, j = int(np.floor(v)), int(np.floor(u))
    v, u = v - i, u - j
    total = 0.0
    share[:] = 0.0
    for a in range(2):
        for b in range(2):
            one = left[min(max(i + a, 0), left.shape[0] - 1), min(max(j + b, 0), left.shape[1] - 1)]
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


@jit_allocating
def _send_one(paths, petal, drops, boards, lamp, left, card, sent, r):
    face = held(face_of(lamp))
    lens_at = card.lens_at[0], card.lens_at[1], card.lens_at[2]
    stack = np.empty(192, dtype=np.int32)
    light, share = np.empty((2, PATTERNS)), np.empty(left.shape[2])
    for x_pixel in range(paths.width):
        p = r * paths.width + x_pixel
        if paths.mean_end[p] >= 0:
            x = row(paths.mean_place, p)
            known = left_between(left, x_pixel, paths.first // paths.width + r, share)
            known = known and not boards_may_hide(boards, face, x)
            if paths.whole[p] == 1 and known:
                facing = row(paths.mean_normal, p)
                _from_all(face, card, x, facing, share, light)
                _put_lit(
                    sent.petal, p, petal, x, lens_at, facing, unit(_toward_all(petal, face, x, facing)),
                    row(paths.mean_reflectance, p), row(paths.mean_transmittance, p), 1.0, light,
                )  # fmt: skip
                continue
            _straight_paths(
                paths, petal, drops, boards, face, card, lens_at, p, known, share, light, sent, stack
            )
        if sent.number[p] >= 0:
            _mirrored_paths(paths, petal, drops, boards, face, card.seed, p, light, sent, stack)
            _base_paths(paths, petal, drops, boards, face, card.behind, card.seed, p, light, sent, stack)


@threaded
def send(begin, end, paths, petal, drops, boards, lamp, left, card, sent):
    """Add to `sent` what a card sends to some rows. boards: that may hide it; lamp: the card's face, of
    radiance 1; left: see `look`."""
    for r in range(begin, end):
        _send_one(paths, petal, drops, boards, lamp, left, card, sent, r)


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
