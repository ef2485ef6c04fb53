"""Radiosity over the petal: gathering points, what each of them sees, and the light that they pass on.

Gathering points are spread over the petal; from each, fixed directions over both sides are followed once, to
the gathering point that they meet. For a light, the exitance of all points is then gathered along them again
and again. Drops are left out between petal and petal: a clear drop passes on what it takes. Boards, whose
edges cut the dome sharply, are looked for in many more directions than the petal.
"""

from __future__ import annotations

from math import cos, inf, pi, sin, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.bodies import body_met
from lightsim.tracer.kernels.box_tree import STACK
from lightsim.tracer.kernels.emitters import board_met, face_of, hidden_by
from lightsim.tracer.kernels.environment import dome_level, dome_share
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.sampling import GOLDEN, spiral_direction
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, basis, dot, in_frame, length, row, scale, sub


class NoColumns(NamedTuple):
    """What a direction may meet that has no column of its own: the dome, or what sends nothing."""

    environment: int = -1
    dark: int = -9


MEETS = NoColumns()


class LookAround(NamedTuple):
    """How a gathering point looks around."""

    lift_mm: float = 0.05  # rays of indirect light start this far off the petal, above its relief
    petal_directions: int = 192  # in which the petal is looked for from each point and side
    board_directions: int = 1024  # and boards


LOOK = LookAround()


class PetalPoints(NamedTuple):
    """Gathering points, and what they see.

    place, normal (n, 3) float64 : the front's. reflectance, transmittance (n, 3) float64. of_vertex (nv,)
    int32 : each mesh vertex' own point.
    column (n, 2, k) int32 : what each direction of each side (front, back) meets: a column of exitance (see
    `petal_column`) or MEETS.environment. dome (n, 2) : irradiance from the dome of level 1. board (n, 2, b) :
    share of the sky over each side, weighed by the cosine, that each board's front fills.
    """

    place: NDArray
    normal: NDArray
    reflectance: NDArray
    transmittance: NDArray
    of_vertex: NDArray
    column: NDArray
    dome: NDArray
    board: NDArray


@jit
def petal_column(points, petal, f, vertex, d):
    """The column of exitance of what a ray along d meets on face f near a vertex: twice the number of its
    point, and one more on the back. The boards' columns follow those of all points."""
    side = 0 if dot(petal_mesh.flat_normal(petal, f), d) < 0.0 else 1
    return 2 * points.of_vertex[vertex] + side


@jit
def direction_around(i):
    """Direction i of petal_directions about +z, and its share of what comes from all, by the cosine: low
    ones, in which a hollow petal sees itself, are many and weigh little."""
    low = 1.0 - (i + 0.5) / LOOK.petal_directions
    radius, angle = sqrt(1.0 - low * low), i * GOLDEN
    return (radius * cos(angle), radius * sin(angle), low), 2.0 * low / LOOK.petal_directions


PETAL_SHARES = np.array([direction_around.function(i)[1] for i in range(LOOK.petal_directions)])


@jit_allocating
def _look_around_one(petal, points, boards, dome, g):
    stack = np.empty(STACK, dtype=np.int32)
    for side in range(2):
        n = row(points.normal, g)
        if side == 1:
            n = scale(n, -1.0)
        s, t = basis(n)
        o = along(row(points.place, g), n, LOOK.lift_mm)
        share_of_board = points.board[g, side]
        share_of_board[:] = 0.0
        level, share = dome_share(dome, n), 1.0 / LOOK.board_directions
        for i in range(LOOK.board_directions if boards.frame.shape[0] + boards.body.shape[0] > 0 else 0):
            d = in_frame(s, t, n, spiral_direction(i, LOOK.board_directions, 0.0))
            level += _beyond(boards, dome, o, d, share, share_of_board) - share * dome_level(dome, d)
        for i in range(LOOK.petal_directions):
            d, share = direction_around(i)
            d = in_frame(s, t, n, d)
            _, f, fu, fv = petal_mesh.nearest(petal, o, d, petal_mesh.START, inf, stack)
            points.column[g, side, i] = MEETS.environment
            if f >= 0:
                points.column[g, side, i] = petal_column(points, petal, f, _corner(petal, f, fu, fv), d)
                level += _beyond(boards, dome, o, d, -share, share_of_board)
        points.dome[g, side] = pi * max(0.0, level)
        for b in range(share_of_board.shape[0]):
            share_of_board[b] = max(0.0, share_of_board[b])


