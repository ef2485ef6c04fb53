"""Camera paths: what each sample of each pixel ends on, found once and kept for every light.

Three lists, each in the order of the pixels: ends on the dry petal, ends on a drop's wet base, rays that
leave the set. At the first drop a path parts in two, the mirrored one and the one through the water.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import WATER_INDEX
from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.bvh import inverse, wide_entry
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.refraction import bend, fresnel, mirror
from lightsim.tracer.kernels.sampling import EVENT, LENS, PIXEL, key, pair_of, single, to_disc
from lightsim.tracer.kernels.simd import LANES
from lightsim.tracer.kernels.specular_path import BASE, ENVIRONMENT, PETAL, outward, sees_front, walk
from lightsim.tracer.kernels.vectors import along, dot, length, scale, sub
from lightsim.tracer.kernels.wide_bvh import lane_boxes

N = WATER_INDEX

# tags: which part of the layer an end counts for, and from which side the petal is seen
PETAL_PART, SURFACE_PART, WATER_PART = 0, 1, 2
PART = 3
FRONT = 4
GLINT = 8  # mirrored once, at the first drop's outer surface

MIRRORED_PETAL_CHANCE = (
    0.1  # a mirrored petal of less weight than this is taken that seldom, and weighs that more
)
SETS = 64  # of sample points that the pixels of a row choose from: drawing new ones for each takes long
BEFORE_MM = 2000.0  # where rays start that come from no point of a pupil before the subject
BEAM = 6 * LANES  # leaves of a tree that a pixel's rays may meet and are searched one after another


class Lens(NamedTuple):
    """Pinhole grid and opening: width and height in pixels, mm per pixel, pupil distance (negative if beyond
    the subject) and radius in mm."""

    width: int
    height: int
    pitch: float
    pupil_distance: float
    pupil_radius: float


class Ends(NamedTuple):
    """Buffers for some rows of pixels, (rows, room): see `Paths` for what each holds."""

    petal_face: NDArray
    petal_uv: NDArray
    petal_weight: NDArray
    petal_tag: NDArray
    base_drop: NDArray
    base_face: NDArray
    base_uv: NDArray
    base_weight: NDArray
    base_tag: NDArray
    environment_ray: NDArray
    environment_weight: NDArray
    environment_tag: NDArray
    environment_drop: NDArray


class Counts(NamedTuple):
    """Per pixel of some rows, (rows, width): how many ends of each kind; sums for the maps."""

    petal: NDArray
    base: NDArray
    environment: NDArray
    petal_cover: NDArray
    drop_cover: NDArray
    drop_index: NDArray
    depth: NDArray


@jit
def _draw_points(places, openings, y, seed):
    """Sets of points, (sets, samples, 2), for the pixels of row y: in a pixel, and on the unit disc."""
    for q in range(places.shape[0]):
        for m in range(places.shape[1]):
            of = y * SETS + q
            places[q, m, 0], places[q, m, 1] = pair_of(key(seed, of, PIXEL), m)
            openings[q, m, 0], openings[q, m, 1] = to_disc(*pair_of(key(seed, of, LENS), m))


@jit
def point_of_lens(lens, p, a, b):
    """Start, on the lens's side, of the ray through p and the pupil's point a, b (of the unit disc): that
    point, or for a pupil beyond the subject a point BEFORE_MM from p on the line from there."""
    at = a * lens.pupil_radius, b * lens.pupil_radius, lens.pupil_distance
    if lens.pupil_distance > 0.0:
        return at
    to = sub(p, at)
    return along(p, to, BEFORE_MM / length(to))


@jit
def _camera_ray(lens, x, y, u, v, a, b):
    """Origin on the lens opening and direction through u, v (0..1) of pixel (x, y), from a, b of the unit
    disc."""
    px = (x + u - 0.5 * lens.width) * lens.pitch
    py = (0.5 * lens.height - y - v) * lens.pitch
    o = point_of_lens(lens, (px, py, 0.0), a, b)
    d = sub((px, py, 0.0), o)
    return o, scale(d, 1.0 / length(d))


@jit
def _beam(lens, box, link, x, y, found, stack):
    """The leaves of a tree of boxes that rays of pixel (x, y) may meet, whatever the point of the lens
    opening; how many, -1 when they are more than `found` holds.

    A ray passes a depth z at most half a pixel's diagonal and the opening's radius, each in proportion, from
    the one through the middles of both.
    """
    if link.shape[0] == 0 or (link[0, 1] == 0 and link[0, 0] == 0):
        return 0
    far = abs(lens.pupil_distance)
    mx = (x + 0.5 - 0.5 * lens.width) * lens.pitch
    my = (0.5 * lens.height - y - 0.5) * lens.pitch
    o = point_of_lens(lens, (mx, my, 0.0), 0.0, 0.0)
    d = sub((mx, my, 0.0), o)
    inv = inverse(scale(d, 1.0 / length(d)))
    n = 0
    stack[0] = 0
    top = 1
    while top > 0:
        top -= 1
        node = stack[top]
        low, high = abs(box[node, 2]), abs(box[node, 5])
        depth = max(low, high)
        grow = 0.7072 * lens.pitch * (1.0 + depth / far) + lens.pupil_radius * depth / far
        if not wide_entry(box, node, o, inv, grow):
            continue
        if link[node, 1] > 0:
            if n == found.shape[0]:
                return -1
            found[n] = node
            n += 1
        else:
            stack[top] = link[node, 0]
            stack[top + 1] = link[node, 0] + 1
            top += 2
    return n


@jit
def _keep_petal(ends, r, i, f, u, v, weight, tag):
    ends.petal_face[r, i] = f
    ends.petal_uv[r, i, 0] = u
    ends.petal_uv[r, i, 1] = v
    ends.petal_weight[r, i] = weight
    ends.petal_tag[r, i] = tag


@jit
def _keep_base(ends, r, i, k, f, u, v, weight, tag):
    ends.base_drop[r, i] = k
    ends.base_face[r, i] = f
    ends.base_uv[r, i, 0] = u
    ends.base_uv[r, i, 1] = v
    ends.base_weight[r, i] = weight
    ends.base_tag[r, i] = tag


@jit
def _keep_environment(ends, r, i, o, d, weight, tag, k):
    for a in range(3):
        ends.environment_ray[r, i, a] = o[a]
        ends.environment_ray[r, i, a + 3] = d[a]
    ends.environment_weight[r, i] = weight
    ends.environment_tag[r, i] = tag
    ends.environment_drop[r, i] = k


@jit
def _keep(ends, r, n_petal, n_base, n_environment, end, tag, scramble, sample, first_drop):
    """Put one path's end into its list; returns the three counts. first_drop: the one that it met first."""
    kind, weight, f, u, v, k, front, o, d, events = end
    if kind == PETAL:
        if (tag & PART) == SURFACE_PART and weight < MIRRORED_PETAL_CHANCE:
            if single(scramble, sample, 63) * MIRRORED_PETAL_CHANCE > weight:
                return n_petal, n_base, n_environment
            weight = MIRRORED_PETAL_CHANCE
        _keep_petal(ends, r, n_petal, f, u, v, weight, (tag & PART) | (FRONT if front else 0))
        n_petal += 1
    elif kind == BASE:
        _keep_base(ends, r, n_base, k, f, u, v, weight, tag & PART)
        n_base += 1
    elif kind == ENVIRONMENT:
        if events > 0:
            tag &= PART
        _keep_environment(ends, r, n_environment, o, d, weight, tag, first_drop)
        n_environment += 1
    return n_petal, n_base, n_environment


