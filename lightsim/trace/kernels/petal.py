"""The petal's triangles: nearest hit, any hit, and what lies at a hit.

Moeller and Trumbore, J. Graphics Tools 2 (1997) 21, with edges counted in so that no ray slips between
two triangles.
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.trace.kernels.boxtree import entry, inverse
from lightsim.trace.kernels.jit import jit, making
from lightsim.trace.kernels.lanes import EDGE, boxes_met, lowest, triangles_met
from lightsim.trace.kernels.vectors import cross, dot, row

START = 1e-4  # mm; rays start this far off a surface


class Petal(NamedTuple):
    """box, link: the tree; wide_box, wide_link: the same with eight children to a node (`boxtree.widen`);
    lanes: see `lanes.triangles_met`. corner, edge1, edge2 (nf, 3) float32 and face (nf, 3) int32, in the
    tree's order.

    normal, reflectance, transmittance (nv, 3) float32. gloss, roughness: float; gloss_mean: the share of
    diffuse light that the gloss mirrors.
    """

    box: NDArray
    link: NDArray
    wide_box: NDArray
    wide_link: NDArray
    lanes: NDArray
    corner: NDArray
    edge1: NDArray
    edge2: NDArray
    face: NDArray
    normal: NDArray
    reflectance: NDArray
    transmittance: NDArray
    gloss: float
    roughness: float
    gloss_mean: float


@jit
def triangle(petal, f, o, d):
    """Distance and the weights u, v of the second and third corner; inf when missed."""
    e1 = row(petal.edge1, f)
    e2 = row(petal.edge2, f)
    p = cross(d, e2)
    det = dot(e1, p)
    if abs(det) < 1e-30:
        return inf, 0.0, 0.0
    inv = 1.0 / det
    s = o[0] - petal.corner[f, 0], o[1] - petal.corner[f, 1], o[2] - petal.corner[f, 2]
    u = dot(s, p) * inv
    if u < EDGE or u > 1.0 - EDGE:
        return inf, 0.0, 0.0
    q = cross(s, e1)
    v = dot(d, q) * inv
    if v < EDGE or u + v > 1.0 - EDGE:
        return inf, 0.0, 0.0
    return dot(e2, q) * inv, u, v


@jit
def nearest(petal, o, d, t_min, t_max, stack):
    """First triangle along the ray between t_min and t_max: distance (inf for none), face, u, v."""
    inv = inverse(d)
    best = t_max
    face = -1
    bu = 0.0
    bv = 0.0
    top = 0
    if entry(petal.box, 0, o, inv, best) < inf:
        stack[0] = 0
        top = 1
    while top > 0:
        top -= 1
        node = stack[top]
        count = petal.link[node, 1]
        first = petal.link[node, 0]
        if count > 0:
            for f in range(first, first + count):
                t, u, v = triangle(petal, f, o, d)
                if t_min < t < best:
                    best, face, bu, bv = t, f, u, v
        else:
            t0 = entry(petal.box, first, o, inv, best)
            t1 = entry(petal.box, first + 1, o, inv, best)
            if t0 <= t1:
                if t1 < inf:
                    stack[top] = first + 1
                    top += 1
                if t0 < inf:
                    stack[top] = first
                    top += 1
            else:
                if t0 < inf:
                    stack[top] = first
                    top += 1
                stack[top] = first + 1
                top += 1
    if face < 0:
        return inf, -1, 0.0, 0.0
    return best, face, bu, bv


@jit
def nearest_in(petal, leaves, many, o, d, t_min, t_max):
    """As `nearest`, among the triangles of the first `many` of some leaves."""
    inv = inverse(d)
    best = t_max
    face = -1
    bu = 0.0
    bv = 0.0
    for i in range(many):
        node = leaves[i]
        if entry(petal.box, node, o, inv, best) == inf:
            continue
        first = int(petal.link[node, 0])
        met = triangles_met(
            petal.lanes, first, int(petal.link[node, 1]), o[0], o[1], o[2], d[0], d[1], d[2], t_min, best
        )
        while met != 0:
            f = first + lowest(met)
            met &= met - 1
            t, u, v = triangle(petal, f, o, d)
            if t_min < t < best:
                best, face, bu, bv = t, f, u, v
    if face < 0:
        return inf, -1, 0.0, 0.0
    return best, face, bu, bv


@jit
def blocked(petal, o, d, t_min, t_max, stack):
    """Whether any triangle lies between t_min and t_max."""
    ix, iy, iz = inverse(d)
    stack[0] = 0
    top = 1
    while top > 0:
        top -= 1
        node = int(stack[top])
        met = boxes_met(petal.wide_box, node, o[0], o[1], o[2], ix, iy, iz, t_max)
        while met != 0:
            c = lowest(met)
            met &= met - 1
            first, many = int(petal.wide_link[node, c, 0]), int(petal.wide_link[node, c, 1])
            if many == 0:
                stack[top] = first
                top += 1
            elif many > 0 and triangles_met(
                petal.lanes, first, many, o[0], o[1], o[2], d[0], d[1], d[2], t_min, t_max
            ):
                return True
    return False


@jit
def place(petal, f, u, v):
    """The point at weights u, v of face f."""
    return (
        petal.corner[f, 0] + u * petal.edge1[f, 0] + v * petal.edge2[f, 0],
        petal.corner[f, 1] + u * petal.edge1[f, 1] + v * petal.edge2[f, 1],
        petal.corner[f, 2] + u * petal.edge1[f, 2] + v * petal.edge2[f, 2],
    )


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


@making
def flat_normal(petal, f):
    """Normal of the flat triangle, toward the petal's front, not normalised."""
    return cross(row(petal.edge1, f), row(petal.edge2, f))


def new_stack() -> NDArray:
    """Room for one walk through a tree."""
    return np.empty(192, dtype=np.int32)
