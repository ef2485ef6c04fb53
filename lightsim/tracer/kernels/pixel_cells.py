"""Cells of pixels: the drops about each, and weak smooth caustics, found once for each cell."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels.camera_paths import FRONT
from lightsim.tracer.kernels.caustic_list import (
    EVEN,
    CausticList,
    CausticQuery,
    caustic_at,
    list_caustics,
    new_caustics,
)
from lightsim.tracer.kernels.caustics import caustic_irradiance
from lightsim.tracer.kernels.drop_visibility import DropVisibility
from lightsim.tracer.kernels.emitters import Face, face_of
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.light_pass import DEEPEST, LightSample, LightSettings, SceneGeometry
from lightsim.tracer.kernels.path_store import Paths
from lightsim.tracer.kernels.petal_mesh import as_point
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import dot, row, sub, unit

CELL = 8  # pixels along the side of a cell that shares its list of drops


class DropLight(NamedTuple):
    """Which drops may send an emitter's light to the pixels of a block, and how they see it.

    listed, bounds (rows, columns, 2): the drops near each cell of pixels. balls (rows, columns, 4): centre
    and radius of a ball round what its pixels see of the petal, -1 for none. uneven, uneven_many (rows,
    columns): drops of the cell whose caustics are sampled path by path (`near_drops.list_uneven`), from the
    same bounds on. reach, core, crest, most: see `caustic_list.list_caustics`. footprint: see
    `beam_tables.BeamFootprint`."""

    listed: NDArray
    bounds: NDArray
    balls: NDArray
    uneven: NDArray
    uneven_many: NDArray
    reach: NDArray
    core: NDArray
    crest: NDArray
    most: NDArray
    visibility: DropVisibility
    footprint: Any


class WeakLightPass(NamedTuple):
    """One emitter's weak caustics on a row of cells: see `LightPass`."""

    paths: Paths
    scene: SceneGeometry
    emitter: Face
    drop_light: DropLight
    settings: LightSettings
    caustics: CausticList


@jit
def _weak_row(light, weak, i):
    """Fill a row of `weak`."""
    paths = light.paths
    for j in range(weak.shape[1]):
        weak[i, j] = -1.0
        y = min(i * CELL + CELL // 2, paths.rows - 1)
        for off in range(CELL):
            x_pixel = min(j * CELL + (CELL // 2 + off) % CELL, paths.width - 1)
            p = y * paths.width + x_pixel
            if paths.mean_end[p] >= 0:
                weak[i, j] = _weak_at(light, p, i, j)
                break


@jit
def _weak_at(light, p, i, j):
    paths, drops, emitter, near = light.paths, light.scene.drops, light.emitter, light.drop_light
    x, n = row(paths.mean_place, p), row(paths.mean_normal, p)
    if not paths.petal_tag[paths.mean_end[p]] & FRONT:
        return 0.0
    to = unit(sub(emitter.centre, x))
    floor = light.settings.least * max(0.1, abs(dot(n, to)))
    first, last = near.bounds[i, j, 0], near.bounds[i, j, 1]
    list_caustics(light, near.listed, first, last, CausticQuery(x, 0.0, to, floor, EVEN, 1))
    total = 0.0
    for c in range(light.caustics.many[0]):
        one, point = caustic_at(light.caustics, c), as_point(-1, x, n)
        fold = 0.05 * drops.radius[one.drop]
        for m in range(emitter.flux.shape[0]):
            sample = LightSample(row(emitter.node, m), emitter.flux[m])
            total += one.share * caustic_irradiance(light, one.drop, one.path_type, point, sample, fold)
    return total


@jit
def _weak_row_in(light, stack, weak, i):
    """The same, with room for walks through the trees."""
    own = held(SceneGeometry(light.scene.petal, light.scene.drops, light.scene.boards, stack))
    _weak_row(
        held(
            WeakLightPass(light.paths, own, light.emitter, light.drop_light, light.settings, light.caustics)
        ),
        weak,
        i,
    )


@jit_allocating
def _weak_light_one(paths, scene, lamp, drop_light, settings, weak, i):
    emitter, stack = held(face_of(lamp)), np.empty(DEEPEST, dtype=np.int32)
    light = WeakLightPass(paths, scene, emitter, drop_light, settings, new_caustics())
    _weak_row_in(light, stack, weak, i)


@threaded
def weak_light(begin, end, paths, scene, lamp, drop_light, settings, weak):
    """Irradiance by the weaker caustics, smooth from cell to cell, at each cell of pixels; -1 where no petal
    is."""
    for i in range(begin, end):
        _weak_light_one(paths, scene, lamp, drop_light, settings, weak, i)


@jit
def weak_between(weak, r, x_pixel):
    """The weak caustics at a pixel, between the four cells about it that see petal."""
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
