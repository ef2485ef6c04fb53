"""The petal's triangles: nearest hit, any hit, and what lies at a hit.

Moeller and Trumbore, J. Graphics Tools 2 (1997) 21, with edges counted in so that no ray slips between
two triangles.
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels.box_tree import STACK, inverse
from lightsim.tracer.kernels.emitters import Vector
from lightsim.tracer.kernels.jit import jit, jit_allocating
from lightsim.tracer.kernels.simd import EDGE, LANES, TRIANGLES, boxes_met, lowest, triangles_met
from lightsim.tracer.kernels.vectors import along, cross, dot, sub

ONE_BY_ONE = 2  # leaves so few that their boxes are not tested first
START = 1e-4  # mm; rays start this far off a surface


class SurfacePoint(NamedTuple):
    """A point x of the petal on triangle `face`, with the normal n toward the petal's front."""

    face: int
    x: Vector
    n: Vector


class Petal(NamedTuple):
    """box, link: the tree, see `box_tree.BoxTree`; lanes: the triangles leaf by leaf, see
    `simd.triangles_met`; face (nf, 3) int32: their vertices. What the last leaf has free has no area.

    normal, reflectance, transmittance (nv, 3) float32. gloss, roughness: float; gloss_mean: the share of
    diffuse light that the gloss mirrors.
    """

    box: NDArray
    link: NDArray
    lanes: NDArray
    face: NDArray
    normal: NDArray
    reflectance: NDArray
    transmittance: NDArray
    gloss: float
    roughness: float
    gloss_mean: float


@jit
def corner(petal, f):
    """The first corner of face f."""
    n, i = f // TRIANGLES, f % TRIANGLES
    return petal.lanes[n, 0, i], petal.lanes[n, 1, i], petal.lanes[n, 2, i]


@jit
def edges(petal, f):
    """The edges of face f from its first corner to the second and to the third."""
    n, i = f // TRIANGLES, f % TRIANGLES
    return (
        (petal.lanes[n, 3, i], petal.lanes[n, 4, i], petal.lanes[n, 5, i]),
        (petal.lanes[n, 6, i], petal.lanes[n, 7, i], petal.lanes[n, 8, i]),
    )


@jit
def triangle(petal, f, o, d):
    """Distance and the weights u, v of the second and third corner; inf when missed."""
    e1, e2 = edges(petal, f)
    p = cross(d, e2)
    det = dot(e1, p)
    if abs(det) < 1e-30:
        return inf, 0.0, 0.0
    inv = 1.0 / det
    s = sub(o, corner(petal, f))
    u = dot(s, p) * inv
    if u < EDGE or u > 1.0 - EDGE:
        return inf, 0.0, 0.0
    q = cross(s, e1)
    v = dot(d, q) * inv
    if v < EDGE or u + v > 1.0 - EDGE:
        return inf, 0.0, 0.0
    return dot(e2, q) * inv, u, v


class Hit(NamedTuple):
    """A ray's distance to a triangle, which one (-1 for none) and the weights there."""

    t: float
    face: int
    u: float
    v: float


@jit
def _hit(t, face, u, v):
    return Hit(t, face, u, v)


@jit
def nearest(petal, o, d, t_min, t_max, stack):
    """First triangle along the ray between t_min and t_max: distance (inf for none), face, u, v."""
    inverted = inverse(d)
    hit = _hit(t_max, -1, 0.0, 0.0)
    stack[0] = 0
    top = 1
    while top > 0:
        top -= 1
        node = int(stack[top])
        boxes = boxes_met(petal.box, node, o, inverted, hit.t)
        while boxes != 0:
            c = lowest(boxes)
            boxes &= boxes - 1
            first, many = int(petal.link[node, c, 0]), int(petal.link[node, c, 1])
            if many == 0:
                stack[top] = first
                top += 1
            elif many > 0:
                hit = _nearest_of(petal, first, many, o, d, t_min, hit)
    return hit if hit.face >= 0 else _hit(inf, -1, 0.0, 0.0)


@jit
def _nearest_of(petal, first, many, o, d, t_min, hit):
    """The nearest of a leaf's triangles where one is nearer than a hit, else that."""
    met = triangles_met(petal.lanes, first, many, o, d, (t_min, hit.t))
    while met != 0:
        f = first + lowest(met)
        met &= met - 1
        t, u, v = triangle(petal, f, o, d)
        if t_min < t < hit.t:
            hit = _hit(t, f, u, v)
    return hit


@jit
def nearest_in(petal, leaves, leaf_boxes, many, o, d):
    """As `nearest` along the whole ray, among the triangles of the first `many` of some leaves.

    leaves : numbered LANES node + child. leaf_boxes : see `box_tree.lay_in_lanes`; not tested for ONE_BY_ONE
    leaves or fewer.
    """
    inverted = inverse(d)
    hit = _hit(inf, -1, 0.0, 0.0)
    for i in range(0, many, LANES):
        boxes = (1 << many) - 1
        if many > ONE_BY_ONE:
            boxes = boxes_met(leaf_boxes, i // LANES, o, inverted, hit.t)
        while boxes != 0:
            leaf = int(leaves[i + lowest(boxes)])
            boxes &= boxes - 1
            link = petal.link[leaf // LANES, leaf % LANES]
            hit = _nearest_of(petal, int(link[0]), int(link[1]), o, d, START, hit)
    return hit


@jit
def blocked(petal, o, d, t_min, t_max, stack):
    """Whether any triangle lies between t_min and t_max."""
    inverted = inverse(d)
    stack[0] = 0
    top = 1
    while top > 0:
        top -= 1
        node = int(stack[top])
        met = boxes_met(petal.box, node, o, inverted, t_max)
        while met != 0:
            c = lowest(met)
            met &= met - 1
            first, many = int(petal.link[node, c, 0]), int(petal.link[node, c, 1])
            if many == 0:
                stack[top] = first
                top += 1
            elif many > 0 and triangles_met(petal.lanes, first, many, o, d, (t_min, t_max)):
                return True
    return False


@jit
def place(petal, f, u, v):
    """The point at weights u, v of face f."""
    e1, e2 = edges(petal, f)
    return along(along(corner(petal, f), e1, u), e2, v)


@jit
def blend(array, face, f, u, v):
    """A per-vertex quantity (nv, 3) at weights u, v of face f."""
    a, b, c = face[f, 0], face[f, 1], face[f, 2]
    w = 1.0 - u - v
    return (
        w * array[a, 0] + u * array[b, 0] + v * array[c, 0],
        w * array[a, 1] + u * array[b, 1] + v * array[c, 1],
        w * array[a, 2] + u * array[b, 2] + v * array[c, 2],
    )


@jit
def normal_at(petal, f, u, v):
    """Smooth normal, toward the petal's front."""
    n = blend(petal.normal, petal.face, f, u, v)
    k = 1.0 / sqrt(max(dot(n, n), 1e-30))
    return n[0] * k, n[1] * k, n[2] * k


@jit
def as_point(face, x, n):
    """A `SurfacePoint` of one type, whatever the width of the numbers."""
    return SurfacePoint(face, x, n)


@jit
def surface_point(petal, f, u, v):
    """The point at weights u, v of face f with its smooth normal."""
    return SurfacePoint(f, place(petal, f, u, v), normal_at(petal, f, u, v))


@jit_allocating
def flat_normal(petal, f):
    """Normal of the flat triangle, toward the petal's front, not normalised."""
    e1, e2 = edges(petal, f)
    return cross(e1, e2)


def new_stack() -> NDArray:
    """Room for one walk through a tree."""
    return np.empty(STACK, dtype=np.int32)
