"""The drops: spheres of water cut by the petal, found through a tree of boxes."""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

from numpy.typing import NDArray

from lightsim.tracer.kernels.box_tree import inverse
from lightsim.tracer.kernels.emitters import Vector
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.simd import LANES, boxes_met, lowest
from lightsim.tracer.kernels.vectors import along, basis, dot, length, row, scale, sub

# A sphere's surface counts as water's down to this share of its radius below the petal's plane at its
# foot: a curved petal falls away from that plane at the drop's edge.
SKIRT = 0.06


class Drops(NamedTuple):
    """centre, foot, normal (n, 3) float64; radius (n,) float64; box, link, order: the tree, see
    `box_tree.BoxTree`. gap (n,): no other drop lies nearer to the sphere's surface.
    """

    centre: NDArray
    radius: NDArray
    foot: NDArray
    normal: NDArray
    box: NDArray
    link: NDArray
    order: NDArray
    gap: NDArray


@jit
def height(drops, k, p):
    """Height of p above the petal's plane at the drop's foot, in radii."""
    q = p[0] - drops.foot[k, 0], p[1] - drops.foot[k, 1], p[2] - drops.foot[k, 2]
    n = drops.normal[k, 0], drops.normal[k, 1], drops.normal[k, 2]
    return dot(q, n) / drops.radius[k]


@jit
def holds(drops, k, p):
    """Whether p lies inside sphere k."""
    m = sub(p, row(drops.centre, k))
    return dot(m, m) < drops.radius[k] * drops.radius[k]


@jit
def sphere(drops, k, o, d):
    """Distances at which the ray enters and leaves sphere k; inf, inf when it misses."""
    m = sub(o, row(drops.centre, k))
    b = dot(m, d)
    r = drops.radius[k]
    # the foot of the perpendicular keeps the precision for far rays
    q = along(m, d, -b)
    disc = r * r - dot(q, q)
    if disc <= 0.0:
        return inf, inf
    s = sqrt(disc)
    return -b - s, -b + s


@jit
def enter(drops, o, d, t_min, t_max, skip, stack):
    """First drop that the ray enters from the air: distance (inf for none) and index."""
    best = t_max
    found = -1
    inverted = inverse(d)
    stack[0] = 0
    top = 1
    while top > 0:
        top -= 1
        node = int(stack[top])
        boxes = boxes_met(drops.box, node, o, inverted, best)
        while boxes != 0:
            c = lowest(boxes)
            boxes &= boxes - 1
            first, many = int(drops.link[node, c, 0]), int(drops.link[node, c, 1])
            if many == 0:
                stack[top] = first
                top += 1
            for place in range(first, first + many):
                k = int(drops.order[place])
                if k == skip:
                    continue
                t, _ = sphere(drops, k, o, d)
                if t_min < t < best and height(drops, k, along(o, d, t)) > -SKIRT:
                    best = t
                    found = k
    if found < 0:
        return inf, -1
    return best, found


@jit
def enter_in(drops, leaves, many, o, d, t_min, t_max):
    """As `enter`, among the drops of the first `many` of some leaves, numbered LANES node + child."""
    best = t_max
    found = -1
    for i in range(many):
        link = drops.link[leaves[i] // LANES, leaves[i] % LANES]
        for place in range(link[0], link[0] + link[1]):
            k = int(drops.order[place])
            t, _ = sphere(drops, k, o, d)
            if t_min < t < best and height(drops, k, along(o, d, t)) > -SKIRT:
                best = t
                found = k
    if found < 0:
        return inf, -1
    return best, found


@jit
def in_the_way(drops, k, o, d, t_max):
    """Whether the part of sphere k above the petal cuts the ray between 0 and t_max."""
    t0, t1 = sphere(drops, k, o, d)
    if t1 <= 0.0 or t0 >= t_max:
        return False
    t = max(t0, 0.0)
    if height(drops, k, along(o, d, t)) > -SKIRT:
        return True
    return t1 < t_max and height(drops, k, along(o, d, t1)) > SKIRT


@jit
def drop_before(drops, k, x, d, far, stack):
    """Whether another drop stands between the point x and drop k, `far` off along d."""
    if far <= drops.gap[k]:
        return False
    t, _ = enter(drops, x, d, 1e-5, far, k, stack)
    return t < far


class Cone(NamedTuple):
    """A cone about the axis o + t d for 0 < t < far, of the radius start + widen t."""

    o: Vector
    d: Vector
    far: float
    start: float
    widen: float


@jit
def near_cone(drops, cone, skip, found, stack):
    """Fill `found` with the drops but `skip` that come near a cone; returns how many there are (at most its
    length)."""
    n, top = 0, 1
    stack[0] = 0
    while top > 0:
        top -= 1
        node = stack[top]
        for child in range(LANES):
            first, many = int(drops.link[node, child, 0]), int(drops.link[node, child, 1])
            if many < 0 or not _cone_meets(*_ball_of(drops.box, node, child), cone):
                continue
            if many == 0:
                stack[top] = first
                top += 1
            for place in range(first, first + many):
                k = drops.order[place]
                if k == skip or n >= found.shape[0]:
                    continue
                if _cone_meets(row(drops.centre, k), drops.radius[k], cone):
                    found[n] = k
                    n += 1
    return n


@jit
def _ball_of(box, node, child):
    """Centre and radius of the ball round the box of a node's child."""
    low = box[node, 0, child], box[node, 1, child], box[node, 2, child]
    high = box[node, 3, child], box[node, 4, child], box[node, 5, child]
    return scale(along(low, high, 1.0), 0.5), 0.5 * length(sub(high, low))


@jit
def in_cone(drops, listed, count, cone, found):
    """As `near_cone`, of the first `count` of some listed drops."""
    n = 0
    for c in range(count):
        k = listed[c]
        if n < found.shape[0] and _cone_meets(row(drops.centre, k), drops.radius[k], cone):
            found[n] = k
            n += 1
    return n


@jit
def _cone_meets(c, reach, cone):
    """Whether a ball of the radius reach about c comes near a cone."""
    m = sub(c, cone.o)
    t = min(max(dot(m, cone.d), 0.0), cone.far)
    q = along(m, cone.d, -t)
    room = reach + cone.start + cone.widen * (t + reach)
    return dot(q, q) < room * room


@jit
def plane_of(drops, k, x, y):
    """The plane through sphere k's centre, a light's point y and a target x, as in `connection`: the axis
    toward y, the direction aside toward x, rho and z of x and the height s of y, in radii."""
    r = drops.radius[k]
    c = row(drops.centre, k)
    to = sub(y, c)
    far = length(to)
    axis = scale(to, 1.0 / far)
    m = scale(sub(x, c), 1.0 / r)
    z = dot(m, axis)
    side = along(m, axis, -z)
    rho = length(side)
    side = scale(side, 1.0 / rho) if rho > 1e-9 else basis(axis)[0]
    return axis, side, rho, z, far / r
