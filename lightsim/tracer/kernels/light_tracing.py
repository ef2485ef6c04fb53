"""Light tracing: a face's light through the drops, splatted on the grids of indirect light.

Points are spread evenly over each drop's disc, each with its own point of the face; their light is divided
between the mirrored and the refracted ray at every meeting with water. What arrives is splatted on the wet
bases, on the petal round the drops, and on the gathering points beyond: no light is lost between grid points.

The connection (`connection`) brings to each camera path what one drop sends on up to two chords. That is kept
apart here, for the light that bases and petal pass on. The rest, by way of two drops or more or mirrored
again and again inside one, is seen from these grids alone.
"""

from __future__ import annotations

from math import inf, pi, sqrt
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import WATER_INDEX as N
from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.base_transfer import grid_ring
from lightsim.tracer.kernels.box_tree import STACK
from lightsim.tracer.kernels.caustic_list import beam_share, spot_of
from lightsim.tracer.kernels.drop_visibility import STATE, OccluderList, shaded
from lightsim.tracer.kernels.emitters import face_of, hidden_by, point_on
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.near_transfer import about, ring_of
from lightsim.tracer.kernels.petal_radiosity import petal_column
from lightsim.tracer.kernels.refraction import bend, fresnel, mirror
from lightsim.tracer.kernels.sampling import PAIR, key, pair_of, to_disc
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, basis, dot, length, row, scale, sub, unit


class TracingLimits(NamedTuple):
    """How far rays of light are followed."""

    connected_chords: int = 2  # on which the connection lights the first drop's base, or through it the petal
    feeble: float = 0.15  # share of a point's light below which a ray is followed of one point in `rare`
    faint: float = 1e-3  # share of a point's light below which it is given up
    rare: int = 4  # one point in so many is followed in all its feeble rays
    waiting: int = 64  # rays that a point may have waiting


LIMITS = TracingLimits()


class Splats(NamedTuple):
    """Light put down, for each part of the drops that is followed alone.

    base (parts, 2, nd, g, g), ring (parts, 2, nd, rings, spokes) : the connection's first, the rest second.
    point (parts, 2 n) : the rest beyond the rings, by the points' sides. far (parts, n) : the connection's.
    """

    base: NDArray
    ring: NDArray
    point: NDArray
    far: NDArray


class Grids(NamedTuple):
    """points : a `petal_radiosity.PetalPoints`. rims (nd,) : the bases' radii. traced : points of light that
    are followed through each drop.

    reach, least : light by way of one drop is brought to the petal by the connection where `reach` promises
    more than `least` of the beam (see `caustics.gather_list`); least 0: a soft face, whose light passes the
    drops on its way to the petal as if they were not there.
    """

    points: Any
    rims: NDArray
    traced: int
    reach: NDArray
    least: float


class Tracing(NamedTuple):
    """What follows light through the drops: a `face_light.FaceLight`, the face, the grids and their splats,
    the number of the part, rays that wait (waiting, 11), and a stack for walks through trees."""

    light: Any
    face: Any
    grids: Any
    splats: Any
    part: int
    waiting: NDArray
    stack: NDArray


class Ray(NamedTuple):
    """A ray that leaves drop `drop` with some light: the first drop of its way or not, after so many chords
    in it. boosted : whether its light counts for that of other points' rays."""

    drop: int
    o: Any
    d: Any
    light: float
    first: bool
    chords: int
    boosted: bool


class Sample(NamedTuple):
    """One point on a drop: its light, and whether its feeble rays are followed."""

    light: float
    rare: bool


@jit
def _ray(drop, o, d, light, first, chords, boosted):
    """A `Ray` whose numbers are of one width, whatever they are made from."""
    return Ray(drop, o, d, light, first, chords, boosted)


@jit
def _splat_round(target, ring, turn, light):
    """Share light among the four places of a polar grid (rings, spokes) about a ring and an angle in
    turns."""
    b = turn * target.shape[1]
    i, j = min(int(ring), target.shape[0] - 2), int(b)
    u, v = ring - i, b - j
    j0, j1 = j % target.shape[1], (j + 1) % target.shape[1]
    target[i, j0] += light * (1.0 - u) * (1.0 - v)
    target[i, j1] += light * (1.0 - u) * v
    target[i + 1, j0] += light * u * (1.0 - v)
    target[i + 1, j1] += light * u * v


