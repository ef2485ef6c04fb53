"""What stands in a light's way: the petal itself, looked at by blocks of pixels, and drops before drops."""

from __future__ import annotations

from math import sqrt

import numba
import numpy as np

from lightsim.trace.kernels import drops as drop
from lightsim.trace.kernels import petal as leaf
from lightsim.trace.kernels.camera import FRONT
from lightsim.trace.kernels.faces import face_of, point_on
from lightsim.trace.kernels.jit import jit, making, parallel
from lightsim.trace.kernels.sampling import LIGHT, key, pair_of
from lightsim.trace.kernels.vectors import along, basis, dot, in_frame, length, row, scale, sub

CANDIDATES = 24  # drops that are kept as possibly in the way of a light
CLEAR, HIDDEN, MIXED, EMPTY, SHARP = 0, 1, 2, 3, 4
GRAZING = 0.3  # cosine that the petal's normals may vary by within a block or a pixel's paths
SOFT_BLOCKS = 2.5  # blocks that the edge of a drop's shadow must be wide for it to be taken between blocks
LOOKS = 32  # points of the face looked at from a block in half-shadow
EVEN = 0.3  # most that the free share may change over four blocks for it to be taken between them
BLOCK = 4  # pixels along the side of a block that shares its look at the petal's own shadow


@jit
def face_corner(face, m):
    """The face's centre (0), four points near its corners (1 to 4), four near its edges' middles (5 to 8)."""
    k = 0.66 if face.disc else 0.96
    if m == 0:
        sx, sy = 0.0, 0.0
    elif m <= 4:
        sx, sy = (k if m & 1 else -k), (k if m & 2 else -k)
    else:
        k = 0.96
        sx = k if m == 5 else (-k if m == 6 else 0.0)
        sy = k if m == 7 else (-k if m == 8 else 0.0)
    return along(along(face.centre, face.right, sx * face.half_width), face.up, sy * face.half_height)


@jit
def petal_lets_through(petal, f, o, y, stack):
    """1 when no other part of the petal stands between a point of face f and y, 0 when it does."""
    to = sub(y, o)
    far = length(to)
    d = scale(to, 1.0 / far)
    side = 1.0 if dot(leaf.flat_normal(petal, f), d) > 0.0 else -1.0
    n = leaf.flat_normal(petal, f)
    lift = side * 5e-4 / sqrt(dot(n, n))
    return 0 if leaf.blocked(petal, along(o, n, lift), d, leaf.START, far * (1.0 - 1e-6), stack) else 1


