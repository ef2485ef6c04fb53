"""The petal's mesh made ready for rays and for indirect light: all that looks at every vertex or triangle."""

from __future__ import annotations

from math import exp, inf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.simd import TRIANGLES
from lightsim.tracer.kernels.vectors import along, cross, dot, row, scale, sub, unit


@threaded
def face_boxes(begin, end, vertices, faces, box):
    """The triangles' boxes (nf, 6)."""
    for f in range(begin, end):
        a, b, c = int(faces[f, 0]), int(faces[f, 1]), int(faces[f, 2])
        for k in range(3):
            x, y, z = vertices[a, k], vertices[b, k], vertices[c, k]
            box[f, k] = min(min(x, y), z)
            box[f, k + 3] = max(max(x, y), z)


@threaded
def lay_out(begin, end, vertices, faces, order, lanes, face):
    """The triangles leaf by leaf, in the tree's order: see `petal_mesh.Petal`."""
    for f in range(begin, end):
        n, i, of = f // TRIANGLES, f % TRIANGLES, order[f]
        a, b, c = int(faces[of, 0]), int(faces[of, 1]), int(faces[of, 2])
        for k in range(3):
            face[f, k] = faces[of, k]
            lanes[n, k, i] = vertices[a, k]
            lanes[n, k + 3, i] = vertices[b, k] - vertices[a, k]
            lanes[n, k + 6, i] = vertices[c, k] - vertices[a, k]


@jit
def share_of(part, parts, many):
    """First and last of so many things that fall to a part."""
    return part * many // parts, (part + 1) * many // parts


@jit
def _area(vertices, faces, f):
    a = row(vertices, int(faces[f, 0]))
    n = cross(sub(row(vertices, int(faces[f, 1])), a), sub(row(vertices, int(faces[f, 2])), a))
    return 0.5 * sqrt(dot(n, n))


@threaded
def add_areas(begin, end, vertices, faces, of_vertex, area):
    """Each triangle's area, a third of it to the group of each of its corners: area (parts, groups)."""
    for part in range(begin, end):
        first, last = share_of(part, area.shape[0], faces.shape[0])
        for f in range(first, last):
            third = _area(vertices, faces, f) / 3.0
            for k in range(3):
                area[part, of_vertex[faces[f, k]]] += third


@threaded
def find_cells(begin, end, vertices, low, spacing, size, cell):
    """The number of each vertex' cell in a grid of `size` (3,) cells from `low` (3,) on."""
    for v in range(begin, end):
        number = 0
        for k in range(3):
            number = number * size[k] + int((vertices[v, k] - low[k]) / spacing)
        cell[v] = number


@threaded
def find_groups(begin, end, cell, occupied, of_vertex):
    """Which of the occupied cells, sorted, each vertex' is."""
    last, group = -1, 0
    for v in range(begin, end):
        if cell[v] != last:
            last = cell[v]
            group = np.searchsorted(occupied, last)
        of_vertex[v] = group


@threaded
def add_up(begin, end, of_vertex, values, total):
    """Sums over each group's vertices of values (nv, k): total (parts, groups, k)."""
    for part in range(begin, end):
        first, last = share_of(part, total.shape[0], of_vertex.shape[0])
        for v in range(first, last):
            for k in range(values.shape[1]):
                total[part, of_vertex[v], k] += values[v, k]


@threaded
def find_nearest(begin, end, vertices, of_vertex, place, square, nearest):
    """Of each group the vertex nearest to its place (groups, 3), the first of several, and the square of its
    distance: square, nearest (parts, groups)."""
    for part in range(begin, end):
        first, last = share_of(part, square.shape[0], of_vertex.shape[0])
        for v in range(first, last):
            group = int(of_vertex[v])
            m = sub(row(vertices, v), row(place, group))
            far = dot(m, m)
            if far < square[part, group]:
                square[part, group] = far
                nearest[part, group] = v


class Candidates(NamedTuple):
    """Of groups of vertices, the points among which those nearest to any of a group's vertices are.

    of_vertex (nv,) : each vertex' group. centre (groups, 3). start (groups + 1,) : where each group's points
    begin in listed (m,), those next to its centre first; off (m,) : how far from it they are. place (n, 3) :
    of all points.
    """

    of_vertex: NDArray
    centre: NDArray
    start: NDArray
    listed: NDArray
    off: NDArray
    place: NDArray


@jit_allocating
def _neighbours_one(vertices, among, width, neighbour, weight, far, v):
    many, found, group = neighbour.shape[1], 0, int(among.of_vertex[v])
    x = row(vertices, v)
    m = sub(x, row(among.centre, group))
    aside = sqrt(dot(m, m))
    for q in range(among.start[group], among.start[group + 1]):
        least = among.off[q] - aside
        if found == many and least > 0.0 and least * least >= far[many - 1]:
            break  # none of those that follow is nearer
        point = int(among.listed[q])
        m = sub(row(among.place, point), x)
        square = dot(m, m)
        if found < many:
            found += 1
        elif square >= far[many - 1]:
            continue
        at = found - 1
        while at > 0 and far[at - 1] > square:
            far[at] = far[at - 1]
            neighbour[v, at] = neighbour[v, at - 1]
            at -= 1
        far[at] = square
        neighbour[v, at] = point
    total = 0.0
    for i in range(many):
        weight[v, i] = exp((far[0] - far[i]) / (width * width))
        total += weight[v, i]
    for i in range(many):
        weight[v, i] /= total


@threaded
def find_neighbours(begin, end, vertices, among, width, neighbour, weight):
    """The points nearest to each vertex, nearest first, and their weights, both (nv, k): the nearer the more,
    e times less for each `width` squared more in squared distance. among: `Candidates`."""
    far = np.full(neighbour.shape[1], inf)
    for v in range(begin, end):
        _neighbours_one(vertices, among, width, neighbour, weight, far, v)


@jit
def _evenness_one(normals, run, neighbour, weight, v):
    n = row(run, int(neighbour[v, 0]))
    blended = scale(n, weight[v, 0])
    for i in range(1, neighbour.shape[1]):
        blended = along(blended, row(run, int(neighbour[v, i])), weight[v, i])
    return min(max(dot(row(normals, v), unit(blended)), 0.0), 1.0)


@threaded
def find_evenness(begin, end, normals, run, neighbour, weight, even):
    """Cosines (nv,) between the mesh's normals and the points' normals, `run` (n, 3), blended by `weight`."""
    for v in range(begin, end):
        even[v] = _evenness_one(normals, run, neighbour, weight, v)
