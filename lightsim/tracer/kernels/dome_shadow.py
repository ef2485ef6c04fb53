"""What lamps' bodies hide of the dome, of what is known without them: so that a moved lamp costs little.

The directions are those in which the dome was looked at (`petal_radiosity`, `base_transfer`, `far_transfer`).
"""

from __future__ import annotations

from math import inf, pi

import numpy as np

from lightsim.tracer.kernels import drop_spheres
from lightsim.tracer.kernels.base_transfer import N
from lightsim.tracer.kernels.bodies import body_before, body_met
from lightsim.tracer.kernels.environment import dome_level
from lightsim.tracer.kernels.jit import jit, making, threaded
from lightsim.tracer.kernels.petal_radiosity import ABOUT, AROUND, ENVIRONMENT, board_hit, direction_around
from lightsim.tracer.kernels.sampling import spiral_direction
from lightsim.tracer.kernels.vectors import along, basis, dot, in_frame, row, scale, sub

# Directions about a normal with their shares: all of the dome's, and those in which petal is looked for,
# whose part of the dome's is taken away where it is met.
SPIRAL = np.array([(*spiral_direction.function(i, ABOUT, 0.0), 1.0 / ABOUT) for i in range(ABOUT)])
MET = np.array([(*d, -share) for d, share in (direction_around.function(i) for i in range(AROUND))])


@jit
def _hidden(boards, body, dome, o, d):
    """What the dome would send along a ray that a body stops and no board does."""
    if not body_before(body, o, d, inf) or board_hit(boards, o, d) != ENVIRONMENT:
        return 0.0
    return dome_level(dome, d)


@jit
def _in_axes(s, t, n, p):
    """A vector in the axes s, t, n."""
    return dot(p, s), dot(p, t), dot(p, n)


@jit
def _hidden_of(table, points, boards, body, dome, o, axes, g, side):
    """Irradiance over pi that bodies hide at a point's side of what the dome sends from directions of a
    table; of those in which petal is met, where the table has a share for each.

    table (k, 4) : direction about the normal, share of all, negative where only met ones count. A body is met
    only by directions close to its middle's: the others are passed over before anything else is worked out.
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
            if table[i, 3] < 0.0 and points.met[g, side, i] == ENVIRONMENT:
                continue
            d = in_frame(s, t, n, (table[i, 0], table[i, 1], table[i, 2]))
            if body_before(body[:b], o, d, inf) or body_met(body, b, o, d) == inf:
                continue
            if board_hit(boards, o, d) == ENVIRONMENT:
                less += table[i, 3] * dome_level(dome, d)
    return less


@jit
def _hide_from_points_one(points, boards, body, dome, lift, out, g):
    for side in range(2):
        n = row(points.normal, g)
        if side == 1:
            n = scale(n, -1.0)
        s, t = basis(n)
        o, axes = along(row(points.place, g), n, lift), (s, t, n)
        less = _hidden_of(SPIRAL, points, boards, body, dome, o, axes, g, side)
        less += _hidden_of(MET, points, boards, body, dome, o, axes, g, side)
        out[g, side] = max(0.0, points.dome[g, side] - pi * less)


@threaded
def hide_from_points(begin, end, points, boards, body, dome, lift, out):
    """The points' irradiance from the dome, out (n, 2), past bodies too. boards : that were there before."""
    for g in range(begin, end):
        _hide_from_points_one(points, boards, body, dome, lift, out, g)


@making
def _hide_from_bases_one(drops, members, ways, boards, body, dome, base, out, q):
    stack = np.empty(192, dtype=np.int32)
    k = members[q]
    n = row(drops.normal, k)
    s, t = basis(n)
    for node in range(ways.out_share.shape[0]):
        less = 0.0
        for i in range(ways.out_share.shape[1]):
            if ways.out_share[node, i] <= 0.0:
                break
            if base.met[k, node, i] != ENVIRONMENT:
                continue
            o = along(row(drops.foot, k), in_frame(s, t, n, row(ways.out_place[node], i)), drops.radius[k])
            d = in_frame(s, t, n, row(ways.out_run[node], i))
            hidden = _hidden(boards, body, dome, o, d)
            if hidden > 0.0 and not _by_another(drops, k, o, d, stack):
                less += ways.out_share[node, i] * N * N * hidden
        out[k, node] = max(0.0, base.dome[k, node] - pi * less)


@threaded
def hide_from_bases(begin, end, drops, members, ways, boards, body, dome, base, out):
    """The same on the wet bases of `members`, out (nd, nodes)."""
    for q in range(begin, end):
        _hide_from_bases_one(drops, members, ways, boards, body, dome, base, out, q)


@making
def _hide_from_rings_one(drops, members, rays, boards, body, dome, far, out, q):
    stack = np.empty(192, dtype=np.int32)
    k = members[q]
    n = row(drops.normal, k)
    s, t = basis(n)
    for place in range(far.met.shape[1]):
        less = 0.0
        for i in range(far.met.shape[2]):
            if rays.share[place, i] == 0.0 or far.met[k, place, i] != ENVIRONMENT:
                continue
            o = along(row(drops.foot, k), in_frame(s, t, n, row(rays.start[place], i)), drops.radius[k])
            d = in_frame(s, t, n, row(rays.run[place], i))
            hidden = _hidden(boards, body, dome, o, d)
            if hidden > 0.0 and not _by_another(drops, k, o, d, stack):
                less += rays.share[place, i] * hidden
        out[k, place] = far.dome[k, place] - pi * less


@threaded
def hide_from_rings(begin, end, drops, members, rays, boards, body, dome, far, out):
    """The same on the petal round `members`, by which it gets less or more than without the drop, out (nd,
    places)."""
    for q in range(begin, end):
        _hide_from_rings_one(drops, members, rays, boards, body, dome, far, out, q)


@jit
def _by_another(drops, k, o, d, stack):
    """Whether a ray from drop k goes by way of another drop, which turns it elsewhere."""
    _, other = drop_spheres.enter(drops, o, d, 1e-7, inf, k, stack)
    return other >= 0
