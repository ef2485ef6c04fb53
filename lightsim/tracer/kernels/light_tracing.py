"""A face's light followed through the drops, and put down on the grids that soft light lives on.

Points are spread evenly over each drop's disc, each with its own point of the face; their light is divided
between the mirrored and the refracted ray at every meeting with water. What arrives is put down on the wet
bases, on the petal round the drops, and on the gathering points beyond: no light is lost between grid points.

The connection (`connection`) brings to each camera path what one drop sends on up to two chords. That is kept
apart here, for the light that bases and petal pass on. The rest, by way of two drops or more or mirrored
again and again inside one, is seen from these grids alone.
"""

from __future__ import annotations

from math import inf, pi, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import WATER_INDEX
from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.base_transfer import grid_ring
from lightsim.tracer.kernels.caustics import beam_share, spot_of
from lightsim.tracer.kernels.drop_visibility import HIDDEN, MIXED, shaded
from lightsim.tracer.kernels.emitters import face_of, hidden_by, point_on
from lightsim.tracer.kernels.jit import jit, making, threaded
from lightsim.tracer.kernels.near_transfer import about, ring_of
from lightsim.tracer.kernels.refraction import bend, fresnel, mirror
from lightsim.tracer.kernels.sampling import LENS, LIGHT, key, pair_of, to_disc
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, basis, dot, length, row, scale, sub, unit

N = WATER_INDEX
BASE_CHORDS = 2  # light that reaches the first drop's base on so many chords is the connection's
PETAL_CHORDS = 2  # and light that leaves it after so many, on its way to the petal
FEEBLE = 0.15  # share of a point's light below which a ray is followed for one point in RARE only
FAINT = 1e-3  # share of a point's light below which it is given up
RARE = 4  # one point in so many is followed in all its feeble rays
PENDING = 64  # rays that a point may have waiting


class Onward(NamedTuple):
    """Light put down, for each part of the drops that is followed alone: base (parts, 2, nd, g*g), ring
    (parts, 2, nd, rings*spokes), of these the connection's first and the rest second; point (parts, n, 2) the
    rest beyond the rings, far (parts, n) the connection's there.
    """

    base: NDArray
    ring: NDArray
    point: NDArray
    far: NDArray


class Grids(NamedTuple):
    """The grids' sizes; of_vertex (nv,): each vertex' gathering point; rims (nd,): the bases' radii.

    reach, least : light by way of one drop is brought to the petal by the connection where `reach` promises
    more than `least` of the beam (see `caustics.gather_list`); least 0: a soft face, whose light passes the
    drops on its way to the petal as if they were not there.
    """

    grid: int
    rings: int
    spokes: int
    of_vertex: NDArray
    rims: NDArray
    reach: NDArray
    least: float


@jit
def _put_round(target, rings, spokes, ring, turn, light):
    """Share light among the four places of a polar grid about a ring and an angle in turns."""
    b = turn * spokes
    i, j = min(int(ring), rings - 2), int(b)
    u, v = ring - i, b - j
    j0, j1 = j % spokes, (j + 1) % spokes
    target[i * spokes + j0] += light * (1.0 - u) * (1.0 - v)
    target[i * spokes + j1] += light * (1.0 - u) * v
    target[(i + 1) * spokes + j0] += light * u * (1.0 - v)
    target[(i + 1) * spokes + j1] += light * u * v


@jit
def _on_base(drops, grids, k, p, light, target):
    """Put light down on drop k's base at p."""
    off, turn = about(drops, k, p)
    ring = grid_ring(grids.grid, grids.rims[k], off / grids.rims[k])
    _put_round(target[k], grids.grid, grids.grid, ring, turn, light)


@jit
def _close_by(drops, grids, k, o, d, light, target):
    """Put down light that leaves drop k where it meets the plane at its foot, unless that is far off."""
    n, foot = row(drops.normal, k), row(drops.foot, k)
    down = -dot(d, n)
    if down <= 1e-9:
        return
    off, turn = about(drops, k, along(o, d, dot(sub(o, foot), n) / down))
    ring = ring_of(grids.rims[k], grids.rings, off)
    if ring < grids.rings - 1.0:
        _put_round(target[k], grids.rings, grids.spokes, ring, turn, light)


