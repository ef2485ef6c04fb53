"""Adds indirect light to the picture: the dry petal's from its vertices, the wet bases' from their grids."""

from __future__ import annotations

from math import pi
from typing import NamedTuple

from numpy.typing import NDArray

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.camera_paths import TAG
from lightsim.tracer.kernels.drop_grids import round_drop
from lightsim.tracer.kernels.gloss import mirrored_share
from lightsim.tracer.kernels.jit import jit, threaded
from lightsim.tracer.kernels.near_transfer import colour_at
from lightsim.tracer.kernels.path_store import put, put_part
from lightsim.tracer.kernels.pixel_cells import CELL
from lightsim.tracer.kernels.vectors import along, dot, row, sub, times, unit


class IndirectLight(NamedTuple):
    """Indirect irradiance of one layer: vertex (nv, 2, 3) at the vertices, base (nd, g, g, 3) on the bases,
    ring (nd, rings, spokes, 3) by way of drops on the petal round them."""

    vertex: NDArray
    base: NDArray
    ring: NDArray


@jit
def _add_indirect_one(view, light, rings, parts, r):
    paths, petal = view.paths, view.petal
    for x_pixel in range(paths.width):
        p = r * paths.width + x_pixel
        if paths.whole[p] == 1:
            rho, tau = row(paths.mean_reflectance, p), row(paths.mean_transmittance, p)
            n, x = row(paths.mean_normal, p), row(paths.mean_place, p)
            share = _mirrored(view, paths.petal_tag[paths.mean_end[p]], n, x)
            colour = _petal_light(view, light.vertex, paths.mean_end[p], rho, tau, share)
            colour = along(colour, times(rho, _from_known_rings(rings, light.ring, p)), 1.0)
            put(parts.petal, p, _not_negative(colour), 1.0 / pi)
            continue
        i, j = r // CELL, x_pixel // CELL
        for e in range(paths.petal_start[p], paths.petal_start[p + 1]):
            f, u, v, tag = (
                int(paths.petal_face[e]),
                paths.petal_uv[e, 0],
                paths.petal_uv[e, 1],
                paths.petal_tag[e],
            )
            rho = petal_mesh.blend(petal.reflectance, petal.face, f, u, v)
            tau = petal_mesh.blend(petal.transmittance, petal.face, f, u, v)
            n, x = petal_mesh.normal_at(petal, f, u, v), petal_mesh.place(petal, f, u, v)
            colour = _petal_light(view, light.vertex, e, rho, tau, _mirrored(view, tag, n, x))
            if rings.bounds[i, j, 0] < rings.bounds[i, j, 1] and tag & TAG.front:
                colour = along(colour, times(rho, _from_rings(view, rings, light.ring, i, j, x)), 1.0)
            weight = paths.petal_weight[e] / (paths.samples * pi)
            put_part(parts, tag, p, _not_negative(colour), weight)
        for e in range(paths.base_start[p], paths.base_start[p + 1]):
            _add_on_base(view, light, e, p, parts)


@threaded
def add_indirect(begin, end, view, light, rings, parts):
    """Add a layer's `IndirectLight` to its parts, row by row. view: a `path_store.CameraView`; rings: a
    `drop_grids.RingPlaces`."""
    for r in range(begin, end):
        _add_indirect_one(view, light, rings, parts, r)


@jit
def _not_negative(colour):
    """Light less what drops hide of it, which coarse grids can make less than nothing."""
    return max(colour[0], 0.0), max(colour[1], 0.0), max(colour[2], 0.0)


@jit
def _from_rings(view, rings, ring_light, i, j, x):
    """Light that comes by way of the drops near cell i, j to x."""
    total = (0.0, 0.0, 0.0)
    for q in range(rings.bounds[i, j, 0], rings.bounds[i, j, 1]):
        k = int(rings.near[q])
        inside, ring, turn = round_drop(view.drops, rings.rims, ring_light.shape[1], k, x)
        if inside:
            total = along(total, colour_at(ring_light, k, ring, turn), 1.0)
    return total


@jit
def _from_known_rings(rings, ring_light, p):
    """Light that comes by way of drops to a pixel that is wholly on the petal."""
    total = (0.0, 0.0, 0.0)
    for q in range(rings.start[p], rings.start[p + 1]):
        total = along(total, colour_at(ring_light, rings.drop[q], rings.place[q, 0], rings.place[q, 1]), 1.0)
    return total


@jit
def _vertex_at(vertex_light, petal, f, u, v, side):
    """Irradiance on one side at weights u, v of face f."""
    a, b, c = petal.face[f, 0], petal.face[f, 1], petal.face[f, 2]
    w = 1.0 - u - v
    s = vertex_light
    return (
        w * s[a, side, 0] + u * s[b, side, 0] + v * s[c, side, 0],
        w * s[a, side, 1] + u * s[b, side, 1] + v * s[c, side, 1],
        w * s[a, side, 2] + u * s[b, side, 2] + v * s[c, side, 2],
    )


@jit
def _mirrored(view, tag, n, x):
    """The share of indirect light that the petal's gloss mirrors, seen straight at x with the normal n."""
    if view.petal.gloss > 0.0 and tag & TAG.part == TAG.petal:
        lens_at = view.lens_at[0], view.lens_at[1], view.lens_at[2]
        return mirrored_share(view.petal.gloss, abs(dot(n, unit(sub(lens_at, x)))))
    return 0.0


@jit
def _petal_light(view, vertex_light, e, rho, tau, mirrored):
    """What the petal sends at the end e of a path, times pi."""
    paths, petal = view.paths, view.petal
    f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
    side = 0 if paths.petal_tag[e] & TAG.front else 1
    seen = _vertex_at(vertex_light, petal, f, u, v, side)
    other = _vertex_at(vertex_light, petal, f, u, v, 1 - side)
    k = 1.0 - mirrored
    return (
        k * (seen[0] * rho[0] + other[0] * tau[0]) + mirrored * seen[0],
        k * (seen[1] * rho[1] + other[1] * tau[1]) + mirrored * seen[1],
        k * (seen[2] * rho[2] + other[2] * tau[2]) + mirrored * seen[2],
    )


@jit
def _add_on_base(view, light, e, p, parts):
    """Add what the wet base sends at the end e of a path of pixel p."""
    paths, petal = view.paths, view.petal
    f, u, v = int(paths.base_face[e]), paths.base_uv[e, 0], paths.base_uv[e, 1]
    rho = petal_mesh.blend(petal.reflectance, petal.face, f, u, v)
    tau = petal_mesh.blend(petal.transmittance, petal.face, f, u, v)
    on_base = colour_at(light.base, int(paths.base_drop[e]), paths.base_place[e, 0], paths.base_place[e, 1])
    colour = along(times(rho, on_base), times(tau, _vertex_at(light.vertex, petal, f, u, v, 1)), 1.0)
    put_part(parts, paths.base_tag[e], p, colour, paths.base_weight[e] / (paths.samples * pi))
