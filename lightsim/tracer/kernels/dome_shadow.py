"""What lamps' bodies hide of the dome, of what is known without them: so that a moved lamp costs little.

The directions are those in which the dome was looked at (`petal_radiosity`, `base_transfer`, `far_transfer`).
"""

from __future__ import annotations

from math import inf, pi

import numpy as np

from lightsim.tracer.kernels import drop_spheres
from lightsim.tracer.kernels.base_transfer import N
from lightsim.tracer.kernels.bodies import body_before
from lightsim.tracer.kernels.environment import dome_level
from lightsim.tracer.kernels.jit import jit, making, threaded
from lightsim.tracer.kernels.petal_radiosity import ABOUT, AWAY, board_hit, direction_around
from lightsim.tracer.kernels.sampling import spiral_direction
from lightsim.tracer.kernels.vectors import along, basis, in_frame, row, scale


@jit
def _hidden(boards, body, dome, o, d):
    """What the dome would send along a ray that a body stops and no board does."""
    if not body_before(body, o, d, inf) or board_hit(boards, o, d) != AWAY:
        return 0.0
    return dome_level(dome, d)


@jit
def _hide_from_points_one(points, boards, body, dome, lift, out, g):
    for side in range(2):
        n = row(points.normal, g)
        if side == 1:
            n = scale(n, -1.0)
        s, t = basis(n)
        o = along(row(points.place, g), n, lift)
        less = 0.0
        for i in range(ABOUT):
            less += _hidden(boards, body, dome, o, in_frame(s, t, n, spiral_direction(i, ABOUT, 0.0))) / ABOUT
        for i in range(points.met.shape[2]):
            if points.met[g, side, i] != AWAY:
                d, share = direction_around(i)
                less -= share * _hidden(boards, body, dome, o, in_frame(s, t, n, d))
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
            if base.met[k, node, i] != AWAY:
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
            if rays.share[place, i] == 0.0 or far.met[k, place, i] != AWAY:
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
