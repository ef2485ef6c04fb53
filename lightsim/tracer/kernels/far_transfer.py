"""What the petal round a drop gets by way of it from far off, less what the drop hides: petal beyond the
rings or rising beside them, boards, the dome."""

from __future__ import annotations

from math import pi, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.base_transfer import outside
from lightsim.tracer.kernels.environment import dome_level
from lightsim.tracer.kernels.jit import jit, making, threaded
from lightsim.tracer.kernels.near_transfer import OUTER
from lightsim.tracer.kernels.petal_radiosity import DARK, ENVIRONMENT, board_hit
from lightsim.tracer.kernels.vectors import along, basis, dot, in_frame, row, sub

FARTHEST = 4.0  # times as far as the rings, what a drop throws on the petal is followed


class FarRays(NamedTuple):
    """For one contact angle: rays of a place round the unit sphere that leave the drop for far off, or would
    pass through it if it were not there. share (places, k): irradiance per unit of the exitance where they
    end, less than 0 for what is hidden; start, run (places, k, 3): where and whither, in the drop's frame."""

    share: NDArray
    start: NDArray
    run: NDArray


class FarLight(NamedTuple):
    """Per drop and place: met (nd, places, k) int32: gathering point, ENVIRONMENT, or -10 - board;
    met_side uint8; dome (nd, places): irradiance from the dome of level 1."""

    met: NDArray
    met_side: NDArray
    dome: NDArray


@jit
def _glow_afar_one(place, drops, edge, out, j):
    x = row(place, j)
    total = (0.0, 0.0, 0.0)
    for k in range(drops.radius.shape[0]):
        m = sub(x, row(drops.foot, k))
        far, r = dot(m, m), OUTER * drops.radius[k]
        if r * r < far < FARTHEST * FARTHEST * r * r:
            total = along(total, row(edge, k), r * r * r / (far * sqrt(far)))
    out[j, 0], out[j, 1], out[j, 2] = total


@threaded
def glow_afar(begin, end, place, drops, edge, out):
    """What the drops throw on petal beyond their rings, out (n, 3) at n places: falling off like the third
    power of the distance from what they throw on the last ring, edge (nd, 3)."""
    for j in range(begin, end):
        _glow_afar_one(place, drops, edge, out, j)


@making
def _look_far_one(petal, drops, members, rays, points, point_of_foot, boards, dome, far, q):
    stack = np.empty(192, dtype=np.int32)
    k = members[q]
    n = row(drops.normal, k)
    s, t = basis(n)
    many = far.met.shape[2]
    for place in range(far.met.shape[1]):
        total = 0.0
        for i in range(many):
            far.met[k, place, i] = ENVIRONMENT
            if rays.share[place, i] == 0.0:
                continue
            start = in_frame(s, t, n, row(rays.start[place], i))
            o = along(row(drops.foot, k), start, drops.radius[k])
            d = in_frame(s, t, n, row(rays.run[place], i))
            other, f, o, d, _ = outside(petal, drops, k, o, d, stack)
            if other >= 0:  # what is hidden of another drop's light stays: its rings know it much better
                far.met[k, place, i] = point_of_foot[other] if rays.share[place, i] > 0.0 else DARK
                continue
            if f >= 0:
                far.met[k, place, i] = points.of_vertex[petal.face[f, 0]]
                far.met_side[k, place, i] = 0 if dot(petal_mesh.flat_normal(petal, f), d) < 0.0 else 1
                continue
            far.met[k, place, i] = board_hit(boards, o, d)
            if far.met[k, place, i] == ENVIRONMENT:
                total += rays.share[place, i] * dome_level(dome, d)
        far.dome[k, place] = pi * total


@threaded
def look_far(begin, end, petal, drops, members, rays, points, point_of_foot, boards, dome, far):
    """Fill `far` for `members`, drops of the rays' contact angle."""
    for q in range(begin, end):
        _look_far_one(petal, drops, members, rays, points, point_of_foot, boards, dome, far, q)


@jit
def _from_far_one(members, share, far, sent, board_exitance, out, q):
    k = members[q]
    many = far.met.shape[2]
    for place in range(far.met.shape[1]):
        total = (0.0, 0.0, 0.0)
        for i in range(many):
            m, side = far.met[k, place, i], far.met_side[k, place, i]
            if m >= 0:
                light = sent[m, side, 0], sent[m, side, 1], sent[m, side, 2]
                total = along(total, light, share[place, i])
            elif m <= -10:
                total = along(total, row(board_exitance, -10 - m), share[place, i])
        out[k, place, 0], out[k, place, 1], out[k, place, 2] = total


@threaded
def from_far(begin, end, members, share, far, sent, board_exitance, out):
    """What petal, sent (n, 2, 3), and boards, board_exitance (b, 3), send to the petal round the drops, out
    (nd, places, 3)."""
    for q in range(begin, end):
        _from_far_one(members, share, far, sent, board_exitance, out, q)