@jit
def _on_petal(petal, drops, face, grids, k, o, d, light, course, onward, part, stack):
    """Put down light that leaves drop k at o along d where it meets the dry petal; what comes by one drop's
    courses (-1: none) and the connection brings, only beyond the rings: nearer it is put down already."""
    far, f, u, v = petal_mesh.nearest(petal, o, d, petal_mesh.START, inf, stack)
    if f < 0:
        return
    front = dot(petal_mesh.flat_normal(petal, f), d) < 0.0
    brought = False
    if front:
        p = along(o, d, far)
        off, turn = about(drops, k, p)
        ring = ring_of(grids.rims[k], grids.rings, off)
        if course >= 0:
            to = unit(sub(face.centre, p))
            floor = grids.least * max(0.1, abs(dot(petal_mesh.normal_at(petal, f, u, v), to)))
            brought = beam_share(grids.reach, course, spot_of(drops, k, p, 0.0, to)) > floor
        if ring < grids.rings - 1.0:
            if not brought:
                _put_round(onward.ring[part, 1, k], grids.rings, grids.spokes, ring, turn, light)
            return
    w = 1.0 - u - v
    corner = 0 if w >= u and w >= v else (1 if u >= v else 2)
    point = grids.of_vertex[petal.face[f, corner]]
    if brought:
        onward.far[part, point] += light
    else:
        onward.point[part, point, 0 if front else 1] += light


@jit
def _wait(pending, count, drop_number, o, d, light, first, chords, rare, whole, boosted):
    """Add a ray to those that wait; a feeble one only of every RARE-th point, whose light it then counts for.

    whole : the point's light; boosted : 1 where the ray's own light counts for others already.
    """
    if light < FEEBLE * whole and boosted == 0.0:
        if not rare:
            return count
        light *= RARE
        boosted = 1.0
    if count < PENDING:
        pending[count, 0] = drop_number
        pending[count, 1], pending[count, 2], pending[count, 3] = o[0], o[1], o[2]
        pending[count, 4], pending[count, 5], pending[count, 6] = d[0], d[1], d[2]
        pending[count, 7], pending[count, 8], pending[count, 9] = light, first, chords
        pending[count, 10] = boosted
        count += 1
    return count


@jit
def _inside(petal, drops, grids, k, o, d, light, first, rare, whole, boosted, pending, count, onward, part):
    """Follow light inside drop k, on the first drop of its way or a later one, chord by chord; what leaves
    the water waits in `pending`."""
    n = row(drops.normal, k)
    foot = row(drops.foot, k)
    chords = 0
    while light > FAINT * whole and chords < 24:
        chords += 1
        _, t_out = drop_spheres.sphere(drops, k, o, d)
        down = dot(d, n)
        t_base = dot(sub(foot, o), n) / down if down < -1e-12 else inf
        if t_base <= t_out or t_out == inf:
            rest = 0 if first and chords <= BASE_CHORDS else 1
            _on_base(drops, grids, k, along(o, d, t_base), light, onward.base[part, rest])
            return count
        o = along(o, d, t_out)
        inward = scale(sub(row(drops.centre, k), o), 1.0 / drops.radius[k])
        cos_i = min(1.0, max(0.0, -dot(d, inward)))
        f = fresnel(cos_i, 1.0 / N)
        if f < 1.0:
            out = bend(d, inward, cos_i, 1.0 / N)
            count = _wait(pending, count, k, o, out, light * (1.0 - f), first, chords, rare, whole, boosted)
        light *= f
        d = mirror(d, inward)
    return count