@jit
def _at_drop(petal, drops, foot_face, k, o, d, scramble, sample, stack):
    """The two ways on from the first drop's surface point o: (mirrored end, end through water)."""
    n = outward(drops, k, o)
    cos_i = min(1.0, max(0.0, -dot(d, n)))
    f_r = fresnel(cos_i, N)
    up = walk(petal, drops, foot_face, -2 - k, o, mirror(d, n), f_r, scramble, 2 * sample, stack)
    inner = bend(d, n, cos_i, N)
    down = walk(petal, drops, foot_face, k, o, inner, (1.0 - f_r) / (N * N), scramble, 2 * sample + 1, stack)
    return up, down


@jit_allocating
def _find_paths_one(petal, drops, foot_face, lens, first_row, rows, samples, seed, ends, counts, r):
    stack = np.empty(192, dtype=np.int32)
    leaves, water = np.empty(BEAM, dtype=np.int32), np.empty(BEAM, dtype=np.int32)
    leaf_boxes = np.empty((BEAM // LANES, 6, LANES), dtype=np.float32)
    votes = np.zeros(samples, dtype=np.int64)
    y = first_row + r
    sets = min(SETS, lens.width)
    places, openings = np.empty((sets, samples, 2)), np.empty((sets, samples, 2))
    _draw_points(places, openings, y, seed)
    n_petal, n_base, n_environment = 0, 0, 0
    for x in range(lens.width):
        petal0, base0, environment0 = n_petal, n_base, n_environment
        scramble = key(seed, y * lens.width + x, EVENT)
        q, w = int(scramble % np.uint64(sets)), int((scramble >> np.uint64(16)) % np.uint64(sets))
        seen_petal, seen_drop, depth = 0, 0, 0.0
        n_leaves = _beam(lens, petal.box, petal.link, x, y, leaves, stack)
        if n_leaves > petal_mesh.ONE_BY_ONE:
            lane_boxes(petal.box, leaves, n_leaves, leaf_boxes)
        n_water = _beam(lens, drops.box, drops.link, x, y, water, stack)
        for s in range(samples):
            o, d = _camera_ray(
                lens, x, y, places[q, s, 0], places[q, s, 1], openings[w, s, 0], openings[w, s, 1]
            )
            if n_leaves < 0:
                t, f, u, v = petal_mesh.nearest(petal, o, d, petal_mesh.START, inf, stack)
            else:
                t, f, u, v = petal_mesh.nearest_in(
                    petal, leaves, leaf_boxes, n_leaves, o, d, petal_mesh.START, inf
                )
            if n_water < 0:
                t_drop, k = drop_spheres.enter(drops, o, d, 1e-7, t, -1, stack)
            else:
                t_drop, k = drop_spheres.enter_in(drops, water, n_water, o, d, 1e-7, t)
            votes[s] = k
            if k >= 0:
                p = along(o, d, t_drop)
                seen_drop += 1
                depth += p[2]
                up, down = _at_drop(petal, drops, foot_face, k, p, d, scramble, s, stack)
                glint = GLINT | SURFACE_PART
                n_petal, n_base, n_environment = _keep(
                    ends, r, n_petal, n_base, n_environment, up, glint, scramble, s, k
                )
                n_petal, n_base, n_environment = _keep(
                    ends, r, n_petal, n_base, n_environment, down, WATER_PART, scramble, s, k
                )
            elif f >= 0:
                seen_petal += 1
                depth += o[2] + t * d[2]
                tag = PETAL_PART | (FRONT if sees_front(petal, f, d) else 0)
                _keep_petal(ends, r, n_petal, f, u, v, 1.0, tag)
                n_petal += 1
            else:
                o = along(o, d, -o[2] / d[2])  # past the lens's own barrel
                _keep_environment(ends, r, n_environment, o, d, 1.0, PETAL_PART, -1)
                n_environment += 1
        counts.petal[r, x] = n_petal - petal0
        counts.base[r, x] = n_base - base0
        counts.environment[r, x] = n_environment - environment0
        counts.petal_cover[r, x] = seen_petal / samples
        counts.drop_cover[r, x] = seen_drop / samples
        counts.drop_index[r, x] = _majority(votes)
        seen = seen_petal + seen_drop
        counts.depth[r, x] = depth / seen if seen > 0 else np.nan


@threaded
def find_paths(begin, end, petal, drops, foot_face, lens, first_row, rows, samples, seed, ends, counts):
    """Fill `ends` and `counts` for `rows` rows of pixels from `first_row` on."""
    for r in range(begin, end):
        _find_paths_one(petal, drops, foot_face, lens, first_row, rows, samples, seed, ends, counts, r)


@jit
def _majority(votes):
    """The value that most votes name (the first of equals)."""
    best, best_count = -1, 0
    for i in range(votes.shape[0]):
        count = 0
        for j in range(votes.shape[0]):
            if votes[j] == votes[i]:
                count += 1
        if count > best_count:
            best, best_count = votes[i], count
        if 2 * best_count > votes.shape[0]:
            break
    return best
