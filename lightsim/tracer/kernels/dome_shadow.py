"""What lamps' bodies hide of the dome, of what is known without them: so that a moved lamp costs little.

The directions are those in which the dome was looked at (`petal_radiosity`, `drop_rays`).
"""

from __future__ import annotations

from math import inf, pi

import numpy as np

from lightsim.tracer.kernels import drop_spheres
from lightsim.tracer.kernels.bodies import body_before, body_met
from lightsim.tracer.kernels.box_tree import STACK
from lightsim.tracer.kernels.drop_rays import ray_of
from lightsim.tracer.kernels.environment import dome_level
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.petal_radiosity import LOOK, MEETS, board_hit, direction_around
from lightsim.tracer.kernels.sampling import spiral_direction
from lightsim.tracer.kernels.vectors import along, basis, dot, in_frame, row, scale, sub

# Directions about a normal with their shares: all of the dome's, and those in which petal is looked for,
# whose part of the dome's is taken away where it is met.
SPIRAL = np.array(
    [
        (*spiral_direction.function(i, LOOK.board_directions, 0.0), 1.0 / LOOK.board_directions)
        for i in range(LOOK.board_directions)
    ]
)
MET = np.array(
    [(*d, -share) for d, share in (direction_around.function(i) for i in range(LOOK.petal_directions))]
)


@jit
def _in_axes(s, t, n, p):
    """A vector in the axes s, t, n."""
    return dot(p, s), dot(p, t), dot(p, n)


@jit
def _hidden_of(table, around, body, o, axes, column):
    """Irradiance over pi that bodies hide at o of what the dome sends from directions of a table; of those in
    which petal is met, where the table has a share for each.

    table (k, 4) : direction about the normal, share of all, negative where only met ones count. A body is met
    only by directions close to its middle's: the others are passed over before anything else is worked out.
    column (k,) : what is met.
    """
    s, t, n = axes
    less = 0.0
    for b in range(body.shape[0]):
        middle = _in_axes(s, t, n, sub(row(body, b), o))
        square = dot(middle, middle)
        within = square <= body[b, 16]
        for i in range(table.shape[0]):
            ahead = table[i, 0] * middle[0] + table[i, 1] * middle[1] + table[i, 2] * middle[2]
            if not within and (ahead <= 0.0 or square - ahead * ahead > body[b, 16]):
                continue
            if table[i, 3] < 0.0 and column[i] == MEETS.environment:
                continue
            d = in_frame(s, t, n, (table[i, 0], table[i, 1], table[i, 2]))
            if body_before(body[:b], o, d, inf) or body_met(body, b, o, d) == inf:
                continue
            if board_hit(around.boards, o, d) == MEETS.environment:
                less += table[i, 3] * dome_level(around.dome, d)
    return less


@jit
def _hide_from_points_one(around, body, out, g):
    points = around.points
    for side in range(2):
        n = row(points.normal, g)
        if side == 1:
            n = scale(n, -1.0)
        s, t = basis(n)
        o, axes, column = along(row(points.place, g), n, LOOK.lift_mm), (s, t, n), points.column[g, side]
        less = _hidden_of(SPIRAL, around, body, o, axes, column)
        less += _hidden_of(MET, around, body, o, axes, column)
        out[g, side] = max(0.0, points.dome[g, side] - pi * less)


@threaded
def hide_from_points(begin, end, around, body, out):
    """The gathering points' irradiance from the dome, out (n, 2), past bodies too. around: a
    `drop_rays.Surroundings`, with the boards that were there before."""
    for g in range(begin, end):
        _hide_from_points_one(around, body, out, g)


@jit_allocating
def _hide_from_drops_one(around, body, rays, out, q):
    drops = around.drops
    stack = np.empty(STACK, dtype=np.int32)
    k = rays.members[q]
    n = row(drops.normal, k)
    s, t = basis(n)
    for place in range(rays.share.shape[0]):
        less = 0.0
        for i in range(rays.share.shape[1]):
            share = rays.share[place, i]
            if share == 0.0 or rays.column[q, place, i] != MEETS.environment:
                continue
            o, d = ray_of(drops, rays, k, (s, t, n), place, i)
            if not body_before(body, o, d, inf) or board_hit(around.boards, o, d) != MEETS.environment:
                continue
            _, other = drop_spheres.enter(drops, o, d, 1e-7, inf, k, stack)
            if other < 0:  # another drop turns the ray elsewhere
                less += share * dome_level(around.dome, d)
        out[q, place] = rays.dome[q, place] - pi * less


@threaded
def hide_from_drops(begin, end, around, body, rays, out):
    """The same along the rays that leave drops, out (m, places)."""
    for q in range(begin, end):
        _hide_from_drops_one(around, body, rays, out, q)
