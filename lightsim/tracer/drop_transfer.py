"""Light between a drop's wet base, the petal round it and what lies farther off, for drops of one contact
angle: paths are found for the unit sphere and turned for every drop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import WATER_INDEX
from lightsim.tracer.kernels import base_transfer, drop_radiosity, drop_rays, near_transfer
from lightsim.tracer.kernels.base_transfer import BasePaths
from lightsim.tracer.kernels.drop_radiosity import DropMatrices
from lightsim.tracer.kernels.drop_rays import DropRays, Surroundings
from lightsim.tracer.kernels.near_transfer import REACH, RingPaths
from lightsim.tracer.kernels.petal_radiosity import MEETS

FINER = 16  # times as many paths from a base give the sums of what goes up, down and back
BETWEEN = 4  # times as many rings are read as light is found on


@dataclass(frozen=True)
class Detail:
    """How finely light about a drop is known: grid rings of as many spokes on its base, rings and spokes
    round it; base_rays from each place of the base, ring_rays from each ring toward the drop, and far_rays
    from each place round it that leave for far off."""

    grid: int
    rings: int
    spokes: int
    base_rays: int
    ring_rays: int
    far_rays: int

    @property
    def read_rings(self) -> int:
        """On how many rings round a drop its light is read."""
        return (self.rings - 1) * BETWEEN + 1


@dataclass(frozen=True)
class DropTransfer:
    """Transfer of light for some drops of one contact angle; nodes: of the base's grid, places: round it.

    base_rays, far_rays : what they exchange with everything else. matrices : and base and rings with one
    another. transmittance (m, 3) : of the petal under them.
    """

    base_rays: DropRays
    far_rays: DropRays
    matrices: DropMatrices
    transmittance: NDArray[np.float64]

    @property
    def members(self) -> NDArray[np.int64]:
        """The drops' numbers (m,)."""
        return self.base_rays.members


@dataclass(frozen=True)
class Incident:
    """Light that reaches some drops (m) from elsewhere: first irradiance on base (m, nodes) and ring (m,
    places); behind (m, 3) on the petal's back, about (m, 3): indirect light on the petal about each; exitance
    (columns, 3) of all else; dome_level of the dome."""

    base: NDArray[np.float64]
    ring: NDArray[np.float64]
    behind: NDArray[np.float64]
    about: NDArray[np.float64]
    exitance: NDArray[np.float64]
    dome_level: float


def transfer_of(
    contact_angle_deg: float,
    detail: Detail,
    members: NDArray[np.int64],
    around: Surroundings,
    reflectance: NDArray[np.float64],
    transmittance: NDArray[np.float64],
) -> DropTransfer:
    """The transfer of `members`, drops of this contact angle, among their surroundings. reflectance,
    transmittance (m, 3) : of the petal under them."""
    base = base_paths(contact_angle_deg, detail.grid, detail.base_rays)
    ring = ring_paths(contact_angle_deg, detail)
    base_rays = _rays(
        members, detail, base.rim, base.out_share * WATER_INDEX**2, base.out_start, base.out_run, True
    )
    far = far_paths(ring, detail.spokes, detail.far_rays)
    far_rays = _rays(members, detail, base.rim, *far, False)
    for rays in (base_rays, far_rays):
        drop_rays.look_out(len(members), around, rays)
    grid, spokes = (detail.grid, detail.grid), (detail.rings, detail.spokes)
    return DropTransfer(
        base_rays,
        far_rays,
        DropMatrices(
            _blend(base.back_place, base.back_share / base.back_share.shape[1], *grid),
            _turned(ring.base_place, ring.base_share, detail.spokes, *grid),
            _turned(ring.out_place, ring.out_share, detail.spokes, *spokes),
            reflectance,
        ),
        transmittance,
    )


def _rays(
    members: NDArray, detail: Detail, rim: float, share: NDArray, start: NDArray, run: NDArray, rings: bool
) -> DropRays:
    """Rays that have met nothing yet; rings: whether where they end on the rings is to be found."""
    size = (len(members), *share.shape)
    ring_place = np.zeros((*(size if rings else (0, *share.shape)), 2), dtype=np.float32)
    ring_place[..., 0] = REACH.beyond_rings
    column = np.full(size, MEETS.dark, dtype=np.int32)
    return DropRays(members, rim, detail.rings, share, start, run, column, ring_place, np.zeros(size[:2]))


