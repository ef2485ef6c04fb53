"""What stands in a light's way: the petal itself, and drops before drops."""

from __future__ import annotations

from math import sqrt

import numpy as np

from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.emitters import face_of, face_point, point_on, radiance_at
from lightsim.tracer.kernels.jit import jit, making, threaded
from lightsim.tracer.kernels.sampling import spiral_direction
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, basis, dot, in_frame, length, row, scale, sub, unit

CANDIDATES = 24  # drops that are kept as possibly in the way of a light
CLEAR, HIDDEN, MIXED = 0, 1, 2
PATCHES = 6  # of a face along each side: whether a drop sees all of one, nothing or a part is kept
PLACES = 32  # on the lit side of a drop, from which each patch is looked at
ROUND_OPEN = 0.6  # share of its patches up to which a round face is asked patch by patch
CROWD = 500  # drops from which on each ray has to find out: too many small ones to look at beforehand
LEVEL, MORE_PLACES = 0.05, 128  # cosine between light and drop's normal below which so many places are asked
ASIDE = 0.7548776662466927  # one over the plastic number: points so far apart, and its square, lie evenly


@jit
def face_corner(face, m):
    """The face's centre (0), four points near its corners (1 to 4), four near its edges' middles (5 to 8),
    and the same eight half way to the centre (9 to 16)."""
    reach = 1.0
    if m > 8:
        m, reach = m - 8, 0.5
    k = 0.66 if face.disc else 0.96
    if m == 0:
        sx, sy = 0.0, 0.0
    elif m <= 4:
        sx, sy = (k if m & 1 else -k), (k if m & 2 else -k)
    else:
        k = 0.96
        sx = k if m == 5 else (-k if m == 6 else 0.0)
        sy = k if m == 7 else (-k if m == 8 else 0.0)
    return face_point(face, reach * sx, reach * sy)


@jit
def petal_lets_through(petal, f, o, y, stack):
    """1 when no other part of the petal stands between a point of face f and y, 0 when it does."""
    to = sub(y, o)
    far = length(to)
    d = scale(to, 1.0 / far)
    side = 1.0 if dot(petal_mesh.flat_normal(petal, f), d) > 0.0 else -1.0
    n = petal_mesh.flat_normal(petal, f)
    lift = side * 5e-4 / sqrt(dot(n, n))
    return (
        0
        if petal_mesh.blocked(petal, along(o, n, lift), d, petal_mesh.START, far * (1.0 - 1e-6), stack)
        else 1
    )


@jit
def _sees_patch(petal, drops, face, k, a, b, places, hides, shades, many, stack):
    """Of how many places on the lit side of drop k a point of a face's patch is seen, of how many asked."""
    c, r = row(drops.centre, k), drops.radius[k]
    axis = unit(sub(face.centre, c))
    s, t = basis(axis)
    seen, asked = 0, 0
    for m in range(places):
        d = spiral_direction(m, places, 0.0)
        e = along(c, in_frame(s, t, axis, d), r)
        if drop_spheres.height(drops, k, e) <= 0.0:
            continue
        asked += 1
        x, y = (a + (m * ASIDE) % 1.0) / PATCHES, (b + (m * ASIDE * ASIDE) % 1.0) / PATCHES
        to = sub(face_point(face, 2.0 * x - 1.0, 2.0 * y - 1.0), e)
        far = length(to)
        to = scale(to, 1.0 / far)
        if dot(to, sub(e, c)) <= 0.0 or shaded(drops, shades, many, k, e, to, far):
            continue
        if not hides or not petal_mesh.blocked(petal, e, to, petal_mesh.START, far, stack):
            seen += 1
    return seen, asked


@jit
def _look_at_patches(petal, drops, face, k, places, hides, shades, many, rough, sees, stack):
    """Fill sees (PATCHES**2 + 1,) of drop k: what all patches about one have in common, MIXED for nothing;
    last what all have."""
    every = -1
    for a in range(PATCHES):
        for b in range(PATCHES):
            seen, asked = _sees_patch(petal, drops, face, k, a, b, places, hides, shades, many, stack)
            rough[a * PATCHES + b] = MIXED
            if asked > 0 and (seen == 0 or seen == asked):
                rough[a * PATCHES + b] = CLEAR if seen > 0 else HIDDEN
            found = int(rough[a * PATCHES + b])
            every = found if every < 0 or every == found else MIXED
    sees[PATCHES * PATCHES] = every
    for a in range(PATCHES):
        for b in range(PATCHES):
            common = rough[a * PATCHES + b]
            for i in range(max(a - 1, 0), min(a + 2, PATCHES)):
                for j in range(max(b - 1, 0), min(b + 2, PATCHES)):
                    if rough[i * PATCHES + j] != common:
                        common = MIXED
            sees[a * PATCHES + b] = common


