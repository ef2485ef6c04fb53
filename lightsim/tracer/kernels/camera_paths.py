"""Camera paths: what each sample of each pixel ends on, found once and kept for every light.

Three lists, each in the order of the pixels: ends on the dry petal, ends on a drop's wet base, rays that
leave the set. At the first drop a path parts in two, the mirrored one and the one through the water.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import WATER_INDEX as N
from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.box_tree import STACK, child_meets, inverse, lay_in_lanes
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.refraction import bend, fresnel, mirror
from lightsim.tracer.kernels.sampling import PAIR, key, pair_of, single, to_disc
from lightsim.tracer.kernels.simd import LANES
from lightsim.tracer.kernels.specular_path import END, PathScene, outward, path_end, sees_front, walk
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, dot, length, scale, sub


class Tags(NamedTuple):
    """Bits of a path's tag: which part of the layer its end counts for (petal, surface or water, of the bits
    `part`), whether the petal's front is seen, whether it was mirrored once, at the first drop's outer
    surface."""

    petal: int = 0
    surface: int = 1
    water: int = 2
    part: int = 3
    front: int = 4
    glint: int = 8


TAG = Tags()


class CameraPathLimits(NamedTuple):
    """How paths are found. A mirrored petal of less weight than mirrored_petal_chance is taken that seldom,
    and weighs that more."""

    mirrored_petal_chance: float = 0.1
    sets: int = 64  # of sample points that the pixels of a row choose from, since drawing new ones takes long
    before_mm: float = 2000.0  # where rays start that come from no point of a pupil before the subject
    beam: int = 6 * LANES  # leaves of a tree that a pixel's rays may meet and are searched one after another


LIMITS = CameraPathLimits()


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
            of = y * LIMITS.sets + q
            places[q, m, 0], places[q, m, 1] = pair_of(key(seed, of, PAIR.pixel), m)
            openings[q, m, 0], openings[q, m, 1] = to_disc(*pair_of(key(seed, of, PAIR.lens), m))


@jit
def point_of_lens(lens, p, a, b):
    """Start, on the lens's side, of the ray through p and the pupil's point a, b (of the unit disc): that
    point, or for a pupil beyond the subject a point before_mm from p on the line from there."""
    at = a * lens.pupil_radius, b * lens.pupil_radius, lens.pupil_distance
    if lens.pupil_distance > 0.0:
        return at
    to = sub(p, at)
    return along(p, to, LIMITS.before_mm / length(to))


@jit
def _camera_ray(lens, pixel, place, opening):
    """Origin on the lens opening and direction through a place (0..1, 0..1) of a pixel (column, row), from a
    point of the unit disc."""
    px = (pixel[0] + place[0] - 0.5 * lens.width) * lens.pitch
    py = (0.5 * lens.height - pixel[1] - place[1]) * lens.pitch
    o = point_of_lens(lens, (px, py, 0.0), opening[0], opening[1])
    d = sub((px, py, 0.0), o)
    return o, scale(d, 1.0 / length(d))


@jit
def _beam(lens, tree, x, y, found, stack):
    """The leaves of a tree of boxes, numbered LANES node + child, that rays of pixel (x, y) may meet,
    whatever the point of the lens opening; how many, -1 when they are more than `found` holds.

    A ray passes a depth z at most half a pixel's diagonal and the opening's radius, each in proportion, from
    the one through the middles of both.
    """
    box, link = tree.box, tree.link
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
        for child in range(LANES):
            depth = max(abs(box[node, 2, child]), abs(box[node, 5, child]))
            grow = 0.7072 * lens.pitch * (1.0 + depth / far) + lens.pupil_radius * depth / far
            many = int(link[node, child, 1])
            if many < 0 or not child_meets(box, node, child, o, inv, grow):
                continue
            if many == 0:
                stack[top] = link[node, child, 0]
                top += 1
            elif n == found.shape[0]:
                return -1
            else:
                found[n] = LANES * node + child
                n += 1
    return n


@jit
def _keep_petal(ends, r, i, end, tag):
    ends.petal_face[r, i] = end.face
    ends.petal_uv[r, i, 0] = end.u
    ends.petal_uv[r, i, 1] = end.v
    ends.petal_weight[r, i] = end.weight
    ends.petal_tag[r, i] = tag


@jit
def _keep_base(ends, r, i, end, tag):
    ends.base_drop[r, i] = end.drop
    ends.base_face[r, i] = end.face
    ends.base_uv[r, i, 0] = end.u
    ends.base_uv[r, i, 1] = end.v
    ends.base_weight[r, i] = end.weight
    ends.base_tag[r, i] = tag


@jit
def _keep_environment(ends, r, i, end, tag, first_drop):
    for a in range(3):
        ends.environment_ray[r, i, a] = end.o[a]
        ends.environment_ray[r, i, a + 3] = end.d[a]
    ends.environment_weight[r, i] = end.weight
    ends.environment_tag[r, i] = tag
    ends.environment_drop[r, i] = first_drop


@jit
def _keep(ends, r, filled, end, tag, chance, first_drop):
    """Put one path's end into its list and count it in filled (3,). chance: a number in 0..1 by which faint
    mirrored ends are chosen; first_drop: the one that the path met first."""
    if end.kind == END.petal:
        part, weight = tag & TAG.part, end.weight
        if part == TAG.surface and weight < LIMITS.mirrored_petal_chance:
            if chance * LIMITS.mirrored_petal_chance > weight:
                return
            weight = LIMITS.mirrored_petal_chance
        front = TAG.front if end.front else 0
        where, leg = (end.face, end.u, end.v), (end.o, end.d)
        kept = path_end(end.kind, weight, where, end.drop, end.front, leg, end.events)
        _keep_petal(ends, r, filled[0], kept, part | front)
        filled[0] += 1
    elif end.kind == END.base:
        _keep_base(ends, r, filled[1], end, tag & TAG.part)
        filled[1] += 1
    elif end.kind == END.environment:
        _keep_environment(ends, r, filled[2], end, tag & TAG.part if end.events > 0 else tag, first_drop)
        filled[2] += 1


@jit
def _at_drop(scene, k, o, d, scramble, sample):
    """The two paths on from the first drop's surface point o: (mirrored end, end through water)."""
    n = outward(scene.drops, k, o)
    cos_i = min(1.0, max(0.0, -dot(d, n)))
    f_r = fresnel(cos_i, N)
    up = walk(scene, -2 - k, o, mirror(d, n), f_r, scramble, 2 * sample)
    inner = bend(d, n, cos_i, N)
    down = walk(scene, k, o, inner, (1.0 - f_r) / (N * N), scramble, 2 * sample + 1)
    return up, down


