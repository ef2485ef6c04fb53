"""Soft light: what the dome and the lit petal send to the petal and into the drops, kept on few points.

Gathering points are spread over the petal; from each, fixed directions over both sides are followed once to
the gathering point they meet. For a light, its own irradiance there is then passed around by that list.
Drops are left out between petal and petal: a clear drop passes on what it takes. Boards, whose edges cut the
dome sharply, are looked for in many more directions than the petal.
"""

from __future__ import annotations

from math import cos, inf, pi, sin, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.bodies import body_met
from lightsim.tracer.kernels.emitters import board_met, face_of, hidden_by
from lightsim.tracer.kernels.environment import dome_level, dome_share
from lightsim.tracer.kernels.jit import jit, making, threaded
from lightsim.tracer.kernels.sampling import GOLDEN, spiral_direction
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, basis, dot, in_frame, length, row, scale, sub

ENVIRONMENT, DARK = -1, -9  # what a direction meets: the dome, or what sends nothing
LIFT_MM = 0.05  # rays for soft light start this far off the petal, above its relief


AROUND = 192  # directions in which the petal is looked for from each point and side
ABOUT = 1024  # and those in which boards are


class Points(NamedTuple):
    """place, normal (n, 3) float64, the front's; reflectance, transmittance (n, 3) float64.

    of_vertex : (nv,) int32, each mesh vertex' own point.
    met : (n, 2, k) int32, the point that each direction of each side (front, back) meets, or ENVIRONMENT.
    met_side : (n, 2, k) uint8, on which side. dome : (n, 2) irradiance from the dome of level 1.
    board : (n, 2, b) share of the sky over each side, weighed by the cosine, that each board's front fills.
    """

    place: NDArray
    normal: NDArray
    reflectance: NDArray
    transmittance: NDArray
    of_vertex: NDArray
    met: NDArray
    met_side: NDArray
    dome: NDArray
    board: NDArray


@jit
def direction_around(i):
    """Direction i of AROUND about +z, and its share of what comes from all, by the cosine: low ones, in which
    a hollow petal sees itself, are many and weigh little."""
    low = 1.0 - (i + 0.5) / AROUND
    radius, angle = sqrt(1.0 - low * low), i * GOLDEN
    return (radius * cos(angle), radius * sin(angle), low), 2.0 * low / AROUND


@making
def _look_around_one(petal, points, boards, dome, lift, g):
    stack = np.empty(192, dtype=np.int32)
    for side in range(2):
        n = row(points.normal, g)
        if side == 1:
            n = scale(n, -1.0)
        s, t = basis(n)
        o = along(row(points.place, g), n, lift)
        for b in range(boards.frame.shape[0]):
            points.board[g, side, b] = 0.0
        level, share = dome_share(dome, n), 1.0 / ABOUT
        for i in range(ABOUT if boards.frame.shape[0] + boards.body.shape[0] > 0 else 0):
            d = in_frame(s, t, n, spiral_direction(i, ABOUT, 0.0))
            level += _beyond(points, boards, dome, o, d, share, g, side) - share * dome_level(dome, d)
        for i in range(AROUND):
            d, share = direction_around(i)
            d = in_frame(s, t, n, d)
            _, f, fu, fv = petal_mesh.nearest(petal, o, d, petal_mesh.START, inf, stack)
            points.met[g, side, i], points.met_side[g, side, i] = ENVIRONMENT, 0
            if f >= 0:
                points.met[g, side, i] = points.of_vertex[_corner(petal, f, fu, fv)]
                points.met_side[g, side, i] = 0 if dot(petal_mesh.flat_normal(petal, f), d) < 0.0 else 1
                level += _beyond(points, boards, dome, o, d, -share, g, side)
        points.dome[g, side] = pi * max(0.0, level)
        for b in range(boards.frame.shape[0]):
            points.board[g, side, b] = max(0.0, points.board[g, side, b])


@jit
def _beyond(points, boards, dome, o, d, share, g, side):
    """What the dome sends from direction d times `share`, or note that share for the board there."""
    met = board_hit(boards, o, d)
    if met == ENVIRONMENT:
        return share * dome_level(dome, d)
    if met <= -10:
        points.board[g, side, -10 - met] += share
    return 0.0


@threaded
def look_around(begin, end, petal, points, boards, dome, lift):
    """Fill met, met_side, dome and board of the points."""
    for g in range(begin, end):
        _look_around_one(petal, points, boards, dome, lift, g)