@jit
def _block_pixel(paths, i, j, q):
    """The pixel of block i, j to look from, the first or the second of two that see petal; -1 for none."""
    for n in range(BLOCK * BLOCK):
        at = (n * 7 + (5 if q == 0 else 14)) % (BLOCK * BLOCK)
        y = min(paths.rows - 1, i * BLOCK + at // BLOCK)
        x = min(paths.width - 1, j * BLOCK + at % BLOCK)
        if paths.mean_end[y * paths.width + x] >= 0:
            return y * paths.width + x
    return -1


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
def faces_front(paths, p, d, spread):
    """Whether light from about direction d, `spread` wide, may fall on the petal's front at pixel p: only
    there can a drop shade it."""
    n = row(paths.mean_normal, p)
    side = 1.0 if paths.leaf_tag[paths.mean_end[p]] & FRONT else -1.0
    return side * dot(n, d) > -spread - GRAZING


@making
def _look_at_blocks_one(paths, petal, drops, casting, pixel_mm, lamp, state, share, i):
    face = face_of(lamp)
    stack = np.empty(96, dtype=np.int32)
    near = np.empty(CANDIDATES, dtype=np.int32)
    for j in range(state.shape[1]):
        seen, asked, last = 0, 0, -1
        for q in range(2):
            p = _block_pixel(paths, i, j, q)
            if p < 0:
                continue
            last = p
            f = paths.leaf_face[paths.mean_end[p]]
            o = row(paths.mean_place, p)
            for m in range(9):
                asked += 1
                seen += petal_lets_through(petal, f, o, face_corner(face, m), stack)
        state[i, j] = EMPTY
        if asked == 0:
            continue
        state[i, j] = CLEAR if seen == asked else (HIDDEN if seen == 0 else MIXED)
        share[i, j, 0] = share[i, j, 1] = 0.0 if seen == 0 else 1.0
        if seen == 0:
            continue
        f = paths.leaf_face[paths.mean_end[last]]
        o = row(paths.mean_place, last)
        count = 0
        if casting:
            to = sub(face.centre, o)
            far = length(to)
            d = scale(to, 1.0 / far)
            if faces_front(paths, last, d, face.spread / far):
                count = drop.near_cone(
                    drops, o, d, far, _block_reach(paths, o, i, j), face.spread / far, -1, near, stack
                )
            if _sharp(drops, near, count, o, face.spread / far, pixel_mm):
                state[i, j] = SHARP
                continue
        if seen < asked or count > 0:
            n = row(paths.mean_normal, last)
            n = n if paths.leaf_tag[paths.mean_end[last]] & FRONT else scale(n, -1.0)
            scramble = key(0, 0, LIGHT)  # the same points everywhere: shadows without grain
            share[i, j, 0], share[i, j, 1] = _share_seen(
                petal, drops, near, count, face, f, o, n, seen < asked, scramble, stack
            )
            state[i, j] = MIXED


@jit
def _sharp(drops, near, count, o, widen, pixel_mm):
    """Whether one of the drops is so near to o that the edge of its shadow there is too sharp for blocks."""
    sharp = False
    for c in range(count):
        far = length(sub(row(drops.centre, near[c]), o))
        sharp = sharp or 2.0 * widen * far < SOFT_BLOCKS * BLOCK * pixel_mm
    return sharp


@jit
def _share_seen(petal, drops, near, count, face, f, o, n, petal_too, scramble, stack):
    """Share of the face's light on the front and on the back of the petal at o that petal and drops leave,
    from LOOKS evenly spread points of it; -1 on a side that gets none anyway."""
    ng = leaf.flat_normal(petal, f)
    front, back, front_free, back_free = 0.0, 0.0, 0.0, 0.0
    for m in range(LOOKS):
        a, b = pair_of(scramble, m)
        y, _ = point_on(face, a, b)
        to = sub(y, o)
        far = length(to)
        d = scale(to, 1.0 / far)
        cos_n, cos_y = dot(n, d), -dot(d, face.out)
        if cos_y <= 0.0:
            continue
        free = (cos_n > 0.0) == (dot(ng, d) > 0.0)
        free = free and (cos_n <= 0.0 or not shaded(drops, near, count, -1, o, d, far))
        if free and petal_too:
            free = petal_lets_through(petal, f, o, y, stack) == 1
        k = abs(cos_n) * cos_y
        if cos_n > 0.0:
            front += k
            front_free += k if free else 0.0
        else:
            back += k
            back_free += k if free else 0.0
    return (front_free / front if front > 0.0 else -1.0), (back_free / back if back > 0.0 else -1.0)


@parallel
def look_at_blocks(paths, petal, drops, casting, pixel_mm, lamp, state, share):
    """Whether petal and drops (these when `casting`) hide the face from each block of pixels: state (block
    rows, block columns) uint8, and the share of its light that gets to the petal's front and back (block
    rows, block columns, 2) float32, -1 where it does not shine on that side.
    """
    for i in numba.prange(state.shape[0]):
        _look_at_blocks_one(paths, petal, drops, casting, pixel_mm, lamp, state, share, i)


@jit
def even_share(state, share, paths, p, side):
    """The free share of the face's light on one side (0 front, 1 back) of the petal at a pixel between four
    blocks, where it changes evenly, else -1."""
    pixel = paths.first + p
    y = (pixel // paths.width + 0.5) / BLOCK - 0.5
    x = (pixel % paths.width + 0.5) / BLOCK - 0.5
    i = min(max(int(y), 0), max(state.shape[0] - 2, 0))
    j = min(max(int(x), 0), max(state.shape[1] - 2, 0))
    u, v = min(max(y - i, 0.0), 1.0), min(max(x - j, 0.0), 1.0)
    low, high, total, weight = 1.0, 0.0, 0.0, 0.0
    for a in range(max(i - 1, 0), min(i + 3, state.shape[0])):
        for b in range(max(j - 1, 0), min(j + 3, state.shape[1])):
            if state[a, b] == EMPTY or state[a, b] == SHARP:
                return -1.0
            one = share[a, b, side]
            if one < 0.0:
                continue
            low, high = min(low, one), max(high, one)
            if i <= a <= i + 1 and j <= b <= j + 1:
                w = (1.0 - u if a == i else u) * (1.0 - v if b == j else v)
                total += w * one
                weight += w
    if high - low > EVEN:
        return -1.0
    return total / weight if weight > 0.0 else 0.0


@jit
def block_state(state, paths, p, reach_blocks):
    """What the blocks around a pixel agree on; MIXED when they do not."""
    pixel = paths.first + p
    i, j = pixel // paths.width // BLOCK, pixel % paths.width // BLOCK
    found = EMPTY
    step = max(1, reach_blocks // 3)
    for a in range(-reach_blocks, reach_blocks + 1, step):
        for b in range(-reach_blocks, reach_blocks + 1, step):
            y, x = i + a, j + b
            if 0 <= y < state.shape[0] and 0 <= x < state.shape[1]:
                s = state[y, x]
                if s in (EMPTY, found):
                    continue
                if found != EMPTY or s in (MIXED, SHARP):
                    return MIXED
                found = s
    return found if found != EMPTY else MIXED


@making
def _look_at_drops_one(petal, drops, foot_face, lamp, state, shades, shade_count, k):
    face = face_of(lamp)
    stack = np.empty(96, dtype=np.int32)
    to = sub(face.centre, row(drops.centre, k))
    far = length(to)
    d = scale(to, 1.0 / far)
    r = drops.radius[k]
    shade_count[k] = drop.near_cone(
        drops, row(drops.centre, k), d, far, r, face.spread / far, k, shades[k], stack
    )
    n = row(drops.normal, k)
    s, t = basis(n)
    for side in range(2):
        seen, asked = 0, 0
        for a in range(5):
            lift = 1.0 if side == 0 else -0.02
            offset = (0.0, 0.0, lift * r) if a == 0 else _rim(a, r, 0.3 * r if side == 0 else -0.02 * r)
            o = along(in_frame(s, t, n, offset), row(drops.foot, k), 1.0)
            for m in range(5):
                y = face_corner(face, m)
                to = sub(y, o)
                far = length(to)
                asked += 1
                if not leaf.blocked(petal, o, scale(to, 1.0 / far), leaf.START, far, stack):
                    seen += 1
        state[k, side] = CLEAR if seen == asked else (HIDDEN if seen == 0 else MIXED)


@parallel
def look_at_drops(petal, drops, foot_face, lamp, state, shades, shade_count):
    """Per drop: whether the petal hides the face from it (front, back), and the drops that may shade it."""
    for k in numba.prange(drops.radius.shape[0]):
        _look_at_drops_one(petal, drops, foot_face, lamp, state, shades, shade_count, k)


@jit
def _rim(a, r, lift):
    x = r if a == 1 else (-r if a == 2 else 0.0)
    y = r if a == 3 else (-r if a == 4 else 0.0)
    return x, y, lift


@jit
def shaded(drops, listed, count, skip, o, d, far):
    """Whether one of the listed drops stands in the way."""
    for c in range(count):
        k = listed[c]
        if k != skip and drop.in_the_way(drops, k, o, d, far):
            return True
    return False
