"""Weak light by way of drops, smooth over many pixels: worked out once for each cell of them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels.camera_paths import FRONT
from lightsim.tracer.kernels.caustic_sampling import no_ways
from lightsim.tracer.kernels.caustics import EVEN, SHARES, gather_list, gathered
from lightsim.tracer.kernels.emitters import face_of
from lightsim.tracer.kernels.jit import jit, making, threaded
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import dot, row, sub, unit

CELL = 8  # pixels along the side of a cell that shares its list of drops


class Near(NamedTuple):
    """What may touch a light's way to the pixels of a block.

    listed, bounds (rows, columns, 2): the drops near each cell of pixels. balls (rows, columns, 4): centre
    and radius of a ball round what its pixels see of the petal, -1 for none. uneven, uneven_many (rows,
    columns): drops of the cell by which light may come that is asked for path by path
    (`near_drops.list_uneven`), from the same bounds on. reach, core, crest, most: see caustics.gather_list.
    state, shades, shade_count, sees: see drop_visibility.look_at_drops. falls, wide, stand: see
    beam_footprint.may_fall."""

    listed: NDArray
    bounds: NDArray
    balls: NDArray
    uneven: NDArray
    uneven_many: NDArray
    reach: NDArray
    core: NDArray
    crest: NDArray
    most: NDArray
    state: NDArray
    shades: NDArray
    shade_count: NDArray
    sees: NDArray
    falls: NDArray
    wide: NDArray
    stand: NDArray


@making
def _weak_light_one(paths, petal, drops, lamp, near, least, pixel_mm, weak, i):
    face = held(face_of(lamp))
    stack = np.empty(192, dtype=np.int32)
    gather = no_ways().found
    for j in range(weak.shape[1]):
        weak[i, j] = -1.0
        y = min(i * CELL + CELL // 2, paths.rows - 1)
        for off in range(CELL):
            x_pixel = min(j * CELL + (CELL // 2 + off) % CELL, paths.width - 1)
            p = y * paths.width + x_pixel
            if paths.mean_end[p] >= 0:
                weak[i, j] = _weak_at(
                    paths, petal, drops, face, near, least, pixel_mm, p, i, j, gather, stack
                )
                break


@jit
def _weak_at(paths, petal, drops, face, near, least, pixel_mm, p, i, j, gather, stack):
    e = paths.mean_end[p]
    x = row(paths.mean_place, p)
    n = row(paths.mean_normal, p)
    if not paths.petal_tag[e] & FRONT:
        return 0.0
    to = unit(sub(face.centre, x))
    floor = least * max(0.1, abs(dot(n, to)))
    first, last = near.bounds[i, j, 0], near.bounds[i, j, 1]
    many = gather_list(near, near.listed, drops, first, last, x, 0.0, to, floor, EVEN, pixel_mm, 1, gather)
    total = 0.0
    for c in range(many):
        k, course = int(gather[c, 0]), int(gather[c, 1])
        fold = 0.05 * drops.radius[k]
        for m in range(face.flux.shape[0]):
            total += gather[c, 3] / SHARES * gathered(
                petal, drops, k, course, x, n, row(face.node, m), face.flux[m], face,
                near, fold, stack,
            )  # fmt: skip
    return total


@threaded
def weak_light(begin, end, paths, petal, drops, lamp, near, least, pixel_mm, weak):
    """Irradiance by the weaker ways over drops, smooth from cell to cell, at each cell of pixels; -1 where
    no petal is."""
    for i in range(begin, end):
        _weak_light_one(paths, petal, drops, lamp, near, least, pixel_mm, weak, i)


@jit
def weak_between(weak, r, x_pixel):
    """The weak light at a pixel, between the four cells about it that see petal."""
    y = (r + 0.5) / CELL - 0.5
    x = (x_pixel + 0.5) / CELL - 0.5
    i, j = int(np.floor(y)), int(np.floor(x))
    u, v = y - i, x - j
    total, share = 0.0, 0.0
    for a in range(2):
        for b in range(2):
            k = min(max(i + a, 0), weak.shape[0] - 1)
            m = min(max(j + b, 0), weak.shape[1] - 1)
            if weak[k, m] >= 0.0:
                w = (u if a else 1.0 - u) * (v if b else 1.0 - v)
                total += w * weak[k, m]
                share += w
    return total / share if share > 0.0 else 0.0