def solve(
    transfer: DropTransfer, incident: Incident, rings: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The irradiance on some drops' bases (m, 3, nodes), and what comes by way of them to the petal round
    them (m, 3, places), which lies on so many rings."""
    matrices, size = transfer.matrices, (len(transfer.members), 3)
    through = transfer.transmittance * incident.behind
    outside = np.zeros((*size, len(matrices.base_to_base)))
    far = np.zeros((*size, len(matrices.ring_to_ring)))
    nothing = np.zeros((len(through), rings, 1, 3))
    drop_rays.come_in(len(through), transfer.far_rays, nothing, incident.exitance, far)
    far += incident.dome_level * transfer.far_rays.dome[:, None]
    straight = incident.base + incident.dome_level * transfer.base_rays.dome
    by_drop = np.zeros_like(far)
    for _ in range(2):  # base and rings from one another
        irradiance = incident.ring[:, None] + by_drop + incident.about[..., None]
        ring_exitance = matrices.reflectance[..., None] * irradiance + through[..., None]
        coloured = np.ascontiguousarray(ring_exitance.reshape(*size, rings, -1).transpose(0, 2, 3, 1))
        drop_rays.come_in(len(through), transfer.base_rays, coloured, incident.exitance, outside)
        base, by_drop = straight[:, None] + outside, far.copy()
        drop_radiosity.exchange(len(through), matrices, through, ring_exitance, base, by_drop)
    return base, by_drop


def _ring_radius(rim: NDArray | float, ring: NDArray, rings: int) -> NDArray[np.float64]:
    """Radii of rings round a drop, in its own: see `near_transfer.ring_radius`."""
    return np.asarray(rim * (REACH.outer / rim) ** ((ring / (rings - 1.0)) ** 2))


def between_rings(
    rims: NDArray[np.float64], by_drop: NDArray[np.float64], rest: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Light on BETWEEN times finer rings (nd, finer, spokes, 3).

    by_drop (nd, rings, spokes, 3) : falls off with the third power of the radius, so that times that power it
    is taken to be linear in the ring's number. rest (nd, rings, spokes) : linear as it is. rims (nd,) : radii
    of the bases."""
    many, rings, spokes, _ = by_drop.shape
    ring = np.arange((rings - 1) * BETWEEN + 1) / BETWEEN
    inner = np.minimum(ring.astype(int), rings - 2)
    u = ring - inner
    weight = np.zeros((len(ring), rings))
    weight[np.arange(len(ring)), inner] = 1.0 - u
    weight[np.arange(len(ring)), inner + 1] += u
    fine = np.empty((many, len(ring), spokes, 3))
    for rim in np.unique(rims):
        of_rim = rims == rim
        at, on = _ring_radius(rim, ring, rings), _ring_radius(rim, np.arange(rings), rings)
        power = weight * (on / at[:, None]) ** 3
        drop, even = by_drop[of_rim].reshape(-1, rings, spokes * 3), rest[of_rim]
        fine[of_rim] = (power @ drop).reshape(-1, len(ring), spokes, 3) + (weight @ even)[..., None]
    return fine


def _turned(place: NDArray, share: NDArray, spokes: int, rings: int, of: int) -> NDArray[np.float64]:
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


def base_paths(contact_angle_deg: float, grid: int, rays: int) -> BasePaths:
    """The paths from a base's grid. What goes up, down and back in all is the mean of many more of them round
    each ring: the points of the grid would differ by chance. Points without a path down, say, leave it to the
    others of their ring."""
    paths, many = (_found_base_paths(contact_angle_deg, grid, n) for n in (rays, FINER * rays))
    up, much_up = paths.out_run[..., 2] > 0.0, many.out_run[..., 2] > 0.0

    def scale(share: NDArray, of_many: NDArray) -> NDArray:
        own = share.sum(axis=1)
        wanted = of_many.sum(axis=1).reshape(grid, grid).mean(axis=1)
        some = np.maximum((own > 0.0).reshape(grid, grid).mean(axis=1), 1e-12)  # of a ring's points
        return ((wanted / some).repeat(grid) / np.maximum(own, 1e-12))[:, None]

    upward = scale(paths.out_share * up, many.out_share * much_up)
    downward = scale(paths.out_share * ~up, many.out_share * ~much_up)
    back = scale(paths.back_share, many.back_share / FINER)
    share = paths.out_share * np.where(up, upward, downward)
    order = np.argsort(share == 0.0, axis=1, kind="stable")[:, : np.count_nonzero(share, axis=1).max()]
    share, start, run = (
        np.take_along_axis(one, order.reshape(*order.shape, *[1] * (one.ndim - 2)), axis=1)
        for one in (share, paths.out_start, paths.out_run)
    )
    return paths._replace(out_share=share, out_start=start, out_run=run, back_share=paths.back_share * back)


def _found_base_paths(contact_angle_deg: float, grid: int, rays: int) -> BasePaths:
    angle = np.radians(contact_angle_deg)
    nodes, outs = grid * grid, 2 * rays  # the lowest directions leave twice or three times
    paths = BasePaths(
        float(np.sin(angle)),
        np.zeros((nodes, outs)),
        np.zeros((nodes, outs, 3)),
        np.zeros((nodes, outs, 3)),
        np.zeros((nodes, rays)),
        np.zeros((nodes, rays, 2)),
    )
    base_transfer.find_base_paths(nodes, grid, float(-np.cos(angle)), paths)
    return paths


def ring_paths(contact_angle_deg: float, detail: Detail) -> RingPaths:
    """The paths from each ring of petal round a drop toward it."""
    angle, rings, rays = np.radians(contact_angle_deg), detail.rings, detail.ring_rays
    paths = RingPaths(
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
    near_transfer.find_ring_paths(rings, float(-np.cos(angle)), paths)
    base_transfer.ring_paths_on_grid(paths, detail.grid)
    return paths


def far_paths(paths: RingPaths, spokes: int, many: int) -> tuple[NDArray, NDArray, NDArray]:
    """So many rays for each place of those that leave the drop for farther than the rings, and as many of
    what it hides, turned to each spoke: share (places, 2 many), start and run (places, 2 many, 3)."""
    far = paths.out_share * (paths.out_place[..., 0] >= len(paths.base_share) - 1.0)
    out = _some_rays(far, paths.out_start, paths.out_run, spokes, many)
    hidden = _some_rays(-paths.hidden_share, paths.hidden_start, paths.hidden_run, spokes, many)
    share, start, run = (np.concatenate(pair, axis=2) for pair in zip(out, hidden, strict=True))
    turn = 2.0 * np.pi * np.arange(spokes)[:, None] / spokes
    for rays in (start, run):
        x, y = rays[..., 0].copy(), rays[..., 1].copy()
        rays[..., 0], rays[..., 1] = np.cos(turn) * x - np.sin(turn) * y, np.sin(turn) * x + np.cos(turn) * y
    places = len(share) * spokes
    share, start, run = (one.reshape(places, *one.shape[2:]) for one in (share, start, run))
    return share, start, run


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