class RowRoom(NamedTuple):
    """Room for a row of pixels: leaves of the petal's tree that a pixel's rays may meet, with their
    boxes, and of the drops'; the first drop of each sample; sample points in the pixel and on the lens
    opening; how far the three lists of ends are filled; a walk through a tree."""

    leaves: NDArray
    leaf_boxes: NDArray
    drop_leaves: NDArray
    votes: NDArray
    places: NDArray
    openings: NDArray
    filled: NDArray
    stack: NDArray


@jit
def _first_hit(scene, room, many, o, d):
    """The first drop that a camera ray enters (distance, number or -1) and the petal's `Hit` before it; many:
    of a pixel's leaves of the petal's and the drops' trees, -1 for too many to list."""
    petal, drops = scene.petal, scene.drops
    if many[0] < 0:
        hit = petal_mesh.nearest(petal, o, d, petal_mesh.START, inf, scene.stack)
    else:
        hit = petal_mesh.nearest_in(petal, room.leaves, room.leaf_boxes, many[0], o, d)
    if many[1] < 0:
        t_drop, k = drop_spheres.enter(drops, o, d, 1e-7, hit.t, -1, scene.stack)
    else:
        t_drop, k = drop_spheres.enter_in(drops, room.drop_leaves, many[1], o, d, 1e-7, hit.t)
    return t_drop, k, hit