@jit
def board_hit(boards, o, d):
    """ENVIRONMENT, or -10 - b for the board b whose front the ray meets first (DARK for its back or a
    body)."""
    best, found = inf, ENVIRONMENT
    for b in range(boards.frame.shape[0]):
        t, _, _, front = board_met(boards, b, o, d)
        if t < best:
            best = t
            found = -10 - b if front else DARK
    for b in range(boards.body.shape[0]):
        if body_met(boards.body, b, o, d) < best:
            return DARK
    return found


@jit
def _corner(petal, f, u, v):
    """The vertex nearest to weights u, v."""
    w = 1.0 - u - v
    if w >= u and w >= v:
        return petal.face[f, 0]
    return petal.face[f, 1] if u >= v else petal.face[f, 2]


@making
def _straight_one(petal, points, lamp, cards, lift, irradiance, g):
    face = held(face_of(lamp))
    stack = np.empty(192, dtype=np.int32)
    n = row(points.normal, g)
    for m in range(face.flux.shape[0]):
        to = sub(row(face.node, m), row(points.place, g))
        far = length(to)
        d = scale(to, 1.0 / far)
        cos_y, cos_n = -dot(d, face.out), dot(d, n)
        if cos_y <= 0.0:
            continue
        o = along(row(points.place, g), n, lift if cos_n > 0.0 else -lift)
        if petal_mesh.blocked(petal, o, d, petal_mesh.START, far, stack) or hidden_by(cards, o, d, far):
            continue
        irradiance[g, 0 if cos_n > 0.0 else 1] += face.flux[m] * cos_y * abs(cos_n) / (far * far)


@threaded
def straight(begin, end, petal, points, lamp, cards, lift, irradiance):
    """Irradiance (n, 2) that a face sends straight to the points, added to `irradiance`."""
    for g in range(begin, end):
        _straight_one(petal, points, lamp, cards, lift, irradiance, g)


@jit
def _pass_around_one(points, source, board_exitance, soft, before, g):
    k = points.met.shape[2]
    for side in range(2):
        r, gr, b = 0.0, 0.0, 0.0
        for i in range(k):
            m = points.met[g, side, i]
            if m >= 0:
                far = points.met_side[g, side, i]
                near, share = 1 - far, direction_around(i)[1]
                r += share * (
                    points.reflectance[m, 0] * (source[m, far, 0] + before[m, far, 0])
                    + points.transmittance[m, 0] * (source[m, near, 0] + before[m, near, 0])
                )
                gr += share * (
                    points.reflectance[m, 1] * (source[m, far, 1] + before[m, far, 1])
                    + points.transmittance[m, 1] * (source[m, near, 1] + before[m, near, 1])
                )
                b += share * (
                    points.reflectance[m, 2] * (source[m, far, 2] + before[m, far, 2])
                    + points.transmittance[m, 2] * (source[m, near, 2] + before[m, near, 2])
                )
        for i in range(board_exitance.shape[0]):
            share = points.board[g, side, i]
            r += share * board_exitance[i, 0]
            gr += share * board_exitance[i, 1]
            b += share * board_exitance[i, 2]
        soft[g, side, 0], soft[g, side, 1], soft[g, side, 2] = r, gr, b


@threaded
def pass_around(begin, end, points, source, board_exitance, soft, before):
    """One round of light between petal and petal: soft (n, 2, 3) from source (n, 2, 3) plus `before`.

    board_exitance : (b, 3), pi times the mean radiance of each board in this layer.
    """
    for g in range(begin, end):
        _pass_around_one(points, source, board_exitance, soft, before, g)


@jit
def _to_vertices_one(neighbour, weight, even, soft, sent, out, v):
    nothing = 0.0, 0.0, 0.0
    front, back, front_sent, back_sent = nothing, nothing, nothing, nothing
    for m in range(neighbour.shape[1]):
        k, w = neighbour[v, m], weight[v, m]
        front, back = along(front, row(soft[k], 0), w), along(back, row(soft[k], 1), w)
        front_sent, back_sent = along(front_sent, row(sent[k], 0), w), along(back_sent, row(sent[k], 1), w)
    for c in range(3):
        out[v, 0, c] = even[v] * front[c] + (1.0 - even[v]) * front_sent[c]
        out[v, 1, c] = even[v] * back[c] + (1.0 - even[v]) * back_sent[c]


@threaded
def to_vertices(begin, end, neighbour, weight, even, soft, sent, out):
    """Soft light at the mesh's vertices, out (nv, 2, 3) float32, from the nearest points, weights (nv, m).

    even (nv,) : cosine of the angle between the relief at a vertex and the petal's run there. What falls on
    the run is spread over the relief's larger area; the rest of its sky is relief, which sends back `sent`.
    """
    for v in range(begin, end):
        _to_vertices_one(neighbour, weight, even, soft, sent, out, v)
