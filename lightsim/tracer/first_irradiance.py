"""A layer's first irradiance on the places of indirect light: points, wet bases, rings round the drops."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.stage import Stage
from lightsim.tracer.drop_transfer import Detail
from lightsim.tracer.kernels import base_transfer, light_tracing, near_transfer, petal_radiosity
from lightsim.tracer.kernels.drop_visibility import DropVisibility
from lightsim.tracer.kernels.emitters import Boards, Lamp
from lightsim.tracer.kernels.face_light import FaceLight
from lightsim.tracer.kernels.light_tracing import Grids, Splats
from lightsim.tracer.kernels.petal_radiosity import PetalPoints
from lightsim.tracer.pack import Packed
from lightsim.tracer.vertex_groups import areas

if TYPE_CHECKING:
    from lightsim.tracer.indirect_light import IndirectTransfer

TRACED_POINTS = 4096  # of a face's light, traced through all drops together, for each path of a pixel
SPLATTED_DROPS = 40_000  # whose grids have room side by side: all drops once for each part of the loop


@dataclass(frozen=True)
class Areas:
    """What each place of a grid stands for, mm2: base (nd, nodes), ring (nd, places), point (n,)."""

    base: NDArray[np.float64]
    ring: NDArray[np.float64]
    point: NDArray[np.float64]


@dataclass(frozen=True)
class FirstIrradiance:
    """Irradiance by a layer's lights themselves.

    base (nd, nodes) : on the wet bases. ring (nd, places) : on the petal round the drops. point (n, 2) : on
    the gathering points. back (nd,) : behind the drops. own_base, own_ring, own_point : what of these each
    camera path is given by itself. beside (nd, places) : straight round each drop, without its own shadow.
    """

    base: NDArray[np.float64]
    ring: NDArray[np.float64]
    point: NDArray[np.float64]
    back: NDArray[np.float64]
    own_base: NDArray[np.float64]
    own_ring: NDArray[np.float64]
    own_point: NDArray[np.float64]
    beside: NDArray[np.float64]


def areas_of(stage: Stage, packed: Packed, points: PetalPoints, detail: Detail) -> Areas:
    """Of all places: base grids of so many rings and spokes, rings and spokes round the drops, points."""
    grid, rings, spokes = detail.grid, detail.rings, detail.spokes
    share = np.linspace(0.0, 1.0, 4001)
    share = 0.5 * (share[1:] + share[:-1])
    r2 = np.asarray(stage.drops.radius, dtype=float)[:, None] ** 2
    base, around = np.empty((len(packed.rims), grid)), np.empty((len(packed.rims), rings))
    for rim in np.unique(packed.rims):
        of_shape = packed.rims == rim
        radius = rim + (near_transfer.REACH.outer - rim) * share
        on_base, outside = np.zeros_like(share), np.zeros_like(share)
        base_transfer.rings_at(grid, rings, rim, share, radius, on_base, outside)
        base[of_shape] = _ring_areas(on_base, share, grid)
        around[of_shape] = _ring_areas(outside, radius, rings)
    return Areas(
        np.repeat(base, grid, axis=1) / grid * r2 * packed.rims[:, None] ** 2,
        np.repeat(around, spokes, axis=1) / spokes * r2,
        areas(stage.petal, points.of_vertex, len(points.place)),
    )


def _ring_areas(ring: NDArray, radius: NDArray, rings: int) -> NDArray[np.float64]:
    """Area that each ring stands for, blended linearly, of evenly spaced radii with their ring numbers."""
    annulus = 2.0 * np.pi * radius * (radius[1] - radius[0])
    i = np.minimum(ring.astype(int), rings - 2)
    u = ring - i
    inner = np.bincount(i, annulus * (1.0 - u), minlength=rings)
    return (inner + np.bincount(i + 1, annulus * u, minlength=rings)).astype(float)


def no_light(transfer: IndirectTransfer) -> FirstIrradiance:
    """A first irradiance of nothing."""
    detail, points = transfer.detail, len(transfer.points.place)
    many = len(transfer.areas.base)
    base, ring = (many, detail.grid**2), (many, detail.rings * detail.spokes)
    sizes = (base, ring, (points, 2), (many,), base, ring, (points, 2), ring)
    return FirstIrradiance(*map(np.zeros, sizes))


def weighed(firsts: Sequence[FirstIrradiance], shares: Sequence[float]) -> FirstIrradiance:
    """The sum of some first irradiances, at least one, each times its share."""
    pairs = list(zip(firsts, shares, strict=True))
    names = [field.name for field in fields(FirstIrradiance)]
    return FirstIrradiance(*(sum(share * getattr(first, name) for first, share in pairs) for name in names))


def first_irradiances(
    transfer: IndirectTransfer,
    packed: Packed,
    lamps: Sequence[Lamp],
    boards: Boards,
    state: DropVisibility,
    reach: NDArray,
    least: float,
) -> list[FirstIrradiance]:
    """A face's own light on all places, for each of some radiances of it.

    lamps : the face with each radiance. boards : that may stand in its way. reach, least : of the light by
    way of drops, what each camera path is given by itself; see `kernels.light_tracing.Grids`; least 0 where
    each path is given the light as if no drop cast a shadow."""
    many, points, detail = len(packed.rims), transfer.points, transfer.detail
    traced = int(np.clip(TRACED_POINTS * min(transfer.samples, 16) // max(many, 1), 16, 16384))
    flux = np.stack([lamp.flux for lamp in lamps])
    light = FaceLight(packed.petal, packed.drops, boards, lamps[0], *state[:3])
    on_points = np.zeros((len(lamps), len(points.place), 2))
    petal_radiosity.straight(len(points.place), light, points, flux, on_points)
    ring, beside = np.zeros((2, len(lamps), many, detail.rings, detail.spokes))
    near_transfer.ring_light(many, light, packed.rims, flux, ring, beside)
    grids = Grids(points, packed.rims, traced, reach, least)
    found = []
    for i, lamp in enumerate(lamps):
        first, own = no_light(transfer), light._replace(lamp=lamp)
        first.own_point[:], first.ring[:] = on_points[i], ring[i].reshape(first.ring.shape)
        first.beside[:] = beside[i].reshape(first.ring.shape)
        base_transfer.light_behind(many, own, packed.foot_face, first.back)
        _add_by_drops(transfer, own, grids, first)
        found.append(first)
    return found


def _add_by_drops(transfer: IndirectTransfer, light: FaceLight, grids: Grids, first: FirstIrradiance) -> None:
    """Add to a first irradiance, which has the face's straight light, what comes by way of drops."""
    detail, area, many = transfer.detail, transfer.areas, len(grids.rims)
    parts = int(np.clip(SPLATTED_DROPS // max(many, 1), 1, 16))
    points = len(transfer.points.place)
    splats = Splats(
        np.zeros((parts, 2, many, detail.grid, detail.grid)),
        np.zeros((parts, 2, many, detail.rings, detail.spokes)),
        np.zeros((parts, 2 * points)),
        np.zeros((parts, points)),
    )
    light_tracing.follow(parts, light, grids, splats)
    base = splats.base.sum(axis=0).reshape(2, *first.base.shape)
    ring = splats.ring.sum(axis=0).reshape(2, *first.ring.shape)
    base, ring, by_area = base / area.base, ring / area.ring, np.maximum(area.point, 1e-12)
    first.ring[:] += ring[0]
    first.own_ring[:] = first.ring if grids.least > 0.0 else first.beside
    first.own_base[:] = base[0] if grids.least > 0.0 else 0.0
    first.own_point[:, 0] += splats.far.sum(axis=0) / by_area
    first.base[:] = base[0] + base[1]
    first.ring[:] += ring[1]
    first.point[:] += splats.point.sum(axis=0).reshape(-1, 2) / by_area[:, None] + first.own_point
