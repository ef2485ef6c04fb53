"""Real photographs, measured with the same yardstick as simulated ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.errors import PictureError
from lightsim.measures.bare_petal import PetalPlaces
from lightsim.measures.frame_measures import measure_drops, summed_up
from lightsim.measures.measure_records import FrameMeasures
from lightsim.measures.petal_measures import measure_petal
from lightsim.measures.photograph_file import checked_scale
from lightsim.measures.window import Frame
from lightsim.picture import DropsSeen, Photograph

DROP_MARGIN = 1.05  # of a drop's radius: what lies within is not bare petal


def measure_photograph(
    image: Photograph | ArrayLike,
    mm_per_px: float | None = None,
    drops: Sequence[tuple[float, float, float]] | None = None,
    *,
    light_clock: float | None = None,
    petal: ArrayLike | None = None,
) -> FrameMeasures:
    """The measures that a picture alone can give.

    Parameters
    ----------
    image : a photograph that was read, or (h, w, 3) or (h, w) linear values, 1 being white.
    mm_per_px : size of a pixel at the subject, for lengths in mm; a photograph's own when None.
    drops : (column, row, radius) of each drop's disc in pixels, pixel centres at .5; see `find_drops`.
    light_clock : where the light stood; helps to tell the highlight from the caustic opposite to it.
    petal : (h, w), true where the petal is; None takes the whole picture for petal where drops are given. The
        drops are left out of it. With neither, nothing is measured of the petal.

    A highlight is the brightest patch of a disc, a stop or more above it; when it is clipped, its stops are a
    lower limit and are marked so.
    """
    photo = _as_photograph(image, mm_per_px)
    seen = None if drops is None else _seen(drops, photo.mm_per_px)
    frame = Frame.of(photo, light_clock=light_clock)
    records = () if seen is None else measure_drops(frame, seen)
    bare = _bare(photo.shape, seen, petal)
    places = None if bare is None else PetalPlaces(bare, frame.mm_per_px)
    return summed_up(photo, measure_petal(frame, places), records, seen, None)


def _bare(shape: tuple[int, int], drops: DropsSeen | None, petal: ArrayLike | None) -> NDArray | None:
    """The pixels of bare petal, (h, w) bool; None where nothing says."""
    if drops is None and petal is None:
        return None
    bare = np.ones(shape, bool) if petal is None else np.array(petal, dtype=bool)
    if bare.shape != shape:
        raise PictureError(f"petal: a mask of shape {bare.shape}; {shape}, as the picture, is needed")
    if drops is not None:
        down, right = np.ogrid[: shape[0], : shape[1]]
        for (x, y), radius in zip(drops.centre_px, DROP_MARGIN * drops.radius_px, strict=True):
            rows = slice(max(0, int(y - radius)), int(y + radius) + 2)
            columns = slice(max(0, int(x - radius)), int(x + radius) + 2)
            apart = np.hypot(right[:, columns] + 0.5 - x, down[rows] + 0.5 - y)
            bare[rows, columns] &= apart > radius
    return bare


def _as_photograph(image: Photograph | ArrayLike, mm_per_px: float | None) -> Photograph:
    if isinstance(image, Photograph):
        photo = replace(image, glint=None, lit=None, maps=None)
        return photo if mm_per_px is None else replace(photo, mm_per_px=checked_scale(mm_per_px))
    linear = np.asarray(image, dtype=np.float32)
    if linear.ndim == 2:
        linear = np.repeat(linear[..., None], 3, axis=-1)
    if linear.ndim != 3 or linear.shape[-1] != 3 or linear.size == 0:
        raise PictureError(
            f"a picture of shape {linear.shape}; (height, width, 3) or (height, width) is needed"
        )
    return Photograph(linear, checked_scale(mm_per_px))


def _seen(drops: Sequence[tuple[float, float, float]], mm_per_px: float) -> DropsSeen:
    table = np.asarray(drops, dtype=float).reshape(-1, 3)
    if not np.isfinite(table).all() or (table[:, 2] <= 0.0).any():
        raise PictureError("drops: each is (column, row, radius) in pixels, finite, with a radius above 0")
    return DropsSeen(table[:, :2], table[:, 2], np.zeros(len(table)), table[:, 2] * mm_per_px)
