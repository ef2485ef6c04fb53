"""Soft light on the wet base of the drops: from base to base by the water's surface, and from outside.

A drop's shape depends on its contact angle alone, so the ways from base to base and from base to the air are
found once for the unit sphere, on a grid of points over the base, and used for every drop of that angle.
"""

from __future__ import annotations

from math import asin, cos, inf, pi, sin, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import WATER_INDEX
from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.caustics import behind
from lightsim.tracer.kernels.emitters import face_of
from lightsim.tracer.kernels.environment import dome_level
from lightsim.tracer.kernels.jit import jit, making, threaded, whole
from lightsim.tracer.kernels.near_transfer import about, colour_at, ring_of, turn_of
from lightsim.tracer.kernels.petal_radiosity import ENVIRONMENT, board_hit
from lightsim.tracer.kernels.refraction import bend, fresnel, mirror
from lightsim.tracer.kernels.sampling import spiral_direction
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, basis, dot, in_frame, row, scale, sub

N = WATER_INDEX
EDGE = 0.995  # share of the base's radius where the outermost ring of its grid lies
TWICE = 0.001  # share of a direction's light that is kept apart where it leaves again, at least once down
CROWDING = 1.6  # how much closer the rings lie toward the rim where there is no knee
KNEE_CROWDING = 2.5  # and toward a knee, where light from all around falls off like a root
LEAST_KNEE = 0.15  # share of the base's radius at which a knee is worth rings of its own


TURN = 2.0 * pi * 0.7548776662  # from the directions of one grid point to those of the next,
STEP = 0.5698402910  # and how far into their shares of the disc: Roberts' sequence in two dimensions


class Ways(NamedTuple):
    """For one contact angle, the unit sphere, a grid of g rings and g spokes on the base and k directions
    from each.

    rim : radius of the base. out_share (g*g, m): shares of all light that leave, one for each direction and
    some for directions that leave twice, those of nothing last; out_place, out_run (g*g, m, 3): where and
    whither, in the drop's frame with the base at z = 0.
    back_share (g*g, k): share thrown back to the base, back_place (g*g, k, 2): where: ring of the
    grid and angle in turns.
    """

    rim: float
    out_share: NDArray
    out_place: NDArray
    out_run: NDArray
    back_share: NDArray
    back_place: NDArray


class BaseLight(NamedTuple):
    """Per drop and grid point, what comes from outside.

    met (nd, g*g, k) int32: gathering point, ENVIRONMENT, or -10 - board; met_side uint8; met_place (nd,
    g*g, k, 2) float32: where on the petal round the drop: ring and angle in turns, a far ring when not
    there; dome (nd, g*g): irradiance from the dome of level 1. reflectance, transmittance (nd, 3).
    """

    met: NDArray
    met_side: NDArray
    met_place: NDArray
    dome: NDArray
    reflectance: NDArray
    transmittance: NDArray


@jit
def knee_of(rim):
    """Share of a base's radius beyond which the water begins to throw its light back wholly: farther than
    1 / n radii from the sphere's centre. Light from all around falls off steeply there. 0 where there is no
    such place, or hardly."""
    inner = rim * rim - (1.0 - 1.0 / (N * N))
    knee = sqrt(inner) / rim if inner > 0.0 else 0.0
    return knee if knee > LEAST_KNEE else 0.0


