"""Ways of light round in drops of one contact angle: found for the unit sphere, turned for every drop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import base_transfer, near_transfer
from lightsim.tracer.kernels.base_transfer import Ways
from lightsim.tracer.kernels.far_transfer import FarRays
from lightsim.tracer.kernels.near_transfer import Halo

FINER = 16  # times as many ways from a base tell how much goes whither
AROUND = 32  # times as many ways from a ring of petal toward a drop as from a base
LEVEL = 1e-12  # keeps a division by nothing from failing


@dataclass(frozen=True)
class Shape:
    """How light goes round in drops of one contact angle; nodes: of the base's grid, places: round it.

    members : (m,) int64, the drops. out : (nodes, k) share of the base's light that leaves by each way.
    thrown : (nodes,) share that the water's surface throws back to it. back : (nodes, nodes) where from.
    base, petal : (places, nodes), (places, places) what comes from the base and, by way of the drop, from the
    petal round it; far : (places, k) from farther away, see `kernels.far_transfer.FarRays`.
    """

    members: NDArray[np.int64]
    out: NDArray[np.float64]
    thrown: NDArray[np.float64]
    back: NDArray[np.float64]
    base: NDArray[np.float64]
    petal: NDArray[np.float64]
    far: NDArray[np.float64]


def shape_of(members: NDArray, ways: Ways, halo: Halo, far: NDArray, grid: int, spokes: int) -> Shape:
    """What goes from where to where in these drops, from their ways."""
    rays, rings = ways.back_share.shape[1], len(halo.base_share)
    turned = [
        (halo.base_place, halo.base_share, grid, grid),
        (halo.out_place, halo.out_share, rings, spokes),
    ]
    base, petal = (_round(place, share, spokes, *size) for place, share, *size in turned)
    return Shape(
        members,
        ways.out_share,
        ways.back_share.mean(axis=1),
        _blend(ways.back_place, ways.back_share / rays, grid, grid),
        base,
        petal,
        far,
    )


def _round(place: NDArray, share: NDArray, spokes: int, rings: int, of: int) -> NDArray[np.float64]:
    """The weights of `_blend` for each ring (rows of place and share), turned to each of its spokes."""
    turned = [_blend(place + np.array([0.0, start / spokes]), share, rings, of) for start in range(spokes)]
    return np.stack(turned, axis=1).reshape(len(share) * spokes, rings * of)


def _blend(place: NDArray, share: NDArray, rings: int, spokes: int) -> NDArray[np.float64]:
    """(rows, rings * spokes) weights by which each row takes shares of values on rings and spokes, blended
    between the four nearest; place (rows, k, 2): ring number and turns, share (rows, k); beyond the last
    ring nothing.
    """
    row, slot = np.nonzero((share != 0.0) & (place[..., 0] < rings - 1.0))
    ring, spoke = place[row, slot, 0], place[row, slot, 1] * spokes
    i, j = ring.astype(int), np.floor(spoke).astype(int)
    u, v = ring - i, spoke - j
    at, many = row * rings * spokes, len(share) * rings * spokes
    weights = np.zeros(many)
    for di, wi in ((0, 1.0 - u), (1, u)):
        for dj, wj in ((0, 1.0 - v), (1, v)):
            node = at + (i + di) * spokes + (j + dj) % spokes
            weights += np.bincount(node, share[row, slot] * wi * wj, minlength=many)
    return weights.reshape(len(share), rings * spokes)


def outs_for(rays: int) -> int:
    """Ways out of a drop that are kept for so many directions: the lowest leave twice or three times."""
    return 2 * rays


def ways_of(contact_angle_deg: float, grid: int, rays: int) -> Ways:
    """The ways from a base's grid. What goes up, down and back in all is the mean of many more of them round
    each ring: the points of the grid would differ by chance."""
    ways, many = (_found_ways(contact_angle_deg, grid, n) for n in (rays, FINER * rays))
    up, much_up = ways.out_run[..., 2] > 0.0, many.out_run[..., 2] > 0.0

    def scale(share: NDArray, of_many: NDArray) -> NDArray:
        ring = of_many.sum(axis=1).reshape(grid, grid).mean(axis=1)
        return (ring.repeat(grid) / np.maximum(share.sum(axis=1), LEVEL))[:, None]

    upward = scale(ways.out_share * up, many.out_share * much_up)
    downward = scale(ways.out_share * ~up, many.out_share * ~much_up)
    back = scale(ways.back_share, many.back_share / FINER)
    share = ways.out_share * np.where(up, upward, downward)
    order = np.argsort(share == 0.0, axis=1, kind="stable")[:, : np.count_nonzero(share, axis=1).max()]
    share, place, run = (
        np.take_along_axis(one, order.reshape(*order.shape, *[1] * (one.ndim - 2)), axis=1)
        for one in (share, ways.out_place, ways.out_run)
    )
    return ways._replace(out_share=share, out_place=place, out_run=run, back_share=ways.back_share * back)


def _found_ways(contact_angle_deg: float, grid: int, rays: int) -> Ways:
    angle = np.radians(contact_angle_deg)
    nodes, outs = grid * grid, outs_for(rays)
    ways = Ways(
        float(np.sin(angle)),
        np.zeros((nodes, outs)),
        np.zeros((nodes, outs, 3)),
        np.zeros((nodes, outs, 3)),
        np.zeros((nodes, rays)),
        np.zeros((nodes, rays, 2)),
    )
    base_transfer.find_ways(nodes, grid, float(-np.cos(angle)), ways)
    return ways


def halo_of(contact_angle_deg: float, rings: int, rays: int, grid: int) -> Halo:
    """The ways from each of so many rings of petal round a drop toward it, AROUND times as many as `rays`."""
    rays *= AROUND
    angle = np.radians(contact_angle_deg)
    halo = Halo(
        float(np.sin(angle)),
        np.zeros((rings, rays)),
        np.zeros((rings, rays, 2)),
        np.zeros((rings, 3 * rays)),
        np.zeros((rings, 3 * rays, 2)),
        np.zeros((rings, 3 * rays, 3)),
        np.zeros((rings, 3 * rays, 3)),
        np.zeros((rings, rays)),
        np.zeros((rings, rays, 3)),
        np.zeros((rings, rays, 3)),
    )
    near_transfer.find_halo(rings, float(-np.cos(angle)), halo)
    base_transfer.halo_on_grid(halo, grid)
    return halo


def far_rays_of(halo: Halo, spokes: int, many: int) -> FarRays:
    """So many rays for each place of those that leave the drop for farther than the rings, and as many of
    what it hides, turned to each spoke."""
    far = halo.out_share * (halo.out_place[..., 0] >= len(halo.base_share) - 1.0)
    out = _some_rays(far, halo.out_from, halo.out_run, spokes, many)
    hidden = _some_rays(-halo.hid_share, halo.hid_from, halo.hid_run, spokes, many)
    share, start, run = (np.concatenate(pair, axis=2) for pair in zip(out, hidden, strict=True))
    turn = 2.0 * np.pi * np.arange(spokes)[:, None] / spokes
    for rays in (start, run):
        x, y = rays[..., 0].copy(), rays[..., 1].copy()
        rays[..., 0], rays[..., 1] = np.cos(turn) * x - np.sin(turn) * y, np.sin(turn) * x + np.cos(turn) * y
    places = len(share) * spokes
    return FarRays(*(one.reshape(places, *one.shape[2:]) for one in (share, start, run)))


def _some_rays(
    share: NDArray, start: NDArray, run: NDArray, spokes: int, many: int
) -> tuple[NDArray, NDArray, NDArray]:
    """For each ring `many` of its rays for each spoke, by their shares (rings, k), each with an equal part of
    all: share (rings, spokes, many), start and run (rings, spokes, many, 3)."""
    total = share.sum(axis=1)
    wanted = (np.arange(spokes * many) + 0.5) / (spokes * many)
    chosen = np.zeros((len(share), spokes, many), dtype=np.int64)
    for ring in np.flatnonzero(total):
        order = np.argsort(np.arctan2(run[ring, :, 1], run[ring, :, 0]))
        found = np.searchsorted(np.cumsum(share[ring, order]) / total[ring], wanted)
        chosen[ring] = order[found.clip(max=len(order) - 1)].reshape(many, spokes).T
    rings = np.arange(len(share))[:, None, None]
    equal = np.broadcast_to(total[:, None, None] / many, chosen.shape)
    return equal, start[rings, chosen], run[rings, chosen]
