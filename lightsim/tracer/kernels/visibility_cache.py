"""Shadows looked at by blocks of pixels: how much of a face's light petal and drops leave to the dry petal.

The petal is looked at from wide blocks where that will do; which of the face's points it leaves is kept
there, for the share that drops then leave of these. Where a share changes evenly from block to
block it is taken between them; where an edge is sharp each path has to find out for itself.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import drop_spheres, petal_mesh, skyline
from lightsim.tracer.kernels.camera_paths import FRONT
from lightsim.tracer.kernels.drop_shadow import STRIPS, left_of_face
from lightsim.tracer.kernels.drop_visibility import CANDIDATES, face_corner, petal_lets_through, shaded
from lightsim.tracer.kernels.emitters import face_of, point_on
from lightsim.tracer.kernels.jit import jit, making, threaded
from lightsim.tracer.kernels.sampling import LIGHT, key, pair_of
from lightsim.tracer.kernels.skyline import BLOCK
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, cubic, dot, length, row, scale, sub

WIDE = 16  # pixels along the side of a wide block, from which its blocks are told where all is even about it
CLEAR, HIDDEN, MIXED, EMPTY, SHARP = 0, 1, 2, 3, 4
NONE, ALL = np.uint64(0), np.uint64(0xFFFFFFFFFFFFFFFF)
LOOKS = 32  # points of the face looked at from a block in half-shadow, one in each of its cells
CELLS_ACROSS, CELLS_UP = 8, 4
EVERY_CELL = np.uint64(0xFFFFFFFF)
WIDE_LOOKS = 64  # and from a wide block; the first LOOKS of them are the block's
EVEN = 0.3  # most that a share may change over four blocks for it to be taken between them
EVEN_WIDE = 0.12
IN_CELL = ((2, 2), (1, 1), (3, 3), (1, 3), (3, 1))  # quarters of a cell's side down and to the right
GRAZING = 0.3  # cosine that the petal's normals may vary by within a block or a pixel's paths
MISSED = 1  # of the face's points may be on the wrong side of a block's skyline for it to be trusted
DOUBT = 0.2  # a skyline whose share differs by so much from that of a few rays is not trusted
OVER = 0.05  # mm over the mean of a pixel's places from which the petal below is looked for
SOFT_BLOCKS = 2.5  # blocks that the edge of a drop's shadow must be wide for it to be taken between blocks


class Looks(NamedTuple):
    """Of one face, over the whole picture.

    petal (rows, columns) uint8, share (rows, columns, 2): what the petal leaves, the share of the light on
    its front and on its back, -1 on a side that gets none; wide, wide_share: the same by wide blocks.
    wide_seen (rows, columns) uint64: a bit for each point of the face, set where the petal leaves it.
    known (rows, columns, 2), wide_known (rows, columns, 2) uint32: a bit for each of CELLS_ACROSS x CELLS_UP
    cells of the face, set where the petal leaves its point to a block; set where it hides it.
    cast, cast_share (rows, columns, 1): what the drops leave of that, on the front.
    sky (rows, columns, 2, strips) float32: the petal's skyline, see `skyline.look_up`; NaN where it was not
    looked for or does not tell the petal's share. across, sign: how its strips run.
    """

    wide: NDArray
    wide_share: NDArray
    wide_seen: NDArray
    wide_known: NDArray
    petal: NDArray
    share: NDArray
    known: NDArray
    cast: NDArray
    cast_share: NDArray
    sky: NDArray
    across: int
    sign: float


@jit
def pixel_in(paths, size, i, j, q):
    """A pixel that sees petal in cell i, j: the one in its middle (q 0) or in one of its quarters (1 to 4; 1
    and 2 lie opposite), else another; -1 for none."""
    down, right = IN_CELL[q][0] * size // 4, IN_CELL[q][1] * size // 4
    many = size * size
    for n in range(many):
        at = (n * 7 + down * size + right) % many
        y = min(paths.rows - 1, i * size + at // size)
        x = min(paths.width - 1, j * size + at % size)
        if paths.mean_end[y * paths.width + x] >= 0:
            return y * paths.width + x
    return -1


@jit
def agreed(state, size, x, y, reach):
    """What the cells within `reach` cells of pixel x, y agree on; MIXED when they do not."""
    i, j = y // size, x // size
    found = EMPTY
    step = max(1, reach // 3)
    for a in range(i - reach, i + reach + 1, step):
        for b in range(j - reach, j + reach + 1, step):
            if 0 <= a < state.shape[0] and 0 <= b < state.shape[1]:
                s = state[a, b]
                if s in (EMPTY, found):
                    continue
                if found != EMPTY or s in (MIXED, SHARP):
                    return MIXED
                found = s
    return found if found != EMPTY else MIXED


@jit
def even_share(state, share, size, x, y, side, limit):
    """The share at pixel x, y between the cells about it, where it changes by no more than `limit`, else -1:
    a cubic through sixteen cells where all are known, else straight between four."""
    v, u = (y + 0.5) / size - 0.5, (x + 0.5) / size - 0.5
    i = min(max(int(v), 0), max(state.shape[0] - 2, 0))
    j = min(max(int(u), 0), max(state.shape[1] - 2, 0))
    v, u = min(max(v - i, 0.0), 1.0), min(max(u - j, 0.0), 1.0)
    low, high, total, weight, smooth, known = 1.0, 0.0, 0.0, 0.0, 0.0, 0
    for a in range(i - 1, i + 3):
        k = min(max(a, 0), state.shape[0] - 1)
        for b in range(j - 1, j + 3):
            m = min(max(b, 0), state.shape[1] - 1)
            if state[k, m] in (EMPTY, SHARP):
                return -1.0
            one = share[k, m, side]
            if one < 0.0:
                continue
            low, high = min(low, one), max(high, one)
            known += 1
            smooth += cubic(v + i - a) * cubic(u + j - b) * one
            if i <= a <= i + 1 and j <= b <= j + 1:
                w = (1.0 - v if a == i else v) * (1.0 - u if b == j else u)
                total += w * one
                weight += w
    if high - low > limit:
        return -1.0
    if known == 16:
        return min(max(smooth, 0.0), 1.0)
    return total / weight if weight > 0.0 else 0.0


@jit
def place_seen(paths, petal, p):
    """A point of the petal that pixel p sees: on its surface, which the mean of several is not."""
    e = paths.mean_end[p]
    return petal_mesh.place(petal, int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1])


@jit
def surface_at(paths, petal, p, stack):
    """Triangle and point of the petal below or above the mean of the places that pixel p sees."""
    e = paths.mean_end[p]
    f, n = int(paths.petal_face[e]), row(paths.mean_normal, p)
    o = along(row(paths.mean_place, p), n, OVER)
    t, g, _, _ = petal_mesh.nearest(petal, o, scale(n, -1.0), 0.0, 2.0 * OVER, stack)
    return (f, place_seen(paths, petal, p)) if g < 0 else (g, along(o, n, -t))


@jit
def look_at_corners(paths, petal, face, size, i, j, stack):
    """State of the cell i, j (rows counted in `paths`) as far as points near a face's corners and edges tell
    from two of its pixels, of a wide block five, from the first of them such as lie between too, and that."""
    first, last = (1, 3) if size == BLOCK else (0, 5)
    seen, asked, p = 0, 0, -1
    for q in range(first, last):
        other = pixel_in(paths, size, i, j, q)
        if other < 0:
            return EMPTY, p
        p = other if q == first else p
        f, o = int(paths.petal_face[paths.mean_end[other]]), place_seen(paths, petal, other)
        for m in range(17 if q == first else 9):
            if 0 < seen < asked:
                return MIXED, p
            asked += 1
            seen += petal_lets_through(petal, f, o, face_corner(face, m), stack)
    if seen == asked:
        return CLEAR, p
    return (HIDDEN if seen == 0 else MIXED), p


@jit
def _told_by(state, share, known):
    """Fill share (2,) and what is known (2,) of the face's cells as the looks at its corners tell them."""
    share[0] = share[1] = 0.0 if state == HIDDEN else 1.0
    known[0] = NONE if state == HIDDEN else EVERY_CELL
    known[1] = NONE if state == CLEAR else EVERY_CELL