@jit
def _settle_ray(petal, drops, face, grids, ray, rare, whole, pending, count, onward, part, stack):
    """Follow a ray that has left a drop: into the next one, or down to the petal.

    rare : whether light that the connection leaves out is looked for; it then counts RARE times.
    """
    k, first, chords = int(ray[0]), ray[8] > 0.0, ray[9]
    o, d, light = (ray[1], ray[2], ray[3]), (ray[4], ray[5], ray[6]), ray[7]
    boosted = ray[10]
    if light <= FAINT * whole:
        return count
    t, other = drop_spheres.enter(drops, o, d, 1e-7, inf, k, stack)
    if other >= 0 and petal_mesh.blocked(petal, o, d, petal_mesh.START, t, stack):
        other = -1
    if other < 0:
        one = first and chords <= PETAL_CHORDS
        if one:
            _close_by(drops, grids, k, o, d, light, onward.ring[part, 0])
        if grids.least > 0.0 and (not one or rare):
            course, times = (int(chords), 1.0 if boosted > 0.0 else RARE) if one else (-1, 1.0)
            _on_petal(petal, drops, face, grids, k, o, d, times * light, course, onward, part, stack)
        return count
    e = along(o, d, t)
    n = scale(sub(e, row(drops.centre, other)), 1.0 / drops.radius[other])
    cos_i = min(1.0, max(0.0, -dot(d, n)))
    f = fresnel(cos_i, N)
    count = _wait(pending, count, other, e, mirror(d, n), light * f, 0.0, 0.0, rare, whole, boosted)
    inner = bend(d, n, cos_i, N)
    return _inside(
        petal,
        drops,
        grids,
        other,
        e,
        inner,
        light * (1.0 - f),
        False,
        rare,
        whole,
        boosted,
        pending,
        count,
        onward,
        part,
    )


@jit
def _follow(
    petal, drops, cards, face, state, shades, shade_count, grids, k, m, many, pending, onward, part, stack
):
    """Follow point m of `many` on drop k."""
    c, r = row(drops.centre, k), drops.radius[k]
    a, b = to_disc(*pair_of(key(0, k, LENS), m))
    y, power = point_on(face, *pair_of(key(0, k, LIGHT), m))
    to = sub(y, c)
    axis = scale(to, 1.0 / length(to))
    s, t = basis(axis)
    height = sqrt(max(1e-9, 1.0 - a * a - b * b))
    n = along(along(scale(axis, height), s, a), t, b)
    e = along(c, n, r)
    out = sub(y, e)
    reach = length(out)
    out = scale(out, 1.0 / reach)
    cos_i, cos_y = dot(n, out), -dot(out, face.out)
    if cos_i <= 1e-6 or cos_y <= 0.0 or drop_spheres.height(drops, k, e) <= 0.0:
        return
    if dot(out, row(drops.normal, k)) < 0.0 and drop_spheres.height(drops, k, e) < 0.1:
        return
    if shaded(drops, shades[k], shade_count[k], k, e, out, reach) or hidden_by(cards, e, out, reach):
        return
    if state[k, 0] == MIXED and petal_mesh.blocked(petal, e, out, petal_mesh.START, reach, stack):
        return
    light = power * cos_y * cos_i / (height * reach * reach) * pi * r * r / many
    rare = m % RARE == 0
    d = scale(out, -1.0)
    f = fresnel(cos_i, N)
    count = _wait(pending, 0, k, e, mirror(d, n), light * f, 1.0, 0.0, rare, light, 0.0)
    inner = bend(d, n, cos_i, N)
    count = _inside(
        petal,
        drops,
        grids,
        k,
        e,
        inner,
        light * (1.0 - f),
        True,
        rare,
        light,
        0.0,
        pending,
        count,
        onward,
        part,
    )
    while count > 0:
        count -= 1
        ray = (
            pending[count, 0], pending[count, 1], pending[count, 2], pending[count, 3], pending[count, 4],
            pending[count, 5], pending[count, 6], pending[count, 7], pending[count, 8], pending[count, 9],
            pending[count, 10],
        )  # fmt: skip
        count = _settle_ray(petal, drops, face, grids, ray, rare, light, pending, count, onward, part, stack)


@making
def _follow_part(petal, drops, cards, lamp, state, shades, shade_count, grids, many, onward, part):
    face = held(face_of(lamp))
    stack = np.empty(192, dtype=np.int32)
    pending = np.empty((PENDING, 11))
    for k in range(part, drops.radius.shape[0], onward.base.shape[0]):
        if state[k, 0] == HIDDEN:
            continue
        for m in range(many[k]):
            _follow(
                petal, drops, cards, face, state, shades, shade_count, grids, k, m, many[k], pending, onward,
                part, stack,
            )  # fmt: skip


@threaded
def follow(begin, end, petal, drops, cards, lamp, state, shades, shade_count, grids, many, onward):
    """Follow so `many` points of light (nd,) on each drop and put down in `onward` what goes on."""
    for part in range(begin, end):
        _follow_part(petal, drops, cards, lamp, state, shades, shade_count, grids, many, onward, part)
