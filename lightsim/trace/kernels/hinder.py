"""What stands in a light's way: the petal itself, and drops before drops."""

from __future__ import annotations

from math import sqrt

import numpy as np

from lightsim.trace.kernels import drops as drop
from lightsim.trace.kernels import petal as leaf
from lightsim.trace.kernels.faces import face_of
from lightsim.trace.kernels.hold import held
from lightsim.trace.kernels.jit import jit, making, threaded
from lightsim.trace.kernels.vectors import along, basis, dot, in_frame, length, row, scale, sub

CANDIDATES = 24  # drops that are kept as possibly in the way of a light
CLEAR, HIDDEN, MIXED = 0, 1, 2


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


@making
def _look_at_drops_one(petal, drops, foot_face, lamp, state, shades, shade_count, k):
    face = held(face_of(lamp))
    stack = np.empty(192, dtype=np.int32)
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


@threaded
def look_at_drops(begin, end, petal, drops, foot_face, lamp, state, shades, shade_count):
    """Per drop: whether the petal hides the face from it (front, back), and the drops that may shade it."""
    for k in range(begin, end):
        _look_at_drops_one(held(petal), held(drops), foot_face, held(lamp), state, shades, shade_count, k)


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