@jit
def front_normal(paths, p):
    """The mean normal at a pixel, toward the petal's front."""
    n = row(paths.mean_normal, p)
    return n if paths.petal_tag[paths.mean_end[p]] & FRONT else scale(n, -1.0)


@jit
def cell_of(a, b):
    """The cell of a face that its point numbered a, b (in 0..1) lies in."""
    return np.uint64(int(a * CELLS_ACROSS) * CELLS_UP + int(b * CELLS_UP))


@jit
def _sky_of(looks, i, j, q, tops):
    """Fill `tops` (strips,) with the skyline of block i, j on side q."""
    for k in range(tops.shape[0]):
        tops[k] = looks.sky[i, j, q, k]
    return tops


@jit
def _look_at_points(petal, face, looks, i, j, f, o, n, many, share, known, tops, stack):
    """Which of evenly spread points of the face the petal leaves to its point o, on triangle f and with the
    front normal n, everywhere the same ones: shadows without grain. Fills the share (2,) of the light on its
    front and its back that they make up; -1 on a side that gets none anyway; and what is known (2,) of the
    face's cells.

    i, j : the block whose skyline is forgotten where too many of the points tell otherwise; i < 0 for none.
    """
    ng = petal_mesh.flat_normal(petal, f)
    scramble = key(0, 0, LIGHT)
    front, back, front_free, back_free = 0.0, 0.0, 0.0, 0.0
    points, left, hidden, wrong = NONE, EVERY_CELL, EVERY_CELL, 0
    for m in range(many):
        a, b = pair_of(scramble, m)
        y, _ = point_on(face, a, b)
        to = sub(y, o)
        far = length(to)
        d = scale(to, 1.0 / far)
        cos_n, cos_y = dot(n, d), -dot(d, face.out)
        if cos_y <= 0.0:
            continue
        agree = (cos_n > 0.0) == (dot(ng, d) > 0.0)
        free = agree and petal_lets_through(petal, f, o, y, stack) == 1
        if i >= 0 and agree:
            q = 0 if cos_n > 0.0 else 1
            told = skyline.hides(face, looks, _sky_of(looks, i, j, q, tops), q, y)
            wrong += 1 if told == (1 if free else 0) else 0
        cell = np.uint64(1) << cell_of(a, b)
        if not free:
            left &= ~cell
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
    share[0] = front_free / front if front > 0.0 else -1.0
    share[1] = back_free / back if back > 0.0 else -1.0
    known[0], known[1] = left, hidden
    if wrong > MISSED:
        skyline.forget(looks.sky, i, j)
    return points


