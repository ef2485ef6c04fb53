"""What rays that leave the drops meet, found once for a view, and the light that comes along them.

The rays depend on the contact angle alone (`base_transfer`, `near_transfer`); they are turned for every drop.
"""

from __future__ import annotations

from math import inf, pi
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import WATER_INDEX as N
from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.box_tree import STACK
from lightsim.tracer.kernels.drop_spheres import Drops
from lightsim.tracer.kernels.emitters import Boards
from lightsim.tracer.kernels.environment import dome_level
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.near_transfer import about, colour_at, ring_of
from lightsim.tracer.kernels.petal_mesh import Petal
from lightsim.tracer.kernels.petal_radiosity import MEETS, PetalPoints, board_hit, petal_column
from lightsim.tracer.kernels.refraction import bend
from lightsim.tracer.kernels.vectors import along, basis, dot, in_frame, row, scale, sub


class Surroundings(NamedTuple):
    """What rays of indirect light may meet. foot_point (nd,) int32: the gathering point at each drop's foot;
    dome: see `environment.dome_level`."""

    petal: Petal
    drops: Drops
    points: PetalPoints
    foot_point: NDArray
    boards: Boards
    dome: NDArray


class DropRays(NamedTuple):
    """Rays that leave drops of one contact angle from places on the base or round the drop.

    members (m,) int64 : the drops. rim : radius of their bases, in radii. rings : how many round each drop.
    share (places, k) : irradiance at the place per unit of the exitance where a ray ends, less than 0 for
    what the drop hides, 0 for no ray. start, run (places, k, 3) : in the drop's frame, in radii.
    column (m, places, k) int32 : what is met: a column of exitance (`petal_radiosity.petal_column`),
    or of `petal_radiosity.MEETS`. ring_place (m, places, k, 2) float32 : ring number and turns of rays that
    end on the rings round their own drop, else BEYOND_RINGS; (0, ...) where that is not asked for. dome (m,
    places) : irradiance from the dome of level 1.
    """

    members: NDArray
    rim: float
    rings: int
    share: NDArray
    start: NDArray
    run: NDArray
    column: NDArray
    ring_place: NDArray
    dome: NDArray


@jit
def _through(drops, k, e, d):
    """Whether a ray that meets drop k at e ends on its base, straight through the water, and where and
    whither it goes on. What is mirrored is taken to come from as bright a place."""
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
def _outside(petal, drops, k, o, d, stack):
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


@jit
def ray_of(drops, rays, k, axes, place, i):
    """Origin and direction of ray i of a place, turned for drop k with its axes s, t, n."""
    s, t, n = axes
    start = in_frame(s, t, n, row(rays.start[place], i))
    return along(row(drops.foot, k), start, drops.radius[k]), in_frame(s, t, n, row(rays.run[place], i))


@jit_allocating
def _look_out_one(around, rays, q):
    petal, drops, points = around.petal, around.drops, around.points
    stack = np.empty(STACK, dtype=np.int32)
    k = rays.members[q]
    n = row(drops.normal, k)
    s, t = basis(n)
    for place in range(rays.share.shape[0]):
        total = 0.0
        for i in range(rays.share.shape[1]):
            share = rays.share[place, i]
            if share == 0.0:
                continue
            o, d = ray_of(drops, rays, k, (s, t, n), place, i)
            other, f, o, d, far = _outside(petal, drops, k, o, d, stack)
            if other >= 0:  # what is hidden of another drop's light stays: its rings know it much better
                column = 2 * around.foot_point[other] if share > 0.0 else MEETS.dark
            elif f >= 0:
                column = petal_column(points, petal, f, petal.face[f, 0], d)
                if rays.ring_place.shape[0] > 0 and column % 2 == 0:
                    off, turn = about(drops, k, along(o, d, far))
                    rays.ring_place[q, place, i, 0] = ring_of(rays.rim, rays.rings, off)
                    rays.ring_place[q, place, i, 1] = turn
            else:
                column = board_hit(around.boards, o, d)
                if column == MEETS.environment:
                    total += share * dome_level(around.dome, d)
                elif column >= 0:
                    column += 2 * points.place.shape[0]
            rays.column[q, place, i] = column
        rays.dome[q, place] = pi * total


@threaded
def look_out(begin, end, around, rays):
    """Fill column, ring_place and dome of some drops' rays."""
    for q in range(begin, end):
        _look_out_one(around, rays, q)


@jit
def _come_in_one(rays, ring_exitance, exitance, irradiance, q):
    for place in range(rays.share.shape[0]):
        total = (0.0, 0.0, 0.0)
        for i in range(rays.share.shape[1]):
            share, column = rays.share[place, i], rays.column[q, place, i]
            if share == 0.0 or column < 0:
                continue
            near = False
            if rays.ring_place.shape[0] > 0:
                ring, turn = rays.ring_place[q, place, i, 0], rays.ring_place[q, place, i, 1]
                near = ring < rays.rings - 1.0
            if near:
                total = along(total, colour_at(ring_exitance, q, ring, turn), share)
            else:
                total = along(total, row(exitance, int(column)), share)
        for c in range(3):
            irradiance[q, c, place] = total[c]


@threaded
def come_in(begin, end, rays, ring_exitance, exitance, irradiance):
    """The irradiance (m, 3, places) that comes along some drops' rays.

    exitance (columns, 3) : of the points' sides, then of the boards. ring_exitance (m, rings, spokes, 3) : of
    the petal round each drop, for rays with a ring_place.
    """
    for q in range(begin, end):
        _come_in_one(rays, ring_exitance, exitance, irradiance, q)