@jit
def _inner_rings(g):
    """Number of the ring on the knee."""
    return float((g - 1) * 4 // 9)


@jit
def ring_place(g, rim, ring):
    """Share of the base's radius at which a ring of its grid lies: closer toward the knee from within, beyond
    it toward both ends; without one toward the rim."""
    knee = knee_of(rim)
    if knee == 0.0:
        return EDGE * (1.0 - (1.0 - ring / (g - 1.0)) ** CROWDING)
    inner = _inner_rings(g)
    if ring <= inner:
        return knee * (1.0 - (1.0 - ring / inner) ** KNEE_CROWDING)
    v = (ring - inner) / (g - 1.0 - inner)
    return knee + (EDGE - knee) * v * v * (3.0 - 2.0 * v)


@jit
def grid_ring(g, rim, r):
    """Ring number, with its fraction, at a share r of the base's radius: see `ring_place`."""
    knee = knee_of(rim)
    below = 1.0 - 1e-9
    if knee == 0.0:
        return (1.0 - (1.0 - min(r / EDGE, 1.0)) ** (1.0 / CROWDING)) * (g - 1.0) * below
    inner = _inner_rings(g)
    if r <= knee:
        return inner * (1.0 - (1.0 - r / knee) ** (1.0 / KNEE_CROWDING))
    u = min((r - knee) / (EDGE - knee), 1.0)
    return inner + (0.5 - sin(asin(1.0 - 2.0 * u) / 3.0)) * (g - 1.0 - inner) * below


@jit
def grid_place(g, rim, node):
    """Base coordinates (-1..1) of a grid point: g rings of g spokes."""
    r = ring_place(g, rim, node // g)
    angle = 2.0 * pi * (node % g) / g
    return r * cos(angle), r * sin(angle)


@jit
def _find_ways_one(g, height, ways, node):
    x0, y0 = grid_place(g, ways.rim, node)
    rays = ways.back_share.shape[1]
    spare = rays
    for i in range(rays):
        d = spiral_direction(i, rays, TURN * node, STEP * node % 1.0)
        p = x0 * ways.rim, y0 * ways.rim, 0.0
        share, slot = 1.0, i
        ways.out_share[node, i] = 0.0
        for _ in range(40):
            m = p[0], p[1], p[2] - height
            b = dot(m, d)
            t_sphere = -b + sqrt(max(0.0, b * b - dot(m, m) + 1.0))
            t_base = -p[2] / d[2] if d[2] < -1e-12 else inf
            if t_base < t_sphere:
                p = along(p, d, t_base)
                break
            p = along(p, d, t_sphere)
            n = -p[0], -p[1], height - p[2]
            n = scale(n, 1.0 / sqrt(dot(n, n)))
            cos_i = min(1.0, max(0.0, -dot(d, n)))
            f = fresnel(cos_i, 1.0 / N)
            leaves = share * (1.0 - f) / rays
            if leaves > 0.0:
                run = bend(d, n, cos_i, 1.0 / N)
                again = ways.out_share[node, slot] > 0.0 and leaves * rays > TWICE
                again = again and min(run[2], ways.out_run[node, slot, 2]) < 0.0
                if again and spare < ways.out_share.shape[1]:
                    slot, spare = spare, spare + 1
                if ways.out_share[node, slot] == 0.0:
                    for a in range(3):
                        ways.out_place[node, slot, a] = p[a]
                        ways.out_run[node, slot, a] = run[a]
                ways.out_share[node, slot] += leaves
                share *= f
            d = mirror(d, n)
        ways.back_share[node, i] = share
        ways.back_place[node, i, 0] = grid_ring(g, ways.rim, sqrt(p[0] * p[0] + p[1] * p[1]) / ways.rim)
        ways.back_place[node, i, 1] = turn_of(p[0], p[1])


@threaded
def find_ways(begin, end, g, height, ways):
    """Fill `ways`; height: of the sphere's centre above the base, in radii."""
    for node in range(begin, end):
        _find_ways_one(g, height, ways, node)


@jit
def _through(drops, k, e, d):
    """The way of a ray that meets drop k at e, straight through it: whether it ends on its base, and where
    and whither it goes on. What is mirrored is taken to come from as bright a place."""
    r = drops.radius[k]
    n = scale(sub(e, row(drops.centre, k)), 1.0 / r)
    d = bend(d, n, min(1.0, max(0.0, -dot(d, n))), N)
    chord = -2.0 * r * dot(d, n)
    up = row(drops.normal, k)
    out = along(e, d, chord)
    if dot(sub(out, row(drops.foot, k)), up) <= 0.0:
        return True, e, d
    n = scale(sub(row(drops.centre, k), out), 1.0 / r)
    return False, out, bend(d, n, min(1.0, max(1e-9, -dot(d, n))), 1.0 / N)


@jit
def outside(petal, drops, k, o, d, stack):
    """Where a ray from o along d ends that leaves drop k, straight through another drop that it meets: the
    drop whose base it ends on (-1: none), the petal's face (-1: none), and the ray's last part: origin,
    direction, length."""
    far, f, _, _ = petal_mesh.nearest(petal, o, d, petal_mesh.START, inf, stack)
    near, other = drop_spheres.enter(drops, o, d, 1e-7, far, k, stack)
    if other >= 0:
        on_base, o, d = _through(drops, other, along(o, d, near), d)
        if on_base:
            return other, -1, o, d, near
        far, f, _, _ = petal_mesh.nearest(petal, o, d, petal_mesh.START, inf, stack)
    return -1, f, o, d, far


@making
def _look_out_one(petal, drops, members, ways, rings, points, point_of_foot, boards, dome, base, q):
    stack = np.empty(192, dtype=np.int32)
    k = members[q]
    n = row(drops.normal, k)
    s, t = basis(n)
    r = drops.radius[k]
    for node in range(ways.out_share.shape[0]):
        total = 0.0
        for i in range(ways.out_share.shape[1]):
            if ways.out_share[node, i] <= 0.0:
                break
            base.met_place[k, node, i, 0] = 1e6
            place = row(ways.out_place[node], i)
            o = along(row(drops.foot, k), in_frame(s, t, n, place), r)
            d = in_frame(s, t, n, row(ways.out_run[node], i))
            other, f, o, d, far = outside(petal, drops, k, o, d, stack)
            if other >= 0:
                base.met[k, node, i] = point_of_foot[other]
                base.met_side[k, node, i] = 0
            elif f >= 0:
                base.met[k, node, i] = points.of_vertex[petal.face[f, 0]]
                base.met_side[k, node, i] = 0 if dot(petal_mesh.flat_normal(petal, f), d) < 0.0 else 1
                if base.met_side[k, node, i] == 0:
                    off, turn = about(drops, k, along(o, d, far))
                    base.met_place[k, node, i, 0] = ring_of(ways.rim, rings, off)
                    base.met_place[k, node, i, 1] = turn
            else:
                base.met[k, node, i] = board_hit(boards, o, d)
                if base.met[k, node, i] == ENVIRONMENT:
                    total += ways.out_share[node, i] * N * N * dome_level(dome, d)
        base.dome[k, node] = pi * total


@threaded
def look_out(begin, end, petal, drops, members, ways, rings, points, point_of_foot, boards, dome, base):
    """Fill met, met_side, met_place and dome of `base` for `members`, drops of the ways' contact angle."""
    for q in range(begin, end):
        _look_out_one(petal, drops, members, ways, rings, points, point_of_foot, boards, dome, base, q)


@making
def _light_behind_one(petal, drops, foot_face, lamp, cards, state, out, k):
    face = held(face_of(lamp))
    stack = np.empty(192, dtype=np.int32)
    n, foot = row(drops.normal, k), row(drops.foot, k)
    for m in range(face.flux.shape[0]):
        out[k] += behind(
            petal, foot_face[k], foot, n, row(face.node, m), face.flux[m], face, cards, state[k, 1], stack
        )


@threaded
def light_behind(begin, end, petal, drops, foot_face, lamp, cards, state, out):
    """Irradiance that a face sends to the petal's back under every drop, added to out (nd,)."""
    for k in range(begin, end):
        _light_behind_one(petal, drops, foot_face, lamp, cards, state, out, k)


@whole
def rings_at(g, rings, rim, shares, radii, on_base, around):
    """Ring numbers of many places: on_base at shares of a base's radius, on g rings; around at radii beyond
    it, on so many rings."""
    for i in range(shares.shape[0]):
        on_base[i] = grid_ring(g, rim, shares[i])
        around[i] = ring_of(rim, rings, radii[i])


class Lit(NamedTuple):
    """What a layer's light gives. around (nd, rings, spokes, 3): on the petal round the drops; back (nd, 3):
    on the petal's back under them. soft (n, 2, 3): soft light on the gathering points; sent (n, 2, 3): what
    these send, per area; board_exitance (b, 3).
    """

    around: NDArray
    back: NDArray
    soft: NDArray
    sent: NDArray
    board_exitance: NDArray


@jit
def _from_outside_one(members, share, base, lit, rings, spokes, out, q):
    k = members[q]
    rho, tau = row(base.reflectance, k), row(base.transmittance, k)
    through = tau[0] * lit.back[k, 0], tau[1] * lit.back[k, 1], tau[2] * lit.back[k, 2]
    for node in range(base.met.shape[1]):
        total = (0.0, 0.0, 0.0)
        for i in range(share.shape[1]):
            if share[node, i] <= 0.0:
                break
            m = base.met[k, node, i]
            side = base.met_side[k, node, i]
            ring = base.met_place[k, node, i, 0]
            if m >= 0 and side == 0 and ring < rings - 1.0:
                near = colour_at(lit.around, k, rings, spokes, ring, base.met_place[k, node, i, 1])
                soft = lit.soft[m, 0, 0], lit.soft[m, 0, 1], lit.soft[m, 0, 2]
                sent = (
                    rho[0] * (near[0] + soft[0]) + through[0],
                    rho[1] * (near[1] + soft[1]) + through[1],
                    rho[2] * (near[2] + soft[2]) + through[2],
                )
            elif m >= 0:
                sent = lit.sent[m, side, 0], lit.sent[m, side, 1], lit.sent[m, side, 2]
            elif m <= -10:
                sent = row(lit.board_exitance, -10 - m)
            else:
                continue
            total = along(total, sent, share[node, i] * N * N)
        for c in range(3):
            out[k, node, c] = total[c]


@threaded
def from_outside(begin, end, members, share, base, lit, rings, spokes, out):
    """What petal and boards send into the drops onto their bases, out (nd, g*g, 3); share: of `Ways` what
    leaves."""
    for q in range(begin, end):
        _from_outside_one(members, share, base, lit, rings, spokes, out, q)


@whole
def halo_on_grid(halo, g):
    """Turn the base places of a halo from distances into ring numbers of a base grid."""
    for i in range(halo.base_share.shape[0]):
        for q in range(halo.base_share.shape[1]):
            halo.base_place[i, q, 0] = grid_ring(g, halo.rim, halo.base_place[i, q, 0])