@jit
def _known_about(known, state, i, j, reach):
    """What is known of the face's cells in all blocks within `reach` of block i, j that see petal."""
    left, hidden = EVERY_CELL, EVERY_CELL
    step = max(1, reach // 3)
    for a in range(i - reach, i + reach + 1, step):
        for b in range(j - reach, j + reach + 1, step):
            if 0 <= a < state.shape[0] and 0 <= b < state.shape[1] and state[a, b] != EMPTY:
                left &= np.uint64(known[a, b, 0])
                hidden &= np.uint64(known[a, b, 1])
    return left, hidden


@jit
def known_cells(looks, state, x, y, reach):
    """Cells of the face whose points the petal leaves to all blocks within `reach` blocks of a pixel x, y,
    and such as it hides from all of them, as bits. state: what these agree on."""
    if state != MIXED:
        return (EVERY_CELL, NONE) if state == CLEAR else (NONE, EVERY_CELL)
    return _known_about(looks.known, looks.petal, y // BLOCK, x // BLOCK, reach)


@jit
def _cells_about(a, b):
    """The cells of a face whose middles lie about its point numbered a, b, and whether they are four: at its
    edge they are fewer."""
    u, v = a * CELLS_ACROSS - 0.5, b * CELLS_UP - 0.5
    i, j = int(np.floor(u)), int(np.floor(v))
    cells = NONE
    for k in range(max(i, 0), min(i + 2, CELLS_ACROSS)):
        for m in range(max(j, 0), min(j + 2, CELLS_UP)):
            cells |= np.uint64(1) << np.uint64(k * CELLS_UP + m)
    return cells, 0 <= i < CELLS_ACROSS - 1 and 0 <= j < CELLS_UP - 1


@jit
def seen_of(left, hidden, a, b):
    """Whether the petal lets light through from the face's point numbered a, b: CLEAR, HIDDEN, or MIXED where
    a ray has to find out, since the cells about it are not known alike or the edge of the face, which is
    beyond the points that were looked at, may stand above the petal. left, hidden: see `known_cells`."""
    cells, inside = _cells_about(a, b)
    if left & cells == cells:
        return CLEAR
    return HIDDEN if inside and hidden & cells == cells else MIXED


@making
def _look_widely_one(paths, petal, lamp, looks, i):
    face = held(face_of(lamp))
    stack = np.empty(192, dtype=np.int32)
    share, known, tops = np.empty(2), np.empty(2, dtype=np.uint64), np.empty(skyline.STRIPS)
    top = paths.first // paths.width // WIDE
    for j in range(looks.wide.shape[1]):
        state, p = look_at_corners(paths, petal, face, WIDE, i, j, stack)
        points = NONE if state == HIDDEN else ALL
        _told_by(state, share, known)
        if state == MIXED:
            f, n = int(paths.petal_face[paths.mean_end[p]]), front_normal(paths, p)
            o = place_seen(paths, petal, p)
            points = _look_at_points(
                petal, face, looks, -1, j, f, o, n, WIDE_LOOKS, share, known, tops, stack
            )  # fmt: skip
        looks.wide[top + i, j], looks.wide_seen[top + i, j] = state, points
        for q in range(2):
            looks.wide_share[top + i, j, q], looks.wide_known[top + i, j, q] = share[q], known[q]


@threaded
def look_widely(begin, end, paths, petal, lamp, looks):
    """Fill wide and wide_share of the looks for the rows of `paths`."""
    for i in range(begin, end):
        _look_widely_one(paths, petal, lamp, looks, i)


@jit
def _middle_pixel(paths, i, j):
    """The pixel in the middle of block i, j (rows counted in `paths`), -1 where it sees no petal."""
    y, x = min(i * BLOCK + BLOCK // 2, paths.rows - 1), min(j * BLOCK + BLOCK // 2, paths.width - 1)
    p = y * paths.width + x
    return p if paths.mean_end[p] >= 0 else -1


@jit
def _look_up(paths, petal, face, looks, i, j, before, stack):
    """Fill the skyline of block i, j (rows counted in `paths`), seen from the petal in its middle. Returns
    the pixel there, -1 where it sees no petal, and triangle and point of the petal."""
    p = _middle_pixel(paths, i, j)
    if p < 0:
        return p, 0, face.centre
    f, o = surface_at(paths, petal, p, stack)
    skyline.look_up(petal, face, looks, f, o, before, paths.first // paths.width // BLOCK + i, j, stack)
    return p, f, o


@jit
def _doubt(paths, drops, face, looks, i, j, share, tops):
    """Forget a skyline that tells another share (2,) than rays did: past a curled edge light may come through
    below it."""
    p, a = _middle_pixel(paths, i, j), paths.first // paths.width // BLOCK + i
    if p < 0:
        return
    o, n = row(paths.mean_place, p), front_normal(paths, p)
    for q in range(2):
        if np.isnan(_sky_of(looks, a, j, q, tops)[0]):
            continue
        facing = n if q == 0 else scale(n, -1.0)
        whole, free = skyline.left_of_place(drops, face, looks, tops, o, facing, q, drops.order, 0)
        if whole > 0.0 and share[q] >= 0.0 and not abs(free / whole - share[q]) < DOUBT:
            skyline.forget(looks.sky, a, j)


@jit
def _look_from(paths, petal, face, looks, i, j, share, known, before, tops, stack):
    """State of block i, j (rows counted in `paths`), and which points of the face the petal leaves; fills its
    skyline, its share (2,) and what is known (2,) of the face's cells."""
    state, p = look_at_corners(paths, petal, face, BLOCK, i, j, stack)
    _told_by(state, share, known)
    if state == EMPTY:
        return state, ALL
    middle, f, o = _look_up(paths, petal, face, looks, i, j, before, stack)
    if state != MIXED:
        return state, ALL if state == CLEAR else NONE
    a = paths.first // paths.width // BLOCK + i
    if middle < 0:
        a, f, o = -1, int(paths.petal_face[paths.mean_end[p]]), place_seen(paths, petal, p)
    n = front_normal(paths, p if middle < 0 else middle)
    return MIXED, _look_at_points(petal, face, looks, a, j, f, o, n, LOOKS, share, known, tops, stack)


@making
def _look_closely_one(paths, petal, drops, pixel_mm, lamp, looks, i):
    face = held(face_of(lamp))
    stack = np.empty(192, dtype=np.int32)
    near = np.empty(CANDIDATES, dtype=np.int32)
    share, known = np.empty(2), np.empty(2, dtype=np.uint64)
    before, tops = skyline.none_before(), np.empty(skyline.STRIPS)
    top = paths.first // paths.width // BLOCK
    for j in range(looks.petal.shape[1]):
        x, y = j * BLOCK + BLOCK // 2, (top + i) * BLOCK + BLOCK // 2
        state = agreed(looks.wide, WIDE, x, y, 1)
        share[0] = share[1] = 1.0 if state == CLEAR else 0.0
        points, many, asked = ALL, LOOKS, False
        known[0], known[1] = _known_about(looks.wide_known, looks.wide, y // WIDE, x // WIDE, 1)
        if state == MIXED:
            share[0] = even_share(looks.wide, looks.wide_share, WIDE, x, y, 0, EVEN_WIDE)
            share[1] = even_share(looks.wide, looks.wide_share, WIDE, x, y, 1, EVEN_WIDE)
            many = WIDE_LOOKS
            if share[0] < 0.0 or share[1] < 0.0:
                state, points = _look_from(paths, petal, face, looks, i, j, share, known, before, tops, stack)
                many, asked = LOOKS, state != EMPTY
        looks.petal[top + i, j] = state
        for q in range(2):
            looks.share[top + i, j, q], looks.known[top + i, j, q] = share[q], known[q]
        if asked:
            _doubt(paths, drops, face, looks, i, j, share, tops)
        looks.cast[top + i, j] = CLEAR
        looks.cast_share[top + i, j, 0] = 1.0
        if state == HIDDEN:
            continue
        p, o, count, cast = _drops_before(paths, drops, pixel_mm, face, i, j, near, stack)
        looks.cast[top + i, j] = cast
        if many == WIDE_LOOKS and cast in (MIXED, SHARP):
            _look_up(paths, petal, face, looks, i, j, before, stack)
            _doubt(paths, drops, face, looks, i, j, share, tops)
        if cast == MIXED:
            looks.cast_share[top + i, j, 0] = _left_by_drops(
                paths, drops, face, looks, points, many, top + i, j, p, o, near, count, tops
            )


@threaded
def look_closely(begin, end, paths, petal, drops, pixel_mm, lamp, looks):
    """Fill petal and share, cast and cast_share for the rows of `paths`."""
    for i in range(begin, end):
        _look_closely_one(paths, petal, drops, pixel_mm, lamp, looks, i)


@jit
def faces_front(paths, p, d, spread):
    """Whether light from about direction d, `spread` wide, may fall on the petal's front at pixel p: only
    there can a drop shade it."""
    return dot(front_normal(paths, p), d) > -spread - GRAZING


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
def _bit(points, m):
    return 1.0 if (points >> np.uint64(m)) & np.uint64(1) else 0.0


@jit
def _left_between(looks, x, y, m):
    """Share of the face's point m that the petal leaves at pixel x, y, between the four wide blocks about
    it."""
    v, u = (y + 0.5) / WIDE - 0.5, (x + 0.5) / WIDE - 0.5
    i, j = int(np.floor(v)), int(np.floor(u))
    v, u = v - i, u - j
    total = 0.0
    for a in range(2):
        for b in range(2):
            k = min(max(i + a, 0), looks.wide.shape[0] - 1)
            q = min(max(j + b, 0), looks.wide.shape[1] - 1)
            total += (v if a else 1.0 - v) * (u if b else 1.0 - u) * _bit(looks.wide_seen[k, q], m)
    return total


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
def _drops_before(paths, drops, pixel_mm, face, i, j, near, stack):
    """A pixel that sees petal from block i, j (rows counted in `paths`), the petal's place in the block's
    middle, how many drops may shade it, listed in near, and what is known by that: CLEAR without any, SHARP
    with a half-shadow finer than blocks tell, else MIXED."""
    p = pixel_in(paths, BLOCK, i, j, 0)
    if p < 0:
        return p, face.centre, 0, EMPTY
    o = _middle(paths, i, j, p)
    to = sub(face.centre, o)
    far = length(to)
    to = scale(to, 1.0 / far)
    widen = face.spread / far
    if not faces_front(paths, p, to, widen):
        return p, o, 0, CLEAR
    count = drop_spheres.near_cone(drops, o, to, far, _block_reach(paths, o, i, j), widen, -1, near, stack)
    for c in range(count):
        if 2.0 * widen * length(sub(row(drops.centre, near[c]), o)) < SOFT_BLOCKS * BLOCK * pixel_mm:
            return p, o, count, SHARP
    return p, o, count, MIXED if count > 0 else CLEAR


@jit
def _left_by_drops(paths, drops, face, looks, points, many, i, j, p, o, near, count, tops):
    """Share that the listed drops leave of the light on the front of the picture's block i, j, of what the
    petal leaves of it, seen from its pixel p and the place o: of all the face, of what is above the petal's
    skyline, or where that is not known of the face's first `many` points those in `points` or, with all
    WIDE_LOOKS, in the wide blocks about it."""
    n = front_normal(paths, p)
    if many == LOOKS and points == ALL:
        return left_of_face(drops, face, near, count, o, n, STRIPS, -1.0)
    _sky_of(looks, i, j, 0, tops)
    if not np.isnan(tops.sum()):
        _, free = skyline.left_of_place(drops, face, looks, tops, o, n, 0, near, 0)
        _, left = skyline.left_of_place(drops, face, looks, tops, o, n, 0, near, count)
        return min(max(left / free, 0.0), 1.0) if free > 0.0 else 1.0
    scramble = key(0, 0, LIGHT)
    front, free = 0.0, 0.0
    x_pixel, y_pixel = (paths.first + p) % paths.width, (paths.first + p) // paths.width
    for m in range(many):
        left = _bit(points, m) if many == LOOKS else _left_between(looks, x_pixel, y_pixel, m)
        if left == 0.0:
            continue
        a, b = pair_of(scramble, m)
        y, _ = point_on(face, a, b)
        to = sub(y, o)
        far = length(to)
        d = scale(to, 1.0 / far)
        k = left * max(dot(n, d), 0.0) * max(-dot(d, face.out), 0.0) / (far * far)
        front += k
        if k > 0.0 and not shaded(drops, near, count, -1, o, d, far):
            free += k
    return free / front if front > 0.0 else 1.0


@jit
def petal_share(looks, state, paths, p, spread, pixel_mm):
    """Share of the face's light that the petal leaves at pixel p, on the side seen and the other; -1, -1
    where each path has to find out. state: what the blocks about it agree on; spread: how far the pixel's
    paths lie apart, mm."""
    if state == CLEAR:
        return 1.0, 1.0
    if state == HIDDEN:
        return 0.0, 0.0
    if spread >= BLOCK * pixel_mm:
        return -1.0, -1.0
    x, y = (paths.first + p) % paths.width, (paths.first + p) // paths.width
    seen = 0 if paths.petal_tag[paths.mean_end[p]] & FRONT else 1
    one = even_share(looks.petal, looks.share, BLOCK, x, y, seen, EVEN)
    other = even_share(looks.petal, looks.share, BLOCK, x, y, 1 - seen, EVEN)
    if one < 0.0 or other < 0.0:
        return -1.0, -1.0
    return one, other


@jit
def cast_share(looks, state, paths, p, spread, pixel_mm):
    """Share of the face's light on the petal's front that the drops leave at pixel p, -1 where each path has
    to find out. state, spread: as above."""
    if state == CLEAR:
        return 1.0
    if spread >= BLOCK * pixel_mm:
        return -1.0
    x, y = (paths.first + p) % paths.width, (paths.first + p) // paths.width
    return even_share(looks.cast, looks.cast_share, BLOCK, x, y, 0, EVEN)