@jit
def _splat_on_base(trace, k, p, light, rest):
    """Put light down on drop k's base at p; rest: 0 for the connection's, else 1."""
    target = trace.splats.base[trace.part, rest, k]
    off, turn = about(trace.light.drops, k, p)
    rim = trace.grids.rims[k]
    _splat_round(target, grid_ring(target.shape[0], rim, off / rim), turn, light)


@jit
def _splat_on_plane(trace, ray):
    """Put down light that leaves a drop where it meets the plane at its foot, unless that is far off."""
    k, drops = ray.drop, trace.light.drops
    target = trace.splats.ring[trace.part, 0, k]
    n, foot = row(drops.normal, k), row(drops.foot, k)
    down = -dot(ray.d, n)
    if down <= 1e-9:
        return
    off, turn = about(drops, k, along(ray.o, ray.d, dot(sub(ray.o, foot), n) / down))
    ring = ring_of(trace.grids.rims[k], target.shape[0], off)
    if ring < target.shape[0] - 1.0:
        _splat_round(target, ring, turn, ray.light)


@jit
def _splat_on_petal(trace, ray, light, path_type):
    """Put down light of a ray where it meets the dry petal; what comes by one drop (path_type; -1: by more)
    and the connection brings, only beyond the rings: nearer it is put down already."""
    petal, drops, grids, k = trace.light.petal, trace.light.drops, trace.grids, ray.drop
    target = trace.splats.ring[trace.part, 1, k]
    far, f, u, v = petal_mesh.nearest(petal, ray.o, ray.d, petal_mesh.START, inf, trace.stack)
    if f < 0:
        return
    brought = False
    if dot(petal_mesh.flat_normal(petal, f), ray.d) < 0.0:
        p = along(ray.o, ray.d, far)
        off, turn = about(drops, k, p)
        ring = ring_of(grids.rims[k], target.shape[0], off)
        if path_type >= 0:
            to = unit(sub(trace.face.centre, p))
            floor = grids.least * max(0.1, abs(dot(petal_mesh.normal_at(petal, f, u, v), to)))
            brought = beam_share(grids.reach, path_type, spot_of(drops, k, p, 0.0, to)) > floor
        if ring < target.shape[0] - 1.0:
            if not brought:
                _splat_round(target, ring, turn, light)
            return
    w = 1.0 - u - v
    corner = 0 if w >= u and w >= v else (1 if u >= v else 2)
    column = petal_column(grids.points, petal, f, petal.face[f, corner], ray.d)
    if brought:
        trace.splats.far[trace.part, column // 2] += light
    else:
        trace.splats.point[trace.part, column] += light


@jit
def _push(trace, count, ray, sample):
    """Add a ray to those that wait, and how many there are; a feeble one only of every
    rare-th point, whose light it then counts for."""
    light, boosted = ray.light, 1.0 if ray.boosted else 0.0
    if light < LIMITS.feeble * sample.light and not ray.boosted:
        if not sample.rare:
            return count
        light *= LIMITS.rare
        boosted = 1.0
    if count < LIMITS.waiting:
        slot = trace.waiting[count]
        slot[0] = ray.drop
        slot[1], slot[2], slot[3] = ray.o
        slot[4], slot[5], slot[6] = ray.d
        slot[7], slot[8], slot[9], slot[10] = light, 1.0 if ray.first else 0.0, ray.chords, boosted
        count += 1
    return count


@jit
def _pop(trace, count):
    """The last ray of those that wait."""
    slot = trace.waiting[count]
    o, d = (slot[1], slot[2], slot[3]), (slot[4], slot[5], slot[6])
    return Ray(int(slot[0]), o, d, slot[7], slot[8] > 0.0, int(slot[9]), slot[10] > 0.0)


@jit
def _enter(trace, count, ray, n, sample):
    """Part a ray that meets its drop's surface at ray.o, with the normal n there: the mirrored one waits, the
    refracted one is followed inside chord by chord, and what leaves the water waits. How many wait."""
    cos_i = min(1.0, max(0.0, -dot(ray.d, n)))
    f = fresnel(cos_i, N)
    out = _ray(ray.drop, ray.o, mirror(ray.d, n), ray.light * f, ray.first, 0, ray.boosted)
    count = _push(trace, count, out, sample)
    k, drops = ray.drop, trace.light.drops
    o, d, light = ray.o, bend(ray.d, n, cos_i, N), ray.light * (1.0 - f)
    up, foot = row(drops.normal, k), row(drops.foot, k)
    chords = 0
    while light > LIMITS.faint * sample.light and chords < 24:
        chords += 1
        _, t_out = drop_spheres.sphere(drops, k, o, d)
        down = dot(d, up)
        t_base = dot(sub(foot, o), up) / down if down < -1e-12 else inf
        if t_base <= t_out or t_out == inf:
            rest = 0 if ray.first and chords <= LIMITS.connected_chords else 1
            _splat_on_base(trace, k, along(o, d, t_base), light, rest)
            return count
        o = along(o, d, t_out)
        inward = scale(sub(row(drops.centre, k), o), 1.0 / drops.radius[k])
        cos_i = min(1.0, max(0.0, -dot(d, inward)))
        f = fresnel(cos_i, 1.0 / N)
        if f < 1.0:
            run = bend(d, inward, cos_i, 1.0 / N)
            out = _ray(k, o, run, light * (1.0 - f), ray.first, chords, ray.boosted)
            count = _push(trace, count, out, sample)
        light *= f
        d = mirror(d, inward)
    return count


@jit
def _follow_ray(trace, count, ray, sample):
    """Follow a ray that has left a drop into the next one, or down to the petal; how many rays wait."""
    petal, drops = trace.light.petal, trace.light.drops
    if ray.light <= LIMITS.faint * sample.light:
        return count
    t, other = drop_spheres.enter(drops, ray.o, ray.d, 1e-7, inf, ray.drop, trace.stack)
    if other >= 0 and petal_mesh.blocked(petal, ray.o, ray.d, petal_mesh.START, t, trace.stack):
        other = -1
    if other < 0:
        one = ray.first and ray.chords <= LIMITS.connected_chords
        if one:
            _splat_on_plane(trace, ray)
        if trace.grids.least > 0.0 and (not one or sample.rare):
            times = 1.0 if ray.boosted or not one else LIMITS.rare * 1.0
            _splat_on_petal(trace, ray, times * ray.light, ray.chords if one else -1)
        return count
    e = along(ray.o, ray.d, t)
    n = scale(sub(e, row(drops.centre, other)), 1.0 / drops.radius[other])
    return _enter(trace, count, _ray(other, e, ray.d, ray.light, False, 0, ray.boosted), n, sample)


@jit
def _follow_point(trace, k, m, many):
    """Follow point m of `many` on drop k."""
    light, face = trace.light, trace.face
    drops = light.drops
    c, r = row(drops.centre, k), drops.radius[k]
    a, b = to_disc(*pair_of(key(0, k, PAIR.lens), m))
    y, power = point_on(face, *pair_of(key(0, k, PAIR.light), m))
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
    blockers = held(OccluderList(drops, light.shades[k], light.shade_count[k]))
    if shaded(blockers, k, e, out, reach):
        return
    if hidden_by(light.boards, e, out, reach):
        return
    if light.state[k, 0] == STATE.mixed and petal_mesh.blocked(
        light.petal, e, out, petal_mesh.START, reach, trace.stack
    ):
        return
    sample = Sample(
        power * cos_y * cos_i / (height * reach * reach) * pi * r * r / many, m % LIMITS.rare == 0
    )
    first = _ray(int(k), e, scale(out, -1.0), sample.light, True, 0, False)
    count = _enter(trace, 0, first, n, sample)
    while count > 0:
        count -= 1
        count = _follow_ray(trace, count, _pop(trace, count), sample)


@jit
def _follow_drops(light, face, grids, splats, part, waiting, stack):
    trace = held(Tracing(light, face, grids, splats, part, waiting, stack))
    for k in range(part, light.drops.radius.shape[0], splats.base.shape[0]):
        if light.state[k, 0] != STATE.hidden:
            for m in range(grids.traced):
                _follow_point(trace, k, m, grids.traced)


@jit_allocating
def _follow_part(light, grids, splats, part):
    waiting, stack = np.empty((LIMITS.waiting, 11)), np.empty(STACK, dtype=np.int32)
    _follow_drops(light, held(face_of(light.lamp)), grids, splats, part, waiting, stack)


@threaded
def follow(begin, end, light, grids, splats):
    """Follow a face's light through each drop and splat what goes on. light: a `face_light.FaceLight`;
    grids: `Grids`; splats: `Splats`."""
    for part in range(begin, end):
        _follow_part(light, grids, splats, part)
