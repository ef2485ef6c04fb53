"""Finding the camera's paths, block of rows by block of rows, and keeping them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.lens_records import CameraGeometry
from lightsim.picture import DropsSeen, Maps
from lightsim.scene.stage import DropSet
from lightsim.tracer.drop_transfer import Detail
from lightsim.tracer.kernels import camera_paths, drop_grids, near_drops, path_store, pixel_cells
from lightsim.tracer.kernels.camera_paths import CameraRows, Counts, Ends, Lens
from lightsim.tracer.kernels.drop_grids import RingPlaces
from lightsim.tracer.kernels.path_store import CameraView, Paths
from lightsim.tracer.kernels.visibility_cache import COARSE
from lightsim.tracer.pack import Packed

Progress = Callable[[float], None]
ENDS_AT_ONCE = 1_000_000  # samples in one block of rows
NEAR_RADII = 10.0  # light gathered by a drop is looked for within so many of its radii


@dataclass(frozen=True)
class Block:
    """The kept paths of some rows, with the drops near each cell of pixels."""

    view: CameraView
    near: NDArray[np.int32]
    near_start: NDArray[np.int64]
    balls: NDArray[np.float64]
    rings: RingPlaces

    @property
    def paths(self) -> Paths:
        """The kept paths."""
        return self.view.paths

    @property
    def pixels(self) -> slice:
        """Its pixels in the whole picture."""
        first = self.paths.first
        return slice(first, first + self.paths.width * self.paths.rows)


def numbered(chosen: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Numbers of the chosen pixels, one after the other; -1 for the others."""
    return np.where(chosen, np.cumsum(chosen) - 1, -1).astype(np.int32)


def lens_of(geometry: CameraGeometry, width_px: int) -> Lens:
    """The kernels' camera for a picture this many pixels wide."""
    height = max(1, round(width_px / geometry.aspect))
    pitch = geometry.field_width_mm / width_px
    return Lens(width_px, height, pitch, geometry.pupil_distance_mm, geometry.pupil_radius_mm)


def seen_from(lens: Lens) -> NDArray[np.float64]:
    """The place (3,) that gloss is seen from: the middle of the pupil, or very far where that lies beyond the
    subject."""
    far = lens.pupil_distance if lens.pupil_distance > 0.0 else camera_paths.LIMITS.before_mm
    return np.array([0.0, 0.0, far])