@jit
def sight(sees, k, face, y):
    """What drop k sees of the face's patch about its point y, as far as petal and drops are in the way: CLEAR
    for all, HIDDEN for nothing, MIXED where each ray has to find out."""
    every = sees[k, PATCHES * PATCHES]
    if every != MIXED:
        return every
    m = sub(y, face.centre)
    a = int((dot(m, face.right) / face.half_width + 1.0) * (0.5 * PATCHES))
    b = int((dot(m, face.up) / face.half_height + 1.0) * (0.5 * PATCHES))
    return sees[k, min(max(a, 0), PATCHES - 1) * PATCHES + min(max(b, 0), PATCHES - 1)]


@jit
def _column_open(sees, k, i):
    """How many of the patches in column i of a face drop k may see."""
    many = 0
    for j in range(PATCHES):
        many += 1 if sees[k, i * PATCHES + j] != HIDDEN else 0
    return many


@jit
def point_in_sight(sees, k, face, a, b):
    """The face's point for the numbers a, b in [0, 1), of those patches that drop k may see, and its radiance
    times their area: as `point_on` where it sees something of all."""
    if sees[k, PATCHES * PATCHES] != MIXED:
        return point_on(face, a, b)
    many = 0
    for i in range(PATCHES):
        many += _column_open(sees, k, i)
    share = many / (PATCHES * PATCHES)
    if many == 0 or share >= (ROUND_OPEN if face.disc else 1.0):
        return point_on(face, a, b)
    column, left = 0, a * many
    while column < PATCHES - 1 and left >= _column_open(sees, k, column):
        left -= _column_open(sees, k, column)
        column += 1
    rows = _column_open(sees, k, column)
    across, up, j = left / rows, b * rows, 0
    while j < PATCHES - 1 and (sees[k, column * PATCHES + j] == HIDDEN or up >= 1.0):
        up -= 0.0 if sees[k, column * PATCHES + j] == HIDDEN else 1.0
        j += 1
    x, y = 2.0 * (column + across) / PATCHES - 1.0, 2.0 * (j + up) / PATCHES - 1.0
    p = face_point(face, x, y)
    if face.disc and x * x + y * y > 1.0:
        return p, 0.0
    return p, radiance_at(face, x, y) * 4.0 * face.half_width * face.half_height * share


@making
def _look_at_drops_one(petal, drops, foot_face, lamp, state, shades, shade_count, sees, k):
    face = held(face_of(lamp))
    stack = np.empty(192, dtype=np.int32)
    to = sub(face.centre, row(drops.centre, k))
    far = length(to)
    d = scale(to, 1.0 / far)
    r = drops.radius[k]
    shade_count[k] = drop_spheres.near_cone(
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
                if not petal_mesh.blocked(petal, o, scale(to, 1.0 / far), petal_mesh.START, far, stack):
                    seen += 1
        state[k, side] = CLEAR if seen == asked else (HIDDEN if seen == 0 else MIXED)
    sees[k, :] = state[k, 0]
    if drops.radius.shape[0] > CROWD:
        if shade_count[k] > 0 and state[k, 0] == CLEAR:
            sees[k, :] = MIXED
    elif sees.shape[1] > 1 and (state[k, 0] == MIXED or (state[k, 0] == CLEAR and shade_count[k] > 0)):
        rough = np.empty(PATCHES * PATCHES, dtype=np.uint8)
        hides = state[k, 0] == MIXED
        places = PLACES if dot(d, n) > LEVEL else MORE_PLACES
        _look_at_patches(
            petal, drops, face, k, places, hides, shades[k], shade_count[k], rough, sees[k], stack
        )  # fmt: skip


@threaded
def look_at_drops(begin, end, petal, drops, foot_face, lamp, state, shades, shade_count, sees):
    """Per drop: whether the petal hides the face from it (front, back), the drops that may shade it, and
    what it sees of each patch of the face and of all (nd, PATCHES**2 + 1) uint8, see `sight`, or (nd, 1)
    where that is not asked for."""
    for k in range(begin, end):
        _look_at_drops_one(petal, drops, foot_face, lamp, state, shades, shade_count, sees, k)


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
        if k != skip and drop_spheres.in_the_way(drops, k, o, d, far):
            return True
    return False
