"""Where the kept paths end on the drops' grids: looked up once, for all lights and frames."""

from __future__ import annotations

from typing import NamedTuple

from numpy.typing import NDArray

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.base_transfer import grid_ring
from lightsim.tracer.kernels.camera_paths import TAG
from lightsim.tracer.kernels.jit import jit, threaded
from lightsim.tracer.kernels.near_transfer import REACH, about, ring_of
from lightsim.tracer.kernels.pixel_cells import CELL
from lightsim.tracer.kernels.vectors import dot, row, sub


class RingPlaces(NamedTuple):
    """Where pixels lie on the rings about drops.

    rims (nd,) : radii of the drops' bases. near, bounds : the drops near each cell of pixels, see
    `near_drops.list_near`. Of pixels wholly on the petal's front, found beforehand: start (pixels + 1,) where
    each one's drops begin; drop (n,) int32; place (n, 2) float32: ring and turn of its mean place.
    """

    rims: NDArray
    near: NDArray
    bounds: NDArray
    start: NDArray
    drop: NDArray
    place: NDArray


@jit
def round_drop(drops, rims, rings, k, x):
    """Whether x lies on the rings round drop k, and on which ring, at which turn."""
    m = sub(x, row(drops.foot, k))
    if dot(m, m) >= REACH.outer * REACH.outer * drops.radius[k] * drops.radius[k]:
        return False, 0.0, 0.0
    off, turn = about(drops, k, x)
    return True, ring_of(rims[k], rings, off), turn


@jit
def _place_pixel(view, found, rings, first, last, p):
    x = row(view.paths.mean_place, p)
    counting = found.drop.shape[0] == 0
    n = 0 if counting else found.start[p]
    for q in range(first, last):
        inside, ring, turn = round_drop(view.drops, found.rims, rings, found.near[q], x)
        if inside and not counting:
            found.drop[n], found.place[n, 0], found.place[n, 1] = found.near[q], ring, turn
        n += 1 if inside else 0
    if counting:
        found.start[p + 1] = n


@jit
def _place_on_base(view, found, grid, e):
    paths, petal, drops = view.paths, view.petal, view.drops
    k = int(paths.base_drop[e])
    x = petal_mesh.place(petal, int(paths.base_face[e]), paths.base_uv[e, 0], paths.base_uv[e, 1])
    off, turn = about(drops, k, x)
    paths.base_place[e, 0] = grid_ring(grid, found.rims[k], off / found.rims[k])
    paths.base_place[e, 1] = turn


@jit
def _find_places_one(view, found, grid, rings, r):
    paths, bounds = view.paths, found.bounds
    begin = r * paths.width
    for x in range(paths.width):
        p = begin + x
        first, last = bounds[r // CELL, x // CELL, 0], bounds[r // CELL, x // CELL, 1]
        if first < last and paths.whole[p] == 1 and paths.petal_tag[paths.mean_end[p]] & TAG.front:
            _place_pixel(view, found, rings, first, last, p)
    if found.drop.shape[0] == 0:
        for e in range(paths.base_start[begin], paths.base_start[begin + paths.width]):
            _place_on_base(view, found, grid, e)


@threaded
def find_places(begin, end, view, found, grid, rings):
    """Fill base_place of a view's paths, for base grids of so many rings, and `found`, a `RingPlaces`, for so
    many rings round a drop.

    Where `found.drop` has no room yet, start[p + 1] gets how many drops pixel p lies round.
    """
    for r in range(begin, end):
        _find_places_one(view, found, grid, rings, r)
