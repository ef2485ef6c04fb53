"""A layer's first light on the places of soft light: points, wet bases, the petal round the drops."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.stage import Stage
from lightsim.tracer.kernels import base_transfer, light_tracing, near_transfer, petal_radiosity
from lightsim.tracer.kernels.emitters import Boards, Lamp
from lightsim.tracer.kernels.light_tracing import Grids, Onward
from lightsim.tracer.kernels.petal_radiosity import Points
from lightsim.tracer.pack import Packed
from lightsim.tracer.vertex_groups import areas

if TYPE_CHECKING:
    from lightsim.tracer.indirect_light import SoftStage

PLAIN_SAMPLES = 16  # paths a pixel of a plain picture
POINTS = 65536  # of light followed through all drops where they are few, at PLAIN_SAMPLES paths a pixel
LEAST_POINTS, MOST_POINTS = 256, 16384  # for each of them
FEW_POINTS = 128  # the same where the drops are many
UNSEEN_POINTS = 16  # and where they are out of view besides
MANY_DROPS = 500  # up to so many the grids are fine
TO_LOOK_AT = 1000  # drops in view from which on the more there are, the less each one is looked at
PARTS, FEW_PARTS = 16, 4  # that few or many drops are followed in, each by itself

# of the drops in a face's light: see `drop_visibility.look_at_drops`
State = tuple[NDArray, NDArray, NDArray, NDArray]


@dataclass(frozen=True)
class Areas:
    """What each place of a grid stands for, mm2: base (nd, nodes), ring (nd, places), point (n,)."""

    base: NDArray[np.float64]
    ring: NDArray[np.float64]
    point: NDArray[np.float64]


@dataclass(frozen=True)
class First:
    """Irradiance by a layer's first light: base (nd, nodes) on the wet bases, ring (nd, places) on the petal
    round the drops, point (n, 2) on the gathering points, back (nd,) behind the drops. own_base, own_ring,
    own_point : what of these each camera path is given by itself. beside (nd, places): straight round each
    drop, without its own shadow.
    """

    base: NDArray[np.float64]
    ring: NDArray[np.float64]
    point: NDArray[np.float64]
    back: NDArray[np.float64]
    own_base: NDArray[np.float64]
    own_ring: NDArray[np.float64]
    own_point: NDArray[np.float64]
    beside: NDArray[np.float64]


def areas_of(stage: Stage, packed: Packed, points: Points, grid: int, rings: int, spokes: int) -> Areas:
    """Of all places: base grids of so many rings and spokes, rings and spokes round the drops, points."""
    share = np.linspace(0.0, 1.0, 4001)
    share = 0.5 * (share[1:] + share[:-1])
    r2 = np.asarray(stage.drops.radius, dtype=float)[:, None] ** 2
    base, around = np.empty((len(packed.rims), grid)), np.empty((len(packed.rims), rings))
    for rim in np.unique(packed.rims):
        of_shape = packed.rims == rim
        radius = rim + (near_transfer.OUTER - rim) * share
        on_base, outside = np.zeros_like(share), np.zeros_like(share)
        base_transfer.rings_at(grid, rings, rim, share, radius, on_base, outside)
        base[of_shape] = _ring_areas(on_base, share, grid)
        around[of_shape] = _ring_areas(outside, radius, rings)
    return Areas(
        np.repeat(base, grid, axis=1) / grid * r2 * packed.rims[:, None] ** 2,
        np.repeat(around, spokes, axis=1) / spokes * r2,
        areas(stage.petal, points.of_vertex, len(points.place)),
    )


def thinned(many: int, least: int, in_view: NDArray[np.bool_]) -> int:
    """So many, fewer the more drops are in view, each of them the smaller, but no fewer than least."""
    return max(least, many * TO_LOOK_AT // max(TO_LOOK_AT, int(in_view.sum())))


def points_followed(in_view: NDArray[np.bool_], samples: int) -> NDArray[np.int64]:
    """How many points of a face's light are followed through each drop (nd,): few for a quick look."""
    many = len(in_view)
    if many > MANY_DROPS:
        return np.where(in_view, thinned(FEW_POINTS, UNSEEN_POINTS, in_view), UNSEEN_POINTS)
    wanted = POINTS * min(samples, PLAIN_SAMPLES) // (PLAIN_SAMPLES * max(many, 1))
    return np.full(many, min(max(wanted, LEAST_POINTS), MOST_POINTS))


