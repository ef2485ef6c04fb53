"""Paths of light from the wet base of a drop back to the base, by the water's surface, and into the air.

A drop's shape depends on its contact angle alone, so they are found once for the unit sphere, on a grid of
points over the base, and used for every drop of that angle.
"""

from __future__ import annotations

from math import asin, cos, inf, pi, sin, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import WATER_INDEX as N
from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.box_tree import STACK
from lightsim.tracer.kernels.caustics import back_irradiance
from lightsim.tracer.kernels.emitters import face_of
from lightsim.tracer.kernels.jit import entry_point, jit, jit_allocating, threaded
from lightsim.tracer.kernels.light_pass import LightSample, SceneGeometry
from lightsim.tracer.kernels.near_transfer import ring_of, turn_of
from lightsim.tracer.kernels.refraction import bend, fresnel, mirror
from lightsim.tracer.kernels.sampling import spiral_direction
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, dot, row, scale


class BaseGrid(NamedTuple):
    """How a base's grid lies and where its rays go."""

    edge: float = 0.995  # share of the base's radius where the outermost ring of its grid lies
    crowding: float = 1.6  # how much closer the rings lie toward the rim where there is no knee
    knee_crowding: float = 2.5  # and toward a knee, where light from all around falls off like a root
    turn: float = 2.0 * pi * 0.7548776662  # from the directions of one grid point to those of the next, and
    step: float = 0.5698402910  # how far into their shares of the disc: Roberts' sequence in two dimensions


GRID = BaseGrid()


class BasePaths(NamedTuple):
    """For one contact angle, the unit sphere, a grid of g rings and g spokes on the base and k directions
    from each.

    rim : radius of the base. out_share (g*g, m): shares of all light that leave, one for each direction and
    some for directions that leave twice, those of nothing last; out_start, out_run (g*g, m, 3): where and
    whither, in the drop's frame with the base at z = 0.
    back_share (g*g, k): share mirrored back to the base, back_place (g*g, k, 2): where: ring of the
    grid and angle in turns.
    """

    rim: float
    out_share: NDArray
    out_start: NDArray
    out_run: NDArray
    back_share: NDArray
    back_place: NDArray


@jit
def knee_of(rim):
    """Share of a base's radius beyond which the water begins to reflect its light totally: farther than
    1 / n radii from the sphere's centre. Light from all around falls off steeply there. 0 where there is no
    such place, or hardly."""
    inner = rim * rim - (1.0 - 1.0 / (N * N))
    knee = sqrt(inner) / rim if inner > 0.0 else 0.0
    return knee if knee > 0.15 else 0.0