@jit
def _sample_path(scene, ends, room, r, ray, many, sample):
    """Follow one sample's ray (origin, direction, the pixel's key) and keep its ends; returns what it sees (0
    environment, 1 petal, 2 drop) at which depth."""
    o, d, scramble = ray
    t_drop, k, hit = _first_hit(scene, room, many, o, d)
    room.votes[sample] = k
    if k >= 0:
        p = along(o, d, t_drop)
        up, down = _at_drop(scene, k, p, d, scramble, sample)
        chance = single(scramble, sample, 63)
        _keep(ends, r, room.filled, up, TAG.glint | TAG.surface, chance, k)
        _keep(ends, r, room.filled, down, TAG.water, chance, k)
        return 2, p[2]
    if hit.face >= 0:
        front = sees_front(scene.petal, hit.face, d)
        end = path_end(END.petal, 1.0, (hit.face, hit.u, hit.v), -1, front, (o, d), 0)
        _keep(ends, r, room.filled, end, TAG.petal, 0.0, -1)
        return 1, o[2] + hit.t * d[2]
    o = along(o, d, -o[2] / d[2])  # past the lens's own barrel
    end = path_end(END.environment, 1.0, (-1, 0.0, 0.0), -1, True, (o, d), 0)
    _keep(ends, r, room.filled, end, TAG.petal, 0.0, -1)
    return 0, 0.0


@jit
def _sample_pixel(scene, camera, ends, counts, room, x, r):
    """Find the paths of pixel x of row r."""
    lens, y = camera.lens, camera.first_row + r
    samples, sets = room.votes.shape[0], room.places.shape[0]
    petal0, base0, environment0 = room.filled[0], room.filled[1], room.filled[2]
    scramble = key(camera.seed, y * lens.width + x, PAIR.event)
    q, w = int(scramble % np.uint64(sets)), int((scramble >> np.uint64(16)) % np.uint64(sets))
    n_leaves = _beam(lens, scene.petal, x, y, room.leaves, scene.stack)
    if n_leaves > petal_mesh.ONE_BY_ONE:
        lay_in_lanes(scene.petal.box, room.leaves, n_leaves, room.leaf_boxes)
    many = n_leaves, _beam(lens, scene.drops, x, y, room.drop_leaves, scene.stack)
    seen_petal, seen_drop, depth = 0, 0, 0.0
    for s in range(samples):
        u, v = room.places[q, s, 0], room.places[q, s, 1]
        o, d = _camera_ray(lens, (x, y), (u, v), (room.openings[w, s, 0], room.openings[w, s, 1]))
        seen, z = _sample_path(scene, ends, room, r, (o, d, scramble), many, s)
        seen_petal += 1 if seen == 1 else 0
        seen_drop += 1 if seen == 2 else 0
        depth += z
    counts.petal[r, x] = room.filled[0] - petal0
    counts.base[r, x] = room.filled[1] - base0
    counts.environment[r, x] = room.filled[2] - environment0
    counts.petal_cover[r, x] = seen_petal / samples
    counts.drop_cover[r, x] = seen_drop / samples
    counts.drop_index[r, x] = _majority(room.votes)
    seen = seen_petal + seen_drop
    counts.depth[r, x] = depth / seen if seen > 0 else np.nan


@jit
def _sample_row(petal, drops, camera, ends, counts, room, r):
    scene = held(PathScene(petal, drops, camera.foot_face, room.stack))
    _draw_points(room.places, room.openings, camera.first_row + r, camera.seed)
    for x in range(camera.lens.width):
        _sample_pixel(scene, camera, ends, counts, room, x, r)


class CameraRows(NamedTuple):
    """The camera's paths through some rows of pixels from `first_row` on: how many samples a pixel, seed of
    their points, the face under each drop's foot (nd,)."""

    lens: Lens
    first_row: int
    samples: int
    seed: int
    foot_face: NDArray


@jit_allocating
def _find_paths_one(petal, drops, camera, ends, counts, r):
    sets = min(LIMITS.sets, camera.lens.width)
    room = RowRoom(
        np.empty(LIMITS.beam, dtype=np.int32),
        np.empty((LIMITS.beam // LANES, 6, LANES), dtype=np.float32),
        np.empty(LIMITS.beam, dtype=np.int32),
        np.zeros(camera.samples, dtype=np.int64),
        np.empty((sets, camera.samples, 2)),
        np.empty((sets, camera.samples, 2)),
        np.zeros(3, dtype=np.int64),
        np.empty(STACK, dtype=np.int32),
    )
    _sample_row(petal, drops, camera, ends, counts, room, r)


@threaded
def find_paths(begin, end, petal, drops, camera, ends, counts):
    """Fill `ends` and `counts` for the rows of pixels of a `CameraRows`."""
    for r in range(begin, end):
        _find_paths_one(petal, drops, camera, ends, counts, r)


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