def _ring_areas(ring: NDArray, radius: NDArray, rings: int) -> NDArray[np.float64]:
    """Area that each ring stands for, blended linearly, of evenly spaced radii with their ring numbers."""
    annulus = 2.0 * np.pi * radius * (radius[1] - radius[0])
    i = np.minimum(ring.astype(int), rings - 2)
    u = ring - i
    inner = np.bincount(i, annulus * (1.0 - u), minlength=rings)
    return (inner + np.bincount(i + 1, annulus * u, minlength=rings)).astype(float)


def no_light(soft: SoftStage, packed: Packed) -> First:
    """A first light of nothing."""
    many, points = len(packed.rims), len(soft.points.place)
    base, ring = (many, soft.grid**2), (many, soft.rings * soft.spokes)
    return First(
        np.zeros(base),
        np.zeros(ring),
        np.zeros((points, 2)),
        np.zeros(many),
        np.zeros(base),
        np.zeros(ring),
        np.zeros((points, 2)),
        np.zeros(ring),
    )


def weighed(firsts: Sequence[First], shares: Sequence[float]) -> First:
    """The sum of some first lights, at least one, each times its share."""
    pairs = list(zip(firsts, shares, strict=True))
    return First(
        *(sum(share * getattr(first, field.name) for first, share in pairs) for field in fields(First))
    )


def first_light(
    soft: SoftStage,
    packed: Packed,
    lamp: Lamp,
    boards: Boards,
    state: State,
    reach: NDArray,
    least: float,
) -> First:
    """A face's own light on all places.

    boards : that may stand in its way. reach, least : of the light by way of drops, what each camera path is
    given by itself; see `kernels.light_tracing.Grids`; least 0 where each path is given the light as if no
    drop threw a shadow."""
    many, points, first = len(packed.rims), soft.points, no_light(soft, packed)
    size = (soft.rings, soft.spokes)
    petal_radiosity.straight(
        len(points.place), packed.petal, points, lamp, boards, petal_radiosity.LIFT_MM, first.own_point
    )
    near_transfer.ring_light(
        many, packed.petal, packed.drops, lamp, boards, *state[:3], packed.rims, *size, first.ring,
        first.beside,
    )  # fmt: skip
    base_transfer.light_behind(
        many, packed.petal, packed.drops, packed.foot_face, lamp, boards, state[0], first.back
    )
    base, ring, point, far = _follow(soft, packed, lamp, boards, state, reach, least)
    first.ring[:] += ring[0]
    first.own_ring[:] = first.ring if least > 0.0 else first.beside
    first.own_base[:] = base[0] if least > 0.0 else 0.0
    first.own_point[:, 0] += far
    first.base[:] = base[0] + base[1]
    first.ring[:] += ring[1]
    first.point[:] += point + first.own_point
    return first


def _follow(
    soft: SoftStage, packed: Packed, lamp: Lamp, boards: Boards, state: State, reach: NDArray, least: float
) -> tuple[NDArray, NDArray, NDArray, NDArray]:
    """Irradiance by a face through the drops: base (2, nd, nodes), ring (2, nd, places), point (n, 2), far
    (n,); see `kernels.onward`."""
    many = len(packed.rims)
    parts = PARTS if many <= MANY_DROPS else FEW_PARTS
    put = Onward(
        np.zeros((parts, 2, many, soft.grid**2)),
        np.zeros((parts, 2, many, soft.rings * soft.spokes)),
        np.zeros((parts, len(soft.points.place), 2)),
        np.zeros((parts, len(soft.points.place))),
    )
    grids = Grids(soft.grid, soft.rings, soft.spokes, soft.points.of_vertex, packed.rims, reach, least)
    light_tracing.follow(
        parts, packed.petal, packed.drops, boards, lamp, *state[:3], grids, soft.followed, put
    )
    area = soft.areas
    return (
        put.base.sum(axis=0) / area.base,
        put.ring.sum(axis=0) / area.ring,
        put.point.sum(axis=0) / np.maximum(area.point, 1e-12)[:, None],
        put.far.sum(axis=0) / np.maximum(area.point, 1e-12),
    )
