"""Visibility between an emitter and a point: past the petal, and from a drop past petal and other drops."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.box_tree import STACK
from lightsim.tracer.kernels.emitters import face_of, face_point
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, basis, dot, in_frame, length, row, scale, sub

CANDIDATES = 512  # drops at the most that are kept as possibly in the way of a light


class VisibilityStates(NamedTuple):
    """What of a light a drop or a block of pixels sees: all, nothing, some of it. Of blocks also: no petal
    there; a penumbra too fine to interpolate."""

    clear: int = 0
    hidden: int = 1
    mixed: int = 2
    empty: int = 3
    sharp: int = 4


STATE = VisibilityStates()


class DropVisibility(NamedTuple):
    """How drops see an emitter.

    state (nd, 2) uint8 : clear, hidden or mixed, whether the petal hides it from their front and their back.
    shades (nd, CANDIDATES), shade_count (nd,) : the drops that may shade each.
    """

    state: NDArray
    shades: NDArray
    shade_count: NDArray


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
def visibility_from(visibility, k):
    """Whether drop k sees the emitter past petal and drops: clear all of it, hidden nothing, mixed where a
    shadow ray is needed."""
    state = int(visibility.state[k, 0])
    return STATE.mixed if state == STATE.clear and visibility.shade_count[k] > 0 else state


@jit
def _petal_hides(scene, emitter, k, side):
    """clear, hidden or mixed: whether the petal hides an emitter from the front (0) or the back (1) of drop
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
    return STATE.clear if seen == 25 else (STATE.hidden if seen == 0 else STATE.mixed)


@jit_allocating
def _classify_drops_one(petal, drops, lamp, found, k):
    emitter = held(face_of(lamp))
    scene = held(PetalAndDrops(petal, drops, np.empty(STACK, dtype=np.int32)))
    c = row(drops.centre, k)
    to = sub(emitter.centre, c)
    far = length(to)
    d = scale(to, 1.0 / far)
    cone = drop_spheres.Cone(c, d, far, drops.radius[k], emitter.spread / far)
    many = drop_spheres.near_cone(drops, cone, k, found.shades[k], scene.stack)
    found.shade_count[k] = many
    for side in range(2):
        found.state[k, side] = _petal_hides(scene, emitter, k, side)


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