@jit
def _inner_rings(g):
    """Number of the ring on the knee."""
    return float((g - 1) * 4 // 9)


@jit
def ring_place(g, rim, ring):
    """Share of the base's radius at which a ring of its grid lies: closer toward the knee from within, beyond
    it toward both ends; without one toward the rim."""
    knee = knee_of(rim)
    if knee == 0.0:
        return GRID.edge * (1.0 - (1.0 - ring / (g - 1.0)) ** GRID.crowding)
    inner = _inner_rings(g)
    if ring <= inner:
        return knee * (1.0 - (1.0 - ring / inner) ** GRID.knee_crowding)
    v = (ring - inner) / (g - 1.0 - inner)
    return knee + (GRID.edge - knee) * v * v * (3.0 - 2.0 * v)


@jit
def grid_ring(g, rim, r):
    """Ring number, with its fraction, at a share r of the base's radius: see `ring_place`."""
    knee = knee_of(rim)
    below = 1.0 - 1e-9
    if knee == 0.0:
        return (1.0 - (1.0 - min(r / GRID.edge, 1.0)) ** (1.0 / GRID.crowding)) * (g - 1.0) * below
    inner = _inner_rings(g)
    if r <= knee:
        return inner * (1.0 - (1.0 - r / knee) ** (1.0 / GRID.knee_crowding))
    u = min((r - knee) / (GRID.edge - knee), 1.0)
    return inner + (0.5 - sin(asin(1.0 - 2.0 * u) / 3.0)) * (g - 1.0 - inner) * below


@jit
def grid_place(g, rim, node):
    """Base coordinates (-1..1) of a grid point: g rings of g spokes."""
    r = ring_place(g, rim, node // g)
    angle = 2.0 * pi * (node % g) / g
    return r * cos(angle), r * sin(angle)


@jit
def _find_base_paths_one(g, height, paths, node):
    x0, y0 = grid_place(g, paths.rim, node)
    rays = paths.back_share.shape[1]
    spare = rays
    for i in range(rays):
        d = spiral_direction(i, rays, GRID.turn * node, GRID.step * node % 1.0)
        p = x0 * paths.rim, y0 * paths.rim, 0.0
        share, slot = 1.0, i
        paths.out_share[node, i] = 0.0
        for _ in range(40):
            m = p[0], p[1], p[2] - height
            b = dot(m, d)
            t_sphere = -b + sqrt(max(0.0, b * b - dot(m, m) + 1.0))
            t_base = -p[2] / d[2] if d[2] < -1e-12 else inf
            if t_base < t_sphere:
                p = along(p, d, t_base)
                break
            p = along(p, d, t_sphere)
            n = -p[0], -p[1], height - p[2]
            n = scale(n, 1.0 / sqrt(dot(n, n)))
            cos_i = min(1.0, max(0.0, -dot(d, n)))
            f = fresnel(cos_i, 1.0 / N)
            leaves = share * (1.0 - f) / rays
            if leaves > 0.0:
                run = bend(d, n, cos_i, 1.0 / N)
                again = paths.out_share[node, slot] > 0.0 and leaves * rays > 0.001  # more is kept apart
                again = again and min(run[2], paths.out_run[node, slot, 2]) < 0.0
                if again and spare < paths.out_share.shape[1]:
                    slot, spare = spare, spare + 1
                if paths.out_share[node, slot] == 0.0:
                    for a in range(3):
                        paths.out_start[node, slot, a] = p[a]
                        paths.out_run[node, slot, a] = run[a]
                paths.out_share[node, slot] += leaves
                share *= f
            d = mirror(d, n)
        paths.back_share[node, i] = share
        paths.back_place[node, i, 0] = grid_ring(g, paths.rim, sqrt(p[0] * p[0] + p[1] * p[1]) / paths.rim)
        paths.back_place[node, i, 1] = turn_of(p[0], p[1])


@threaded
def find_base_paths(begin, end, g, height, paths):
    """Fill `paths`; height: of the sphere's centre above the base, in radii."""
    for node in range(begin, end):
        _find_base_paths_one(g, height, paths, node)


@jit
def _behind_drop(light, face, foot_face, out, k, stack):
    """Add to out[k] what reaches the petal's back under drop k."""
    drops = light.drops
    scene = held(SceneGeometry(light.petal, drops, light.boards, stack))
    point = petal_mesh.as_point(foot_face[k], row(drops.foot, k), row(drops.normal, k))
    for m in range(face.flux.shape[0]):
        sample = LightSample(row(face.node, m), face.flux[m])
        out[k] += back_irradiance(scene, face, point, sample, light.state[k, 1])


@jit_allocating
def _light_behind_one(light, foot_face, out, k):
    face, stack = held(face_of(light.lamp)), np.empty(STACK, dtype=np.int32)
    _behind_drop(light, face, foot_face, out, k, stack)


@threaded
def light_behind(begin, end, light, foot_face, out):
    """Irradiance that a face sends to the petal's back under every drop, added to out (nd,). light: a
    `face_light.FaceLight`."""
    for k in range(begin, end):
        _light_behind_one(light, foot_face, out, k)


@entry_point
def rings_at(g, rings, rim, shares, radii, on_base, around):
    """Ring numbers of many places: on_base at shares of a base's radius, on g rings; around at radii beyond
    it, on so many rings."""
    for i in range(shares.shape[0]):
        on_base[i] = grid_ring(g, rim, shares[i])
        around[i] = ring_of(rim, rings, radii[i])


@entry_point
def ring_paths_on_grid(paths, g):
    """Turn the base places of `near_transfer.RingPaths` from distances into ring numbers of a base grid."""
    for i in range(paths.base_share.shape[0]):
        for q in range(paths.base_share.shape[1]):
            paths.base_place[i, q, 0] = grid_ring(g, paths.rim, paths.base_place[i, q, 0])
