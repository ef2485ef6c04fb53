"""Adds the kept soft light to the picture: the dry petal's from the vertices, the wet bases' from grids."""

from __future__ import annotations

from math import pi
from typing import NamedTuple

from numpy.typing import NDArray

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.camera_paths import FRONT, PART
from lightsim.tracer.kernels.drop_grids import round_drop
from lightsim.tracer.kernels.gloss import mirrored_share
from lightsim.tracer.kernels.jit import jit, threaded
from lightsim.tracer.kernels.near_transfer import colour_at
from lightsim.tracer.kernels.path_store import put, put_part
from lightsim.tracer.kernels.pixel_cells import CELL
from lightsim.tracer.kernels.vectors import along, dot, row, sub, times, unit


class SoftLight(NamedTuple):
    """Soft irradiance of one layer: vertex (nv, 2, 3) at the vertices, base (nd, g, g, 3) on the bases, glow
    (nd, rings, spokes, 3) round the drops."""

    vertex: NDArray
    base: NDArray
    glow: NDArray


@jit
def _add_soft_one(paths, petal, drops, rims, soft, near, bounds, round_drops, lens_place, parts, r):
    lens_at = lens_place[0], lens_place[1], lens_place[2]
    for x_pixel in range(paths.width):
        p = r * paths.width + x_pixel
        if paths.whole[p] == 1:
            e = paths.mean_end[p]
            rho, tau = row(paths.mean_reflectance, p), row(paths.mean_transmittance, p)
            n, x = row(paths.mean_normal, p), row(paths.mean_place, p)
            colour = _petal_indirect(paths, petal, soft.vertex, e, rho, tau, n, x, lens_at)
            colour = along(colour, times(rho, _glow_known(round_drops, soft.glow, p)), 1.0)
            put(parts.petal, p, _not_negative(colour), 1.0 / pi)
            continue
        first, last = bounds[r // CELL, x_pixel // CELL, 0], bounds[r // CELL, x_pixel // CELL, 1]
        for e in range(paths.petal_start[p], paths.petal_start[p + 1]):
            f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
            rho = petal_mesh.blend(petal.reflectance, petal.face, f, u, v)
            tau = petal_mesh.blend(petal.transmittance, petal.face, f, u, v)
            n, x = petal_mesh.normal_at(petal, f, u, v), petal_mesh.place(petal, f, u, v)
            colour = _petal_indirect(paths, petal, soft.vertex, e, rho, tau, n, x, lens_at)
            if first < last and paths.petal_tag[e] & FRONT:
                colour = along(colour, times(rho, _glow(drops, rims, soft.glow, near, first, last, x)), 1.0)
            weight = paths.petal_weight[e] / (paths.samples * pi)
            put_part(parts, paths.petal_tag[e], p, _not_negative(colour), weight)
        for e in range(paths.base_start[p], paths.base_start[p + 1]):
            _base_soft(paths, petal, soft, e, p, parts)


@threaded
def add_soft(begin, end, paths, petal, drops, rims, soft, near, bounds, round_drops, lens_place, parts):
    """Add a layer's `SoftLight`. near, bounds: the drops near each cell of pixels; round_drops: see
    `drop_grids.Round`."""
    for r in range(begin, end):
        _add_soft_one(paths, petal, drops, rims, soft, near, bounds, round_drops, lens_place, parts, r)


@jit
def _not_negative(colour):
    """Light less what drops hide of it, which coarse grids can make less than nothing."""
    return max(colour[0], 0.0), max(colour[1], 0.0), max(colour[2], 0.0)


@jit
def _glow(drops, rims, glow, near, first, last, x):
    """Light that the drops near x throw on the petal there."""
    rings, spokes = glow.shape[1], glow.shape[2]
    total = (0.0, 0.0, 0.0)
    for q in range(first, last):
        inside, ring, turn = round_drop(drops, rims, rings, near[q], x)
        if inside:
            total = along(total, colour_at(glow, near[q], rings, spokes, ring, turn), 1.0)
    return total


@jit
def _glow_known(round_drops, glow, p):
    """Light that drops throw on a pixel that is wholly on the petal."""
    rings, spokes = glow.shape[1], glow.shape[2]
    total = (0.0, 0.0, 0.0)
    for q in range(round_drops.start[p], round_drops.start[p + 1]):
        ring, turn = round_drops.place[q, 0], round_drops.place[q, 1]
        total = along(total, colour_at(glow, round_drops.drop[q], rings, spokes, ring, turn), 1.0)
    return total


@jit
def _vertex_at(vertex_soft, petal, f, u, v, side):
    """Soft irradiance on one side at weights u, v of face f."""
    a, b, c = petal.face[f, 0], petal.face[f, 1], petal.face[f, 2]
    w = 1.0 - u - v
    s = vertex_soft
    return (
        w * s[a, side, 0] + u * s[b, side, 0] + v * s[c, side, 0],
        w * s[a, side, 1] + u * s[b, side, 1] + v * s[c, side, 1],
        w * s[a, side, 2] + u * s[b, side, 2] + v * s[c, side, 2],
    )


@jit
def _petal_indirect(paths, petal, vertex_soft, e, rho, tau, n, x, lens_at):
    f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
    side = 0 if paths.petal_tag[e] & FRONT else 1
    seen = _vertex_at(vertex_soft, petal, f, u, v, side)
    other = _vertex_at(vertex_soft, petal, f, u, v, 1 - side)
    gloss = 0.0
    if petal.gloss > 0.0 and paths.petal_tag[e] & PART == 0:
        gloss = mirrored_share(petal.gloss, abs(dot(n, unit(sub(lens_at, x)))))
    k = 1.0 - gloss
    return (
        k * (seen[0] * rho[0] + other[0] * tau[0]) + gloss * seen[0],
        k * (seen[1] * rho[1] + other[1] * tau[1]) + gloss * seen[1],
        k * (seen[2] * rho[2] + other[2] * tau[2]) + gloss * seen[2],
    )


@jit
def _base_soft(paths, petal, soft, e, p, parts):
    f, u, v = int(paths.base_face[e]), paths.base_uv[e, 0], paths.base_uv[e, 1]
    rho = petal_mesh.blend(petal.reflectance, petal.face, f, u, v)
    tau = petal_mesh.blend(petal.transmittance, petal.face, f, u, v)
    k, ring, turn = int(paths.base_drop[e]), paths.base_place[e, 0], paths.base_place[e, 1]
    light = colour_at(soft.base, k, soft.base.shape[1], soft.base.shape[2], ring, turn)
    colour = along(times(rho, light), times(tau, _vertex_at(soft.vertex, petal, f, u, v, 1)), 1.0)
    put_part(parts, paths.base_tag[e], p, colour, paths.base_weight[e] / (paths.samples * pi))
