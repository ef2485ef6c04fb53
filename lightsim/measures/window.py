"""A photograph's arrays, and a window on one of its drops."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from lightsim.measures.clock import HOURS, direction_of
from lightsim.measures.patch_shape import Outline
from lightsim.picture import BARE_COVER, Photograph, luminance

REACH = 2.5  # half the window's side / radius
AWAY_HOURS = 2.5  # a shadow falls within so much of the side opposite to the light
LEAST_PETAL_PX = 20


@dataclass(frozen=True)
class Frame:
    """The arrays that all drops of a photograph share, and where the key stands if that is known.

    light_outline : of the key's face, None where it is not known.
    is_recorded : whether the picture was read from a camera's file, which holds nothing beyond the clipping.
    """

    photo: Photograph
    light: NDArray
    key: NDArray | None
    clipped: NDArray
    light_clock: float | None = None
    light_angle_deg: float | None = None
    is_recorded: bool = False
    light_outline: Outline | None = None

    @classmethod
    def of(
        cls,
        photo: Photograph,
        fill_linear: NDArray | None = None,
        light_clock: float | None = None,
        light_angle_deg: float | None = None,
        light_outline: Outline | None = None,
    ) -> Frame:
        """Luminance, the key's own share of it where a picture without the key is given, clipped pixels."""
        light = photo.luminance()
        key = None if fill_linear is None else light - luminance(fill_linear)
        recorded = photo.maps is None
        clipped = clipped_pixels(photo)
        return cls(photo, light, key, clipped, light_clock, light_angle_deg, recorded, light_outline)

    @property
    def mm_per_px(self) -> float | None:
        """Millimetres a pixel at the plane of sharp focus, None where it is not known."""
        scale = self.photo.mm_per_px
        return scale if 0.0 < scale < float("inf") else None


def clipped_pixels(photo: Photograph) -> NDArray:
    """Pixels of which any channel is at the sensor's limit, (h, w) bool."""
    at_limit = photo.linear >= np.float32(photo.saturation)
    return at_limit[..., 0] | at_limit[..., 1] | at_limit[..., 2]


@dataclass(frozen=True)
class View:
    """A window on one drop: square, REACH radii each way, cut at the picture's edge.

    frame : the photograph.  index : the drop.  centre_px, radius_px : of its disc.
    right, down : pixels from the drop's centre, (1, w) and (h, 1).  share : (h, w), distance / radius.
    light : (h, w) luminance.  key : (h, w) luminance without the other lights, None where not known.
    clipped : (h, w) bool, any channel at the sensor's limit.
    glint, lit, bare, own, other : (h, w) or None for a real photograph: the key's mirror image, the key's
    visibility, pixels of bare petal, of this drop, and of other drops or the backdrop.
    """

    frame: Frame
    index: int
    centre_px: tuple[float, float]
    radius_px: float
    right: NDArray
    down: NDArray
    share: NDArray
    light: NDArray
    key: NDArray | None
    clipped: NDArray
    glint: NDArray | None = None
    lit: NDArray | None = None
    bare: NDArray | None = None
    own: NDArray | None = None
    other: NDArray | None = None

    @cached_property
    def petal(self) -> float | None:
        """Median luminance of the bare petal from 1.15 to 2 radii round the drop.

        None when there is too little of it or it is black. Without maps all pixels of the ring count.
        """
        ring = (self.share > 1.15) & (self.share < 2.0)
        beside = self.light[ring if self.bare is None else ring & self.bare]
        level = float(np.median(beside)) if len(beside) >= LEAST_PETAL_PX else 0.0
        return level if level > 0.0 else None

    @cached_property
    def open_share(self) -> float | None:
        """Share of the key's face that the petal beside the drop sees where the drop does not hide it.

        The 80th percentile out to two radii: the petal itself may hide part of a large light. None where the
        visibility is not known or no bare petal is near.
        """
        if self.lit is None or self.bare is None:
            return None
        beside = self.lit[self.bare & (self.share < 2.0) & np.isfinite(self.lit)]
        if len(beside) == 0:
            return None
        rank = int(0.8 * (len(beside) - 1))
        return float(np.partition(beside, rank)[rank])

    @cached_property
    def away(self) -> NDArray | None:
        """Pixels on the side away from the light, where its clock position is known, (h, w) bool."""
        if self.frame.light_clock is None:
            return None
        right, down = direction_of(self.frame.light_clock + HOURS / 2)
        along = self.right * np.float32(right) + self.down * np.float32(down)
        return along > np.cos(AWAY_HOURS * 2 * np.pi / HOURS) * self.radius_px * self.share


def view_drop(frame: Frame, index: int, centre_px: tuple[float, float], radius_px: float) -> View:
    """The window on one drop. centre_px: (column, row), pixel centres at .5."""
    height, width = frame.photo.shape
    rows = _span(centre_px[1], REACH * radius_px, height)
    columns = _span(centre_px[0], REACH * radius_px, width)
    down = (np.arange(rows.start, rows.stop, dtype=np.float32) + np.float32(0.5 - centre_px[1]))[:, None]
    right = (np.arange(columns.start, columns.stop, dtype=np.float32) + np.float32(0.5 - centre_px[0]))[None]
    where = (rows, columns)
    return View(
        frame,
        index,
        centre_px,
        radius_px,
        right,
        down,
        np.hypot(right, down) / np.float32(radius_px),
        frame.light[where],
        None if frame.key is None else frame.key[where],
        frame.clipped[where],
        **_known(frame.photo, index, where),
    )


def _span(centre: float, reach: float, size: int) -> slice:
    return slice(max(0, int(np.floor(centre - reach))), min(size, int(np.ceil(centre + reach))))


def _known(photo: Photograph, index: int, where: tuple[slice, slice]) -> dict[str, NDArray | None]:
    """What only a simulated photograph knows of the pixels in a window."""
    known: dict[str, NDArray | None] = {
        "glint": None if photo.glint is None else photo.glint[where],
        "lit": None if photo.lit is None else photo.lit[where],
    }
    if photo.maps is not None:
        seen = photo.maps.drop_index[where]
        known["bare"] = photo.maps.petal_cover[where] > np.float32(BARE_COVER)
        known["own"] = seen == index
        known["other"] = ((seen >= 0) & (seen != index)) | (photo.maps.backdrop_cover[where] > 0.5)
    return known
