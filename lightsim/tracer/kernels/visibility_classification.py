"""Filling a visibility cache: blocks of pixels classified from coarse to fine by shadow rays.

Coarse blocks are classified first; a fine block of which the coarse ones about it agree needs no rays of its
own. A block's horizon is kept beside its rays, and dropped where these contradict it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.body_shadow import unblocked_share
from lightsim.tracer.kernels.box_tree import STACK
from lightsim.tracer.kernels.drop_shadow import unshaded_by_drops
from lightsim.tracer.kernels.drop_visibility import (
    CANDIDATES,
    STATE,
    OccluderList,
    emitter_corner,
    petal_visibility,
    shaded,
)
from lightsim.tracer.kernels.emitters import Face, face_of, point_on
from lightsim.tracer.kernels.horizon import STRIPS as HORIZON_STRIPS
from lightsim.tracer.kernels.horizon_map import (
    BLOCK,
    block_horizon,
    drop_horizon,
    find_horizon,
    hidden_by_horizon,
    no_neighbour,
)
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.light_pass import SceneGeometry
from lightsim.tracer.kernels.path_store import Paths, front_normal, place_seen
from lightsim.tracer.kernels.petal_mesh import as_point
from lightsim.tracer.kernels.petal_penumbra import sent_over_horizon
from lightsim.tracer.kernels.sampling import PAIR, key, pair_of
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, dot, length, row, scale, sub
from lightsim.tracer.kernels.visibility_cache import CELLS, COARSE, VisibilityCache, common_state

NO_POINT, ALL_POINTS = np.uint64(0), np.uint64(0xFFFFFFFFFFFFFFFF)
POINTS = 32  # of the emitter, to which rays go from a mixed block, one in each of its cells
IN_BLOCK = ((2, 2), (1, 1), (3, 3), (1, 3), (3, 1))  # quarters of a block's side down and to the right


class ClassificationLimits(NamedTuple):
    """When blocks are trusted."""

    grazing: float = 0.3  # cosine that the petal's normals may vary by within a block or a pixel's paths
    missed: int = 1  # points that may be on the wrong side of a block's horizon for it to be kept
    doubt: float = 0.2  # difference of its share from that of the rays from which on a horizon is dropped
    over_mm: float = 0.05  # over the mean of a pixel's places from which the petal below is looked for
    soft_blocks: float = 2.5  # width of a drop's penumbra from which on it is interpolated


LIMITS = ClassificationLimits()


class BlockVisibility(NamedTuple):
    """Of the block at hand: share (2,) of the light on its front and back, -1 on a side that gets none; cells
    (2,) of the emitter that are seen, and that are hidden, as bits; listed (CANDIDATES,): the drops that may
    shade it; horizon (STRIPS,); neighbour (2, STRIPS): the horizon of the block before. stack: for walks."""

    share: NDArray
    cells: NDArray
    listed: NDArray
    horizon: NDArray
    neighbour: NDArray
    stack: NDArray


class ShadowPass(NamedTuple):
    """One emitter's shadows on a row of blocks."""

    paths: Paths
    scene: SceneGeometry
    emitter: Face
    cache: VisibilityCache
    pixel_mm: float
    found: BlockVisibility