@jit
def _beyond(boards, dome, o, d, share, share_of_board):
    """What the dome sends from direction d times `share`, or note that share for the board there."""
    met = board_hit(boards, o, d)
    if met == MEETS.environment:
        return share * dome_level(dome, d)
    if met >= 0:
        share_of_board[met] += share
    return 0.0


@threaded
def look_around(begin, end, petal, points, boards, dome):
    """Fill column, dome and board of the points."""
    for g in range(begin, end):
        _look_around_one(petal, points, boards, dome, g)


@jit
def board_hit(boards, o, d):
    """The board whose front a ray meets first, or of MEETS: dark for a board's back or a body, else
    environment."""
    best, found = inf, MEETS.environment
    for b in range(boards.frame.shape[0]):
        t, _, _, front = board_met(boards, b, o, d)
        if t < best:
            best = t
            found = b if front else MEETS.dark
    for b in range(boards.body.shape[0]):
        if body_met(boards.body, b, o, d) < best:
            return MEETS.dark
    return found


@jit
def _corner(petal, f, u, v):
    """The vertex nearest to weights u, v."""
    w = 1.0 - u - v
    if w >= u and w >= v:
        return petal.face[f, 0]
    return petal.face[f, 1] if u >= v else petal.face[f, 2]


@jit_allocating
def _straight_one(light, points, flux, irradiance, g):
    face = held(face_of(light.lamp))
    stack = np.empty(STACK, dtype=np.int32)
    n = row(points.normal, g)
    for m in range(flux.shape[1]):
        to = sub(row(face.node, m), row(points.place, g))
        far = length(to)
        d = scale(to, 1.0 / far)
        cos_y, cos_n = -dot(d, face.out), dot(d, n)
        if cos_y <= 0.0:
            continue
        o = along(row(points.place, g), n, LOOK.lift_mm if cos_n > 0.0 else -LOOK.lift_mm)
        if petal_mesh.blocked(light.petal, o, d, petal_mesh.START, far, stack):
            continue
        if hidden_by(light.boards, o, d, far):
            continue
        per_flux = cos_y * abs(cos_n) / (far * far)
        for i in range(flux.shape[0]):
            irradiance[i, g, 0 if cos_n > 0.0 else 1] += flux[i, m] * per_flux


@threaded
def straight(begin, end, light, points, flux, irradiance):
    """Irradiance that a face sends straight to the points, added to `irradiance` (radiances, n, 2). light,
    flux: see `first_light.FaceLight`."""
    for g in range(begin, end):
        _straight_one(light, points, flux, irradiance, g)


@jit
def _gather_one(share, column, exitance, irradiance, r):
    total = (0.0, 0.0, 0.0)
    for i in range(share.shape[0]):
        if column[r, i] >= 0:
            total = along(total, row(exitance, int(column[r, i])), share[i])
    for c in range(3):
        irradiance[r, c] = total[c]


@threaded
def gather(begin, end, share, column, exitance, irradiance):
    """The irradiance (rows, 3) that comes from what each row's directions meet, column (rows, k), with shares
    (k,), of the exitance (columns, 3)."""
    for r in range(begin, end):
        _gather_one(share, column, exitance, irradiance, r)


@jit
def _to_vertices_one(blend, irradiance, exitance, out, v):
    nothing = 0.0, 0.0, 0.0
    front, back, front_sent, back_sent = nothing, nothing, nothing, nothing
    for m in range(blend.point.shape[1]):
        k, w = blend.point[v, m], blend.weight[v, m]
        front, back = along(front, row(irradiance[k], 0), w), along(back, row(irradiance[k], 1), w)
        front_sent = along(front_sent, row(exitance[k], 0), w)
        back_sent = along(back_sent, row(exitance[k], 1), w)
    even = blend.even[v]
    for c in range(3):
        out[v, 0, c] = even * front[c] + (1.0 - even) * front_sent[c]
        out[v, 1, c] = even * back[c] + (1.0 - even) * back_sent[c]


class VertexBlend(NamedTuple):
    """How the mesh's vertices take their light from the nearest points: point (nv, m) int32, weight (nv, m)
    float32, and even (nv,) float32: cosine of the angle between the relief at a vertex and the petal's run
    there."""

    point: NDArray
    weight: NDArray
    even: NDArray


@threaded
def to_vertices(begin, end, blend, irradiance, exitance, out):
    """Indirect light at the mesh's vertices, out (nv, 2, 3) float32, from that on the points and what these
    send, (n, 2, 3).

    What falls on the petal's run is spread over the relief's larger area; the rest of a vertex' sky is
    relief, which sends back the points' exitance.
    """
    for v in range(begin, end):
        _to_vertices_one(blend, irradiance, exitance, out, v)
