"""Cached visibility of an emitter from blocks of pixels: what petal and drops hide of it from the dry
petal.

Coarse blocks of 16 x 16 pixels, and fine ones of 4 x 4 where these do not tell, are clear, hidden or
mixed (`visibility_classification`). A share that changes evenly from block to block is interpolated
between them; where an edge is sharp each path traces a shadow ray of its own.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels.drop_visibility import STATE
from lightsim.tracer.kernels.horizon_map import BLOCK, HorizonMap
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.vectors import cubic

COARSE = 16  # pixels along the side of a coarse block


class EmitterCells(NamedTuple):
    """The cells of an emitter whose visibility is kept by itself, a bit for each."""

    across: int = 8
    up: int = 4
    none: np.uint64 = np.uint64(0)
    every: np.uint64 = np.uint64(0xFFFFFFFF)


CELLS = EmitterCells()
EVEN = 0.3  # most that a share may change over four blocks for it to be interpolated


class VisibilityCache(NamedTuple):
    """Of one emitter, over the whole picture.

    coarse_state (rows, columns) uint8, of coarse blocks. petal_state (rows, columns) uint8, petal_share
    (rows, columns, 2) : what gets past the petal to its front and its back, -1 on a side that gets none.
    cells (rows, columns, 2) uint32 : a bit for each of across x up cells of the emitter, set
    where its point is seen from a block; set where the petal hides it. drops_state, drops_share (rows,
    columns, 1) : what of that gets past the drops, on the front. solid_share (rows, columns, 2) : what gets
    past cards and bodies to front and back, -1 where that is not known. horizon : see `HorizonMap`.
    """

    coarse_state: NDArray
    petal_state: NDArray
    petal_share: NDArray
    cells: NDArray
    drops_state: NDArray
    drops_share: NDArray
    solid_share: NDArray
    horizon: HorizonMap


@jit
def common_state(state, size, x, y, reach):
    """State that the blocks within `reach` blocks of pixel x, y have in common, mixed for none. size: of a
    block, pixels."""
    i, j = y // size, x // size
    found = STATE.empty
    step = max(1, reach // 3)
    for a in range(i - reach, i + reach + 1, step):
        for b in range(j - reach, j + reach + 1, step):
            if 0 <= a < state.shape[0] and 0 <= b < state.shape[1]:
                s = state[a, b]
                if s in (STATE.empty, found):
                    continue
                if found != STATE.empty or s in (STATE.mixed, STATE.sharp):
                    return STATE.mixed
                found = s
    return found if found != STATE.empty else STATE.mixed


@jit
def interpolated_share(state, share, size, x, y, side, limit):
    """The share at pixel x, y between the blocks about it, where it changes by no more than `limit`, else -1:
    a cubic through sixteen blocks where all are known, else bilinear between four."""
    v, u = (y + 0.5) / size - 0.5, (x + 0.5) / size - 0.5
    i = min(max(int(v), 0), max(state.shape[0] - 2, 0))
    j = min(max(int(u), 0), max(state.shape[1] - 2, 0))
    v, u = min(max(v - i, 0.0), 1.0), min(max(u - j, 0.0), 1.0)
    low, high, total, weight, smooth, known = 1.0, 0.0, 0.0, 0.0, 0.0, 0
    for a in range(i - 1, i + 3):
        k = min(max(a, 0), state.shape[0] - 1)
        for b in range(j - 1, j + 3):
            m = min(max(b, 0), state.shape[1] - 1)
            if state[k, m] in (STATE.empty, STATE.sharp):
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
def cells_about(cells, state, i, j, reach):
    """Cells of the emitter that are seen, and such as are hidden, from all blocks within `reach` of block
    i, j that see petal."""
    clear, hidden = CELLS.every, CELLS.every
    step = max(1, reach // 3)
    for a in range(i - reach, i + reach + 1, step):
        for b in range(j - reach, j + reach + 1, step):
            if 0 <= a < state.shape[0] and 0 <= b < state.shape[1] and state[a, b] != STATE.empty:
                clear &= np.uint64(cells[a, b, 0])
                hidden &= np.uint64(cells[a, b, 1])
    return clear, hidden


@jit
def cells_of_pixel(cache, state, x, y, reach):
    """Cells of the emitter that the petal hides from none of the blocks within `reach` blocks of a pixel
    x, y, and such as it hides from all of them, as bits. state: what these have in common."""
    if state != STATE.mixed:
        return (CELLS.every, CELLS.none) if state == STATE.clear else (CELLS.none, CELLS.every)
    return cells_about(cache.cells, cache.petal_state, y // BLOCK, x // BLOCK, reach + 1)


@jit
def _cells_near(a, b):
    """The cells of an emitter whose centres lie about its point numbered a, b, and whether they are four: at
    its edge they are fewer."""
    u, v = a * CELLS.across - 0.5, b * CELLS.up - 0.5
    i, j = int(np.floor(u)), int(np.floor(v))
    cells = CELLS.none
    for k in range(max(i, 0), min(i + 2, CELLS.across)):
        for m in range(max(j, 0), min(j + 2, CELLS.up)):
            cells |= np.uint64(1) << np.uint64(k * CELLS.up + m)
    return cells, 0 <= i < CELLS.across - 1 and 0 <= j < CELLS.up - 1


@jit
def sample_visibility(cells, a, b):
    """Cached visibility of the emitter's point numbered a, b past the petal: clear or hidden if the four
    cells around it agree, mixed (trace a ray) if they differ or it lies outside the outermost cell
    centres. cells: see `cells_of_pixel`."""
    about, inside = _cells_near(a, b)
    if cells[0] & about == about:
        return STATE.clear
    return STATE.hidden if inside and cells[1] & about == about else STATE.mixed


@jit
def _between_blocks(cache, share, light, pixel):
    """The share of both sides at a pixel, the side seen first, from the blocks about it; -1 where it does not
    change evenly."""
    at, width = light.paths.first + pixel.number, light.paths.width
    x, y, seen = at % width, at // width, 0 if pixel.front else 1
    one = interpolated_share(cache.petal_state, share, BLOCK, x, y, seen, EVEN)
    return one, interpolated_share(cache.petal_state, share, BLOCK, x, y, 1 - seen, EVEN)


@jit
def petal_shares(cache, state, light, pixel):
    """Share of the emitter's light that gets past the petal at a pixel, on the side seen and the other;
    -1, -1 where each path needs a shadow ray. state: what the blocks about it have in common."""
    if state == STATE.clear:
        return 1.0, 1.0
    if state == STATE.hidden:
        return 0.0, 0.0
    if pixel.spread >= BLOCK * light.settings.pixel_mm:
        return -1.0, -1.0
    one, other = _between_blocks(cache, cache.petal_share, light, pixel)
    return (-1.0, -1.0) if min(one, other) < 0.0 else (one, other)


@jit
def drops_share(cache, state, light, pixel):
    """Share of the emitter's light on the petal's front that gets past the drops at a pixel, -1 where each
    path has to find it. state: as above."""
    if state == STATE.clear:
        return 1.0
    if pixel.spread >= BLOCK * light.settings.pixel_mm:
        return -1.0
    at, width = light.paths.first + pixel.number, light.paths.width
    return interpolated_share(cache.drops_state, cache.drops_share, BLOCK, at % width, at // width, 0, EVEN)


@jit
def solid_shares(cache, light, pixel):
    """Share of the emitter's light that gets past cards and bodies at a pixel, on the side seen and the
    other; -1 where it does not change evenly."""
    return _between_blocks(cache, cache.solid_share, light, pixel)
