"""Adds the kept soft light to the picture: the dry petal's from the vertices, the wet bases' from grids."""

from __future__ import annotations

from math import pi, sqrt

from lightsim.trace.kernels import petal as leaf
from lightsim.trace.kernels.base import grid_ring
from lightsim.trace.kernels.camera import FRONT, PART
from lightsim.trace.kernels.cells import CELL
from lightsim.trace.kernels.gloss import mirrored_share
from lightsim.trace.kernels.halo import OUTER, colour_at, ring_of, turn_of
from lightsim.trace.kernels.jit import jit, threaded
from lightsim.trace.kernels.kept import put, put_part
from lightsim.trace.kernels.vectors import along, basis, dot, row, scale, sub, unit


@jit
def _add_soft_one(
    paths, petal, drops, rims, g, vertex_soft, base_soft, glow, near, bounds, lens_place, parts, r
):
    lens_at = lens_place[0], lens_place[1], lens_place[2]
    for x_pixel in range(paths.width):
        p = r * paths.width + x_pixel
        first, last = bounds[r // CELL, x_pixel // CELL, 0], bounds[r // CELL, x_pixel // CELL, 1]
        if paths.whole[p] == 1:
            e = paths.mean_end[p]
            rho, tau = row(paths.mean_reflectance, p), row(paths.mean_transmittance, p)
            n, x = row(paths.mean_normal, p), row(paths.mean_place, p)
            colour = _leaf_soft(paths, petal, vertex_soft, e, rho, tau, n, x, lens_at)
            if first < last and paths.leaf_tag[e] & FRONT:
                colour = along(colour, _glow(drops, rims, glow, near, first, last, x, rho), 1.0)
            put(parts.petal, p, colour, 1.0 / pi)
            continue
        for e in range(paths.leaf_start[p], paths.leaf_start[p + 1]):
            f, u, v = int(paths.leaf_face[e]), paths.leaf_uv[e, 0], paths.leaf_uv[e, 1]
            rho = leaf.blend(petal.reflectance, petal.face, f, u, v)
            tau = leaf.blend(petal.transmittance, petal.face, f, u, v)
            n, x = leaf.normal_at(petal, f, u, v), leaf.place(petal, f, u, v)
            colour = _leaf_soft(paths, petal, vertex_soft, e, rho, tau, n, x, lens_at)
            if first < last and paths.leaf_tag[e] & FRONT:
                colour = along(colour, _glow(drops, rims, glow, near, first, last, x, rho), 1.0)
            put_part(parts, paths.leaf_tag[e], p, colour, paths.leaf_weight[e] / (paths.samples * pi))
        for e in range(paths.base_start[p], paths.base_start[p + 1]):
            _base_soft(paths, petal, drops, rims, g, vertex_soft, base_soft, e, p, parts)


@threaded
def add_soft(
    begin, end, paths, petal, drops, rims, g, vertex_soft, base_soft, glow, near, bounds, lens_place, parts
):
    """Soft irradiance: vertex_soft (nv, 2, 3) at the vertices, base_soft (nd, g, g, 3) on the bases, glow
    (nd, rings, spokes, 3) round the drops. near, bounds: the drops near each cell of pixels."""
    for r in range(begin, end):
        _add_soft_one(
            paths, petal, drops, rims, g, vertex_soft, base_soft, glow, near, bounds, lens_place, parts, r
        )


@jit
def _glow(drops, rims, glow, near, first, last, x, rho):
    """Light that the drops near x throw on the petal there, as it sends it on."""
    rings, spokes = glow.shape[1], glow.shape[2]
    total = (0.0, 0.0, 0.0)
    for q in range(first, last):
        k = near[q]
        m = sub(x, row(drops.foot, k))
        if dot(m, m) >= OUTER * OUTER * drops.radius[k] * drops.radius[k]:
            continue
        m = scale(m, 1.0 / drops.radius[k])
        s, t = basis(row(drops.normal, k))
        a, b = dot(m, s), dot(m, t)
        ring, turn = ring_of(rims[k], rings, sqrt(a * a + b * b)), turn_of(a, b)
        total = along(total, colour_at(glow, k, rings, spokes, ring, turn), 1.0)
    return total[0] * rho[0], total[1] * rho[1], total[2] * rho[2]


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
def _leaf_soft(paths, petal, vertex_soft, e, rho, tau, n, x, lens_at):
    f, u, v = int(paths.leaf_face[e]), paths.leaf_uv[e, 0], paths.leaf_uv[e, 1]
    side = 0 if paths.leaf_tag[e] & FRONT else 1
    seen = _vertex_at(vertex_soft, petal, f, u, v, side)
    other = _vertex_at(vertex_soft, petal, f, u, v, 1 - side)
    gloss = 0.0
    if petal.gloss > 0.0 and paths.leaf_tag[e] & PART == 0:
        gloss = mirrored_share(petal.gloss, abs(dot(n, unit(sub(lens_at, x)))))
    k = 1.0 - gloss
    return (
        k * (seen[0] * rho[0] + other[0] * tau[0]) + gloss * seen[0],
        k * (seen[1] * rho[1] + other[1] * tau[1]) + gloss * seen[1],
        k * (seen[2] * rho[2] + other[2] * tau[2]) + gloss * seen[2],
    )


@jit
def _base_soft(paths, petal, drops, rims, g, vertex_soft, base_soft, e, p, parts):
    f, u, v = int(paths.base_face[e]), paths.base_uv[e, 0], paths.base_uv[e, 1]
    k = int(paths.base_drop[e])
    s, t = basis(row(drops.normal, k))
    m = sub(leaf.place(petal, f, u, v), row(drops.foot, k))
    rim = rims[k] * drops.radius[k]
    x, y = dot(m, s) / rim, dot(m, t) / rim
    ring, turn = grid_ring(g, rims[k], sqrt(x * x + y * y)), turn_of(x, y)
    rho = leaf.blend(petal.reflectance, petal.face, f, u, v)
    tau = leaf.blend(petal.transmittance, petal.face, f, u, v)
    other = _vertex_at(vertex_soft, petal, f, u, v, 1)
    w = paths.base_weight[e] / (paths.samples * pi)
    light = colour_at(base_soft, k, g, g, ring, turn)
    colour = (
        rho[0] * light[0] + tau[0] * other[0],
        rho[1] * light[1] + tau[1] * other[1],
        rho[2] * light[2] + tau[2] * other[2],
    )
    put_part(parts, paths.base_tag[e], p, colour, w)
