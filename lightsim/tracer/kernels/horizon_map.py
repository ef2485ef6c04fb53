"""The petal's horizon before an emitter from place to place in the picture, and the horizon between them.

Where the petal's own shadow changes quickly over the picture its horizon does not: it rises and sinks
evenly from place to place. So it is found for blocks of pixels, and each pixel takes it from between
them: that gives the petal's penumbra strip by strip and without grain (`petal_penumbra`).
"""

from __future__ import annotations

from math import inf, nan, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.horizon import ACROSS, STRIPS, fan_of, hidden_up_to, horizon_at, strips_of
from lightsim.tracer.kernels.jit import jit, jit_allocating
from lightsim.tracer.kernels.vectors import along, cubic, dot, scale, sub

BLOCK = 4  # pixels along the side of a block


class HorizonLimits(NamedTuple):
    """When a horizon is found, kept and interpolated; lengths in half lengths of a strip."""

    lift_mm: float = 0.0005  # off the surface from which it is looked for
    past: float = 1.25  # how far beyond the strip it is looked for, since it sinks and rises past the ends
    near: float = 0.1  # below a neighbour's horizon from which it is looked for first
    leaning: float = 0.05  # least part of a strip's way that must lead away from the surface
    close: float = 0.1  # about the horizon within which it does not decide whether a point is hidden
    apart: float = 0.4  # most that blocks may differ by where no cubic can be laid through sixteen
    known: float = 0.5  # least weight of blocks where it is known
    uneven: float = 0.1  # most that a straight line and a cubic between blocks may differ


LIMITS = HorizonLimits()


class HorizonMap(NamedTuple):
    """elevation (rows, columns, 2, STRIPS) float32: the horizon of each block's front and back, half lengths
    from the strips' middles, -1.25 to 1.25; NaN where it was not looked for, strips do not lead up from the
    surface, or shadow rays contradict it. across: 1 for strips along the emitter's width, 0 along its height;
    sign: which way they lead away from the petal's front."""

    elevation: NDArray
    across: int
    sign: float


@jit_allocating
def no_neighbour():
    """No horizon of a neighbour known."""
    return np.full((2, STRIPS), inf)


@jit
def find_horizon(scene, emitter, horizon_map, point, block, before):
    """Find the horizon from a point of the petal, for its front and its back, and keep it in the map's block
    (row, column). before (2, STRIPS): where a neighbour's was; kept up to date."""
    ng = petal_mesh.flat_normal(scene.petal, point.face)
    ng = scale(ng, 1.0 / sqrt(dot(ng, ng)))
    for q in range(2):
        way, half, aside, high = strips_of(emitter, horizon_map, q)
        facing = ng if q == 0 else scale(ng, -1.0)
        lean, o = dot(facing, way), along(point.x, facing, LIMITS.lift_mm)
        if lean < LIMITS.leaning:
            continue
        shift = 0.0
        for i in range(STRIPS):
            start = along(sub(emitter.centre, o), aside, ACROSS.place[i] * high)
            begin, end = max(-LIMITS.past * half, -dot(facing, start) / lean), LIMITS.past * half
            top = end
            if begin < end:
                hint = (before[q, i] + shift - LIMITS.near) * half
                top = _hidden_about(hint, scene, fan_of(o, start, way), begin, end)
            shift = top / half - before[q, i]
            before[q, i] = horizon_map.elevation[block[0], block[1], q, i] = top / half


@jit
def _hidden_about(hint, scene, fan, begin, end):
    """As `hidden_up_to`; looked for from `hint` on first: the less may be found, the shorter is the walk."""
    if begin < hint < end:
        top = hidden_up_to(scene.petal, fan, hint, end, scene.stack)
        if top > hint:
            return top
        end = hint
    return hidden_up_to(scene.petal, fan, begin, end, scene.stack)


@jit
def block_horizon(horizon_map, block, q, horizon):
    """Fill `horizon` (STRIPS,) with that of a block (row, column) on side q; whether it is known."""
    for k in range(STRIPS):
        horizon[k] = horizon_map.elevation[block[0], block[1], q, k]
    return not np.isnan(horizon[0])


@jit
def hidden_by_horizon(emitter, horizon_map, horizon, q, y):
    """Whether the emitter's point y lies below a horizon (STRIPS,) of side q: 1 or 0; -1 close to it or where
    it is not known."""
    way, half, aside, high = strips_of(emitter, horizon_map, q)
    off = sub(y, emitter.centre)
    over = dot(off, way) / half - horizon_at(horizon, dot(off, aside) / high)
    if not abs(over) > LIMITS.close:
        return -1
    return 1 if over < 0.0 else 0


@jit
def drop_horizon(horizon_map, block):
    """Mark the horizon of a block (row, column) as not known."""
    for q in range(2):
        for i in range(STRIPS):
            horizon_map.elevation[block[0], block[1], q, i] = nan


@jit
def horizon_between(elevation, x, y, q, horizon):
    """Fill `horizon` (STRIPS,) with that of side q at a place x, y (pixels), half lengths: by a cubic through
    sixteen blocks, else straight between four. False where it is not known or changes unevenly."""
    u, v = (x - 0.5 - BLOCK // 2) / BLOCK, (y - 0.5 - BLOCK // 2) / BLOCK
    rows, columns = elevation.shape[0], elevation.shape[1]
    if u < 0.0 or v < 0.0 or u > columns - 1 or v > rows - 1:
        return False
    b, a = min(int(u), max(columns - 2, 0)), min(int(v), max(rows - 2, 0))
    u, v = u - b, v - a
    for i in range(STRIPS):
        smooth, straight, known, low, high = 0.0, 0.0, 0.0, inf, -inf
        for m in range(-1, 3):
            for k in range(-1, 3):
                one = elevation[min(max(a + m, 0), rows - 1), min(max(b + k, 0), columns - 1), q, i]
                smooth += cubic(v - m) * cubic(u - k) * one
                if 0 <= m <= 1 and 0 <= k <= 1 and not np.isnan(one):
                    weight = (v if m else 1.0 - v) * (u if k else 1.0 - u)
                    straight, known = straight + weight * one, known + weight
                    low, high = min(low, one), max(high, one)
        if known < LIMITS.known or (np.isnan(smooth) and high - low > LIMITS.apart):
            return False
        straight /= known
        if abs(smooth - straight) > LIMITS.uneven:
            return False
        horizon[i] = straight if np.isnan(smooth) else smooth
    return True