@jit
def pixel_in(paths, size, i, j, q):
    """A pixel that sees petal in block i, j: the one in its middle (q 0) or in one of its quarters (1 to 4; 1
    and 2 lie opposite), else another; -1 for none."""
    down, right = IN_BLOCK[q][0] * size // 4, IN_BLOCK[q][1] * size // 4
    many = size * size
    for n in range(many):
        at = (n * 7 + down * size + right) % many
        y = min(paths.rows - 1, i * size + at // size)
        x = min(paths.width - 1, j * size + at % size)
        if paths.mean_end[y * paths.width + x] >= 0:
            return y * paths.width + x
    return -1


@jit
def classify_corners(paths, scene, emitter, size, i, j):
    """State of block i, j (rows counted in `paths`) by rays toward the emitter's corners and edges from
    two of its pixels, five of a coarse block, and from the first of them also to points between; and that
    pixel."""
    first, last = (1, 3) if size == BLOCK else (0, 5)
    seen, rays, p = 0, 0, -1
    for q in range(first, last):
        other = pixel_in(paths, size, i, j, q)
        if other < 0:
            return STATE.empty, p
        p = other if q == first else p
        f, o = int(paths.petal_face[paths.mean_end[other]]), place_seen(paths, scene.petal, other)
        for m in range(17 if q == first else 9):
            if 0 < seen < rays:
                return STATE.mixed, p
            rays += 1
            seen += petal_visibility(scene.petal, f, o, emitter_corner(emitter, m), scene.stack)
    if seen == rays:
        return STATE.clear, p
    return (STATE.hidden if seen == 0 else STATE.mixed), p


@jit
def _as_classified(state, found):
    """Fill share and cells with what a state by corners says."""
    found.share[0] = found.share[1] = 0.0 if state == STATE.hidden else 1.0
    found.cells[0] = CELLS.none if state == STATE.hidden else CELLS.every
    found.cells[1] = CELLS.none if state == STATE.clear else CELLS.every


@jit
def _cell_of(a, b):
    """The cell of an emitter that its point numbered a, b (in 0..1) lies in."""
    return np.uint64(int(a * CELLS.across) * CELLS.up + int(b * CELLS.up))


@jit
def _trace_points(shadow, point, block):
    """Which of evenly spread points of the emitter are seen from a point of the petal, everywhere the same
    ones: shadows without grain. Fills share and cells of the pass.

    block (row, column): whose horizon is dropped where too many of the points contradict it; row -1 for none.
    """
    scene, emitter, horizon_map, found = shadow.scene, shadow.emitter, shadow.cache.horizon, shadow.found
    o, n, ng = point.x, point.n, petal_mesh.flat_normal(scene.petal, point.face)
    scramble = key(0, 0, PAIR.light)
    front, back, front_free, back_free = 0.0, 0.0, 0.0, 0.0
    points, clear, hidden, wrong = NO_POINT, CELLS.every, CELLS.every, 0
    for m in range(POINTS):
        a, b = pair_of(scramble, m)
        y, _ = point_on(emitter, a, b)
        to = sub(y, o)
        far = length(to)
        d = scale(to, 1.0 / far)
        cos_n, cos_y = dot(n, d), -dot(d, emitter.out)
        if cos_y <= 0.0:
            continue
        agree = (cos_n > 0.0) == (dot(ng, d) > 0.0)
        free = agree and petal_visibility(scene.petal, point.face, o, y, scene.stack) == 1
        if block[0] >= 0 and agree:
            q = 0 if cos_n > 0.0 else 1
            block_horizon(horizon_map, block, q, shadow.found.horizon)
            told = hidden_by_horizon(emitter, horizon_map, shadow.found.horizon, q, y)
            wrong += 1 if told == (1 if free else 0) else 0
        cell = np.uint64(1) << _cell_of(a, b)
        if not free:
            clear &= ~cell
        if free or not agree:
            hidden &= ~cell
        if free:
            points |= np.uint64(1) << np.uint64(m)
        k = abs(cos_n) * cos_y / (far * far)
        if cos_n > 0.0:
            front += k
            front_free += k if free else 0.0
        else:
            back += k
            back_free += k if free else 0.0
    found.share[0] = front_free / front if front > 0.0 else -1.0
    found.share[1] = back_free / back if back > 0.0 else -1.0
    found.cells[0], found.cells[1] = clear, hidden
    if wrong > LIMITS.missed:
        drop_horizon(horizon_map, block)
    return points


@jit
def _surface_at(shadow, p):
    """Point of the petal below or above the mean of the places that pixel p sees."""
    paths, scene, n = shadow.paths, shadow.scene, front_normal(shadow.paths, p)
    facing = row(paths.mean_normal, p)
    o = along(row(paths.mean_place, p), facing, LIMITS.over_mm)
    t, f, _, _ = petal_mesh.nearest(
        scene.petal, o, scale(facing, -1.0), 0.0, 2.0 * LIMITS.over_mm, scene.stack
    )
    if f < 0:
        return _point_seen(shadow, p)
    return as_point(int(f), along(o, facing, -t), n)


@jit
def _point_seen(shadow, p):
    """A point of the petal that pixel p sees, with the pixel's mean normal."""
    paths = shadow.paths
    f, x = int(paths.petal_face[paths.mean_end[p]]), place_seen(paths, shadow.scene.petal, p)
    return as_point(f, x, front_normal(paths, p))


@jit
def _first_block(paths, size):
    """The picture's row of blocks that the first row of `paths` begins."""
    return paths.first // paths.width // size


@jit_allocating
def _room():
    """Room for a block's visibility."""
    share, cells, listed = np.empty(2), np.empty(2, dtype=np.uint64), np.empty(CANDIDATES, dtype=np.int32)
    stack = np.empty(STACK, dtype=np.int32)
    return BlockVisibility(share, cells, listed, np.empty(HORIZON_STRIPS), no_neighbour(), stack)


@jit
def _coarse_row(paths, scene, emitter, cache, room, i):
    scene = held(SceneGeometry(scene.petal, scene.drops, scene.boards, room.stack))
    for j in range(cache.coarse_state.shape[1]):
        state, _ = classify_corners(paths, scene, emitter, COARSE, i, j)
        cache.coarse_state[_first_block(paths, COARSE) + i, j] = state


@jit_allocating
def _classify_coarse_row(paths, scene, lamp, cache, i):
    _coarse_row(paths, scene, held(face_of(lamp)), cache, _room(), i)


@threaded
def classify_coarse(begin, end, paths, scene, lamp, cache):
    """Fill coarse_state of a cache for the rows of `paths`."""
    for i in range(begin, end):
        _classify_coarse_row(paths, scene, lamp, cache, i)


@jit
def _middle_pixel(paths, i, j):
    """The pixel in the middle of block i, j (rows counted in `paths`), -1 where it sees no petal."""
    y, x = min(i * BLOCK + BLOCK // 2, paths.rows - 1), min(j * BLOCK + BLOCK // 2, paths.width - 1)
    p = y * paths.width + x
    return p if paths.mean_end[p] >= 0 else -1


@jit
def _find_horizon(shadow, i, j):
    """Keep the horizon of block i, j (rows counted in `paths`) as seen from the petal in its middle. Returns
    whether the pixel there sees petal, and the petal's point."""
    p = _middle_pixel(shadow.paths, i, j)
    if p < 0:
        return False, as_point(0, shadow.emitter.centre, shadow.emitter.centre)
    point, block = _surface_at(shadow, p), (_first_block(shadow.paths, BLOCK) + i, j)
    find_horizon(shadow.scene, shadow.emitter, shadow.cache.horizon, point, block, shadow.found.neighbour)
    return True, point


@jit
def _drop_wrong_horizon(shadow, i, j, share):
    """Drop a horizon whose share differs from that of the rays (2,): past a curled edge light may come
    through below it."""
    paths, drops, horizon_map = shadow.paths, shadow.scene.drops, shadow.cache.horizon
    p, block = _middle_pixel(paths, i, j), (_first_block(paths, BLOCK) + i, j)
    if p < 0:
        return
    o, n = row(paths.mean_place, p), front_normal(paths, p)
    nobody = held(OccluderList(drops, drops.order, 0))
    for q in range(2):
        if not block_horizon(horizon_map, block, q, shadow.found.horizon):
            continue
        facing = n if q == 0 else scale(n, -1.0)
        whole, free = sent_over_horizon(
            nobody, shadow.emitter, horizon_map, shadow.found.horizon, q, o, facing
        )
        if whole > 0.0 and share[q] >= 0.0 and not abs(free / whole - share[q]) < LIMITS.doubt:
            drop_horizon(horizon_map, block)


@jit
def _classify_by_rays(shadow, i, j):
    """State of block i, j (rows counted in `paths`) and which points of the emitter it sees; fills share and
    cells of the pass, and the block's horizon."""
    state, p = classify_corners(shadow.paths, shadow.scene, shadow.emitter, BLOCK, i, j)
    _as_classified(state, shadow.found)
    if state == STATE.empty:
        return state, ALL_POINTS
    known, point = _find_horizon(shadow, i, j)
    if state != STATE.mixed:
        return state, ALL_POINTS if state == STATE.clear else NO_POINT
    a = _first_block(shadow.paths, BLOCK) + i
    if not known:
        a, point = -1, _point_seen(shadow, p)
    return STATE.mixed, _trace_points(shadow, point, (a, j))


@jit
def faces_front(paths, p, d, spread):
    """Whether light from about direction d, `spread` wide, may fall on the petal's front at pixel p: only
    there can a drop shade it."""
    return dot(front_normal(paths, p), d) > -spread - LIMITS.grazing


@jit
def _block_reach(paths, o, i, j):
    """How far from o the petal reaches that a block's pixels see: at its four corners."""
    reach = 0.0
    for q in range(4):
        y = min(paths.rows - 1, (i + (q >> 1)) * BLOCK - (q >> 1))
        x = min(paths.width - 1, (j + (q & 1)) * BLOCK - (q & 1))
        p = y * paths.width + x
        if paths.mean_end[p] >= 0:
            reach = max(reach, length(sub(row(paths.mean_place, p), o)) + paths.mean_reach[p])
    return reach


@jit
def _middle(paths, i, j, p):
    """The petal's place in the middle of a block, between two of its pixels; where one of them does not see
    petal, pixel p's."""
    y, x = i * BLOCK + BLOCK // 2, j * BLOCK + BLOCK // 2
    if y < paths.rows and x < paths.width:
        after = y * paths.width + x
        before = after - paths.width - 1
        if paths.mean_end[before] >= 0 and paths.mean_end[after] >= 0:
            between = along(row(paths.mean_place, before), row(paths.mean_place, after), 1.0)
            return scale(between, 0.5)
    return row(paths.mean_place, p)


@jit
def _classify_drops(shadow, i, j):
    """State of block i, j (rows counted in `paths`) as far as drops go, a pixel of it that sees petal, the
    petal's place in its middle, and how many drops may shade it, listed in the pass: clear without any, sharp
    with a penumbra finer than blocks resolve, else mixed."""
    paths, drops, emitter = shadow.paths, shadow.scene.drops, shadow.emitter
    p = pixel_in(paths, BLOCK, i, j, 0)
    if p < 0:
        return STATE.empty, p, emitter.centre, 0
    o = _middle(paths, i, j, p)
    to = sub(emitter.centre, o)
    far = length(to)
    to = scale(to, 1.0 / far)
    widen = emitter.spread / far
    if not faces_front(paths, p, to, widen):
        return STATE.clear, p, o, 0
    cone = drop_spheres.Cone(o, to, far, _block_reach(paths, o, i, j), widen)
    count = drop_spheres.near_cone(drops, cone, -1, shadow.found.listed, shadow.scene.stack)
    for c in range(count):
        edge = 2.0 * widen * length(sub(row(drops.centre, shadow.found.listed[c]), o))
        if edge < LIMITS.soft_blocks * BLOCK * shadow.pixel_mm:
            return STATE.sharp, p, o, count
    return (STATE.mixed if count > 0 else STATE.clear), p, o, count


@jit
def _share_past_drops(shadow, points, block, p, o, blockers):
    """Share that gets past the drops of the light on the front of the picture's block (row, column), of what
    gets past the petal, seen from its pixel p and the place o.

    Of all the emitter; of what is above the horizon; or, where that is not known, of those of its points that
    the block sees.
    """
    paths, emitter, horizon_map = shadow.paths, shadow.emitter, shadow.cache.horizon
    n = front_normal(paths, p)
    if points == ALL_POINTS:
        return unshaded_by_drops(blockers, emitter, o, n)
    if block_horizon(horizon_map, block, 0, shadow.found.horizon):
        nobody = held(OccluderList(blockers.drops, blockers.listed, 0))
        _, free = sent_over_horizon(nobody, emitter, horizon_map, shadow.found.horizon, 0, o, n)
        _, left = sent_over_horizon(blockers, emitter, horizon_map, shadow.found.horizon, 0, o, n)
        return min(max(left / free, 0.0), 1.0) if free > 0.0 else 1.0
    scramble = key(0, 0, PAIR.light)
    front, free = 0.0, 0.0
    for m in range(POINTS):
        if (points >> np.uint64(m)) & np.uint64(1) == 0:
            continue
        a, b = pair_of(scramble, m)
        y, _ = point_on(emitter, a, b)
        to = sub(y, o)
        far = length(to)
        d = scale(to, 1.0 / far)
        k = max(dot(n, d), 0.0) * max(-dot(d, emitter.out), 0.0) / (far * far)
        front += k
        if k > 0.0 and not shaded(blockers, -1, o, d, far):
            free += k
    return free / front if front > 0.0 else 1.0


@jit
def _cast_solids(shadow, i, j, block):
    """Keep what cards and bodies leave of the light at a pixel of block i, j (rows counted in `paths`)."""
    paths, boards, emitter, drops = shadow.paths, shadow.scene.boards, shadow.emitter, shadow.scene.drops
    p = pixel_in(paths, BLOCK, i, j, 0)
    if p < 0 or boards.frame.shape[0] + boards.body.shape[0] == 0:
        return
    o, n, nobody = row(paths.mean_place, p), front_normal(paths, p), held(OccluderList(drops, drops.order, 0))
    shadow.cache.solid_share[block[0], block[1], 0] = unblocked_share(boards, nobody, emitter, o, n)
    back = unblocked_share(boards, nobody, emitter, o, scale(n, -1.0))
    shadow.cache.solid_share[block[0], block[1], 1] = back


@jit
def _classify_fine_one(shadow, i, j):
    """Fill the cache's fine block j of row i of `paths`."""
    cache, found, a = shadow.cache, shadow.found, _first_block(shadow.paths, BLOCK) + i
    x, y = j * BLOCK + BLOCK // 2, a * BLOCK + BLOCK // 2
    state = common_state(cache.coarse_state, COARSE, x, y, 1)
    points = ALL_POINTS
    _as_classified(state, found)
    if state == STATE.mixed:
        state, points = _classify_by_rays(shadow, i, j)
        if state != STATE.empty:
            _drop_wrong_horizon(shadow, i, j, found.share)
    cache.petal_state[a, j] = state
    for q in range(2):
        cache.petal_share[a, j, q], cache.cells[a, j, q] = found.share[q], found.cells[q]
    cache.drops_state[a, j] = STATE.clear
    cache.drops_share[a, j, 0] = 1.0
    if state == STATE.hidden:
        return
    _cast_solids(shadow, i, j, (a, j))
    by_drops, p, o, count = _classify_drops(shadow, i, j)
    cache.drops_state[a, j] = by_drops
    if by_drops == STATE.mixed:
        blockers = held(OccluderList(shadow.scene.drops, shadow.found.listed, count))
        cache.drops_share[a, j, 0] = _share_past_drops(shadow, points, (a, j), p, o, blockers)


@jit
def _fine_row(paths, scene, pixel_mm, emitter, cache, room, i):
    scene = held(SceneGeometry(scene.petal, scene.drops, scene.boards, room.stack))
    shadow = held(ShadowPass(paths, scene, emitter, cache, pixel_mm, room))
    for j in range(cache.petal_state.shape[1]):
        _classify_fine_one(shadow, i, j)


@jit_allocating
def _classify_fine_row(paths, scene, pixel_mm, lamp, cache, i):
    _fine_row(paths, scene, pixel_mm, held(face_of(lamp)), cache, _room(), i)


@threaded
def classify_fine(begin, end, paths, scene, pixel_mm, lamp, cache):
    """Fill petal_*, cells, drops_* and the horizon of a cache for the rows of `paths`."""
    for i in range(begin, end):
        _classify_fine_row(paths, scene, pixel_mm, lamp, cache, i)