def rows_at_once(lens: Lens, samples: int) -> int:
    """How many rows make a block, a multiple of the wide blocks' size."""
    rows = ENDS_AT_ONCE // (lens.width * samples)
    return int(max(1, rows // COARSE)) * COARSE


def find_block(
    packed: Packed, lens: Lens, first_row: int, rows: int, samples: int, seed: int, detail: Detail
) -> tuple[Block, Counts]:
    """The paths of `rows` rows from `first_row` on, and the counts for the maps. detail: of indirect light's
    places on the drops' bases and round them."""
    room = 2 * samples * lens.width
    ends, counts = _buffers(rows, room), _counts(rows, lens.width)
    camera = CameraRows(lens, first_row, samples, seed, packed.foot_face)
    camera_paths.find_paths(rows, packed.petal, packed.drops, camera, ends, counts)
    paths = _pack_paths(ends, counts, lens, first_row, rows, samples)
    path_store.summarise(rows, paths, packed.petal)
    near, start, balls = _near(paths, packed)
    view = CameraView(paths, packed.petal, packed.drops, seen_from(lens))
    places = _ring_places(view, packed.rims, near, start, detail)
    return Block(view, near, start, balls, places), counts


def _buffers(rows: int, room: int) -> Ends:
    def one(kind: type, *more: int) -> NDArray:
        return np.empty((rows, room, *more), dtype=kind)

    return Ends(
        one(np.int32), one(np.float32, 2), one(np.float32), one(np.uint8),
        one(np.int32), one(np.int32), one(np.float32, 2), one(np.float32), one(np.uint8),
        one(np.float32, 6), one(np.float32), one(np.uint8), one(np.int32),
    )  # fmt: skip


def _counts(rows: int, width: int) -> Counts:
    whole = [np.zeros((rows, width), dtype=np.int32) for _ in range(3)]
    share = [np.zeros((rows, width), dtype=np.float32) for _ in range(2)]
    index = np.zeros((rows, width), dtype=np.int32)
    return Counts(*whole, *share, index, np.zeros((rows, width), dtype=np.float32))


def _pack_paths(ends: Ends, counts: Counts, lens: Lens, first_row: int, rows: int, samples: int) -> Paths:
    pixels = rows * lens.width

    def starts(per_pixel: NDArray) -> NDArray[np.int64]:
        return np.concatenate([[0], np.cumsum(per_pixel.ravel(), dtype=np.int64)])

    def packed(buffer: NDArray, per_pixel: NDArray) -> NDArray:
        used = per_pixel.sum(axis=1)
        return np.concatenate([buffer[r, : used[r]] for r in range(rows)])

    petal = [
        packed(b, counts.petal) for b in (ends.petal_face, ends.petal_uv, ends.petal_weight, ends.petal_tag)
    ]
    base = [
        packed(b, counts.base)
        for b in (ends.base_drop, ends.base_face, ends.base_uv, ends.base_weight, ends.base_tag)
    ]
    environment = [
        packed(b, counts.environment)
        for b in (ends.environment_ray, ends.environment_weight, ends.environment_tag, ends.environment_drop)
    ]
    on_base = np.zeros((len(base[0]), 2), dtype=np.float32)
    means = [np.zeros((pixels, 3), dtype=np.float32) for _ in range(4)]
    return Paths(
        first_row * lens.width, lens.width, rows, samples,
        starts(counts.petal), *petal, starts(counts.base), *base, on_base,
        starts(counts.environment), *environment,
        np.zeros(pixels, dtype=np.uint8), *means, np.zeros(pixels, dtype=np.float32),
        np.full(pixels, -1, dtype=np.int64),
    )  # fmt: skip


def _near(paths: Paths, packed: Packed) -> tuple[NDArray[np.int32], NDArray[np.int64], NDArray[np.float64]]:
    rows, columns = -(-paths.rows // pixel_cells.CELL), -(-paths.width // pixel_cells.CELL)
    drops, count = packed.drops, len(packed.drops.radius)
    start, balls = np.zeros((rows, columns, 2), dtype=np.int64), np.empty((rows, columns, 4))
    counted = near_drops.NearList(start, np.zeros(0, dtype=np.int32), balls)
    near_drops.list_near(rows, paths, drops, NEAR_RADII, counted)
    many = start[..., 1].ravel()
    end = np.cumsum(many)
    start[..., 0] = (end - many).reshape(rows, columns)
    near = np.zeros(max(1, int(end[-1])), dtype=np.int32)
    near_drops.list_near(rows, paths, drops, NEAR_RADII, counted._replace(drop=near))
    # the drops of each cell in the order of their numbers
    cell = count * np.repeat(np.arange(len(many)), many)
    near[: end[-1]] = np.sort(cell + near[: end[-1]]) - cell
    return near, start, balls


def _ring_places(
    view: CameraView, rims: NDArray, near: NDArray, bounds: NDArray, detail: Detail
) -> RingPlaces:
    paths = view.paths
    start = np.zeros(paths.width * paths.rows + 1, dtype=np.int64)
    none = np.zeros(0, dtype=np.int32), np.zeros((0, 2), dtype=np.float32)
    nowhere = RingPlaces(rims, near, bounds, start, *none)
    drop_grids.find_places(paths.rows, view, nowhere, detail.grid, detail.read_rings)
    np.cumsum(start, out=start)
    many = int(start[-1])
    if many == 0:
        return nowhere
    found = nowhere._replace(drop=np.zeros(many, dtype=np.int32), place=np.zeros((many, 2), dtype=np.float32))
    drop_grids.find_places(paths.rows, view, found, detail.grid, detail.read_rings)
    return found


def maps_of(counts: list[Counts], seen: DropsSeen) -> Maps:
    """The maps of the whole picture."""

    def stacked(name: str) -> NDArray:
        return np.concatenate([getattr(c, name) for c in counts])

    petal, drop = stacked("petal_cover"), stacked("drop_cover")
    backdrop = np.clip(1.0 - petal - drop, 0.0, 1.0).astype(np.float32)
    return Maps(petal, drop, backdrop, stacked("drop_index"), stacked("depth"), seen)


def drops_seen(drops: DropSet, geometry: CameraGeometry, lens: Lens) -> DropsSeen:
    """Where each drop stands in the picture: a sphere's outline by perspective, and its front's defocus."""
    centre = np.asarray(drops.centre, dtype=float).reshape(-1, 3)
    distance = geometry.pupil_distance_mm - centre[:, 2]
    scale = geometry.pupil_distance_mm / distance / lens.pitch
    column = 0.5 * lens.width + centre[:, 0] * scale
    line = 0.5 * lens.height - centre[:, 1] * scale
    front = centre[:, 2] + drops.radius
    away = np.abs(geometry.pupil_distance_mm - front)
    blur = 2.0 * geometry.pupil_radius_mm * np.abs(front) / away / lens.pitch
    radius = np.asarray(drops.radius, dtype=float)
    return DropsSeen(np.stack([column, line], axis=-1), radius * scale, blur, radius)
