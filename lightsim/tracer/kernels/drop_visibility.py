"""Visibility between an emitter and a point: past the petal, and from a drop past petal and other drops."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.emitters import face_of, face_point, point_on, radiance_at
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.sampling import spiral_direction
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, basis, dot, in_frame, length, row, scale, sub, unit

CANDIDATES = 24  # drops that are kept as possibly in the way of a light
CLEAR, HIDDEN, MIXED = 0, 1, 2
PATCHES = 6  # of an emitter along each side: whether a drop sees all of one, nothing or a part is kept
PLACES = 32  # on the lit side of a drop, from which rays go to each patch
ROUND_OPEN = 0.6  # share of its patches up to which a round emitter is sampled patch by patch
CROWD = 500  # drops from which on shadow rays are traced instead: too many small ones to classify
LEVEL, MORE_PLACES = 0.05, 128  # cosine between light and drop's normal below which rays go from so many
ASIDE = 0.7548776662466927  # one over the plastic number: points so far apart, and its square, lie evenly


class DropVisibility(NamedTuple):
    """How drops see an emitter.

    state (nd, 2) uint8 : CLEAR, HIDDEN or MIXED, whether the petal hides it from their front and their
    back. shades (nd, CANDIDATES), shade_count (nd,) : the drops that may shade each. sees (nd, PATCHES**2
    + 1) uint8 : the same by patches of the emitter, drops that shade counted in, and last what all
    patches have in common; (nd, 1) where that is not needed.
    """

    state: NDArray
    shades: NDArray
    shade_count: NDArray
    sees: NDArray


class OccluderList(NamedTuple):
    """Drops that may shade a place: the first `many` of those listed."""

    drops: drop_spheres.Drops
    listed: NDArray
    many: int


class PetalAndDrops(NamedTuple):
    """What may hide an emitter from a drop, with room for a walk through its trees."""

    petal: petal_mesh.Petal
    drops: drop_spheres.Drops
    stack: NDArray


@jit
def emitter_corner(emitter, m):
    """The emitter's centre (0), four points near its corners (1 to 4), four near its edges' middles (5 to 8),
    and the same eight half way to the centre (9 to 16)."""
    reach = 1.0
    if m > 8:
        m, reach = m - 8, 0.5
    k = 0.66 if emitter.disc else 0.96
    if m == 0:
        sx, sy = 0.0, 0.0
    elif m <= 4:
        sx, sy = (k if m & 1 else -k), (k if m & 2 else -k)
    else:
        k = 0.96
        sx = k if m == 5 else (-k if m == 6 else 0.0)
        sy = k if m == 7 else (-k if m == 8 else 0.0)
    return face_point(emitter, reach * sx, reach * sy)


@jit
def petal_visibility(petal, f, o, y, stack):
    """1 when no other part of the petal stands between a point o of triangle f and y, 0 when it does."""
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
def _sees_patch(scene, emitter, k, patch, places, hides, blockers):
    """From how many of some places on the lit side of drop k a point of a patch (column, row) is seen, and
    how many of them lie above the petal. hides: whether the petal may be in the way."""
    drops = scene.drops
    c, r = row(drops.centre, k), drops.radius[k]
    axis = unit(sub(emitter.centre, c))
    s, t = basis(axis)
    seen, above = 0, 0
    for m in range(places):
        d = spiral_direction(m, places, 0.0)
        e = along(c, in_frame(s, t, axis, d), r)
        if drop_spheres.height(drops, k, e) <= 0.0:
            continue
        above += 1
        x, y = (patch[0] + (m * ASIDE) % 1.0) / PATCHES, (patch[1] + (m * ASIDE * ASIDE) % 1.0) / PATCHES
        to = sub(face_point(emitter, 2.0 * x - 1.0, 2.0 * y - 1.0), e)
        far = length(to)
        to = scale(to, 1.0 / far)
        if dot(to, sub(e, c)) <= 0.0 or shaded(blockers, k, e, to, far):
            continue
        if not hides or not petal_mesh.blocked(scene.petal, e, to, petal_mesh.START, far, scene.stack):
            seen += 1
    return seen, above


@jit
def _classify_patches(scene, emitter, k, hides, blockers, rough, sees):
    """Fill sees (PATCHES**2 + 1,) of drop k: what all patches about one have in common, MIXED for nothing;
    last what all have. rough (PATCHES**2,): room."""
    axis = unit(sub(emitter.centre, row(scene.drops.centre, k)))
    places = PLACES if dot(axis, row(scene.drops.normal, k)) > LEVEL else MORE_PLACES
    every = -1
    for a in range(PATCHES):
        for b in range(PATCHES):
            seen, above = _sees_patch(scene, emitter, k, (a, b), places, hides, blockers)
            rough[a * PATCHES + b] = MIXED
            if above > 0 and (seen == 0 or seen == above):
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
def patch_visibility(sees, k, emitter, y):
    """Whether drop k sees the emitter's patch about its point y past petal and drops: CLEAR all of it, HIDDEN
    nothing, MIXED where a shadow ray is needed."""
    every = sees[k, PATCHES * PATCHES]
    if every != MIXED:
        return every
    m = sub(y, emitter.centre)
    a = int((dot(m, emitter.right) / emitter.half_width + 1.0) * (0.5 * PATCHES))
    b = int((dot(m, emitter.up) / emitter.half_height + 1.0) * (0.5 * PATCHES))
    return sees[k, min(max(a, 0), PATCHES - 1) * PATCHES + min(max(b, 0), PATCHES - 1)]


@jit
def _column_open(sees, k, i):
    """How many of the patches in column i of an emitter drop k may see."""
    many = 0
    for j in range(PATCHES):
        many += 1 if sees[k, i * PATCHES + j] != HIDDEN else 0
    return many


@jit
def point_in_sight(sees, k, emitter, a, b):
    """The emitter's point for the numbers a, b in [0, 1), of those patches that drop k may see, and its
    radiance times their area: as `point_on` where it sees something of all."""
    if sees[k, PATCHES * PATCHES] != MIXED:
        return point_on(emitter, a, b)
    many = 0
    for i in range(PATCHES):
        many += _column_open(sees, k, i)
    share = many / (PATCHES * PATCHES)
    if many == 0 or share >= (ROUND_OPEN if emitter.disc else 1.0):
        return point_on(emitter, a, b)
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
    p = face_point(emitter, x, y)
    if emitter.disc and x * x + y * y > 1.0:
        return p, 0.0
    return p, radiance_at(emitter, x, y) * 4.0 * emitter.half_width * emitter.half_height * share


@jit
def _petal_hides(scene, emitter, k, side):
    """CLEAR, HIDDEN or MIXED: whether the petal hides an emitter from the front (0) or the back (1) of drop
    k, by rays from its foot and rim to centre and corners."""
    drops, r = scene.drops, scene.drops.radius[k]
    n = row(drops.normal, k)
    s, t = basis(n)
    seen = 0
    for a in range(5):
        lift = 1.0 if side == 0 else -0.02
        offset = (0.0, 0.0, lift * r) if a == 0 else _rim(a, r, 0.3 * r if side == 0 else -0.02 * r)
        o = along(in_frame(s, t, n, offset), row(drops.foot, k), 1.0)
        for m in range(5):
            to = sub(emitter_corner(emitter, m), o)
            far = length(to)
            to = scale(to, 1.0 / far)
            if not petal_mesh.blocked(scene.petal, o, to, petal_mesh.START, far, scene.stack):
                seen += 1
    return CLEAR if seen == 25 else (HIDDEN if seen == 0 else MIXED)


@jit_allocating
def _classify_drops_one(petal, drops, lamp, found, k):
    emitter = held(face_of(lamp))
    scene = held(PetalAndDrops(petal, drops, np.empty(192, dtype=np.int32)))
    c = row(drops.centre, k)
    to = sub(emitter.centre, c)
    far = length(to)
    d = scale(to, 1.0 / far)
    cone = drop_spheres.Cone(c, d, far, drops.radius[k], emitter.spread / far)
    many = drop_spheres.near_cone(drops, cone, k, found.shades[k], scene.stack)
    found.shade_count[k] = many
    for side in range(2):
        found.state[k, side] = _petal_hides(scene, emitter, k, side)
    state = found.state[k, 0]
    found.sees[k, :] = state
    if drops.radius.shape[0] > CROWD:
        if many > 0 and state == CLEAR:
            found.sees[k, :] = MIXED
    elif found.sees.shape[1] > 1 and (state == MIXED or (state == CLEAR and many > 0)):
        rough = np.empty(PATCHES * PATCHES, dtype=np.uint8)
        blockers = held(OccluderList(drops, found.shades[k], many))
        _classify_patches(scene, emitter, k, state == MIXED, blockers, rough, found.sees[k])


@threaded
def classify_drops(begin, end, petal, drops, lamp, found):
    """Fill a `DropVisibility`."""
    for k in range(begin, end):
        _classify_drops_one(petal, drops, lamp, found, k)


@jit
def _rim(a, r, lift):
    x = r if a == 1 else (-r if a == 2 else 0.0)
    y = r if a == 3 else (-r if a == 4 else 0.0)
    return x, y, lift


@jit
def shaded(blockers, skip, o, d, far):
    """Whether one of the listed drops but `skip` stands in the way of a ray."""
    for c in range(blockers.many):
        k = blockers.listed[c]
        if k != skip and drop_spheres.in_the_way(blockers.drops, k, o, d, far):
            return True
    return False
