"""Which drops of a photograph can be measured, and a window on each of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from lightsim.measure.records import DropMeasures
from lightsim.picture import DropsSeen, Photograph, luminance

LEAST_RADIUS_PX = 6.0
MOST_BLUR = 0.25  # diameter of the defocus disc / radius of the drop's disc
LEAST_VISIBLE = 0.4  # share of the sphere's disc; a flat drop (60 deg) shows about 0.75 of it
REACH = 2.0  # half the window's side / radius
BARE = 0.98  # petal cover of a pixel that counts as bare petal

DROP_KEYS = tuple(f.name for f in fields(DropMeasures) if f.default is None)


@dataclass(frozen=True)
class View:
    """A window on one drop: square, REACH radii each way, cut at the picture's edge.

    index : the drop.  radius_px : of its disc.  corner_px : (column, row) of the window's first pixel.
    right, down : pixels from the drop's centre, (1, w) and (h, 1).  share : (h, w), distance / radius.
    light : (h, w) luminance.  key : (h, w) luminance without the other lights, None where not known.
    clipped : (h, w) bool, any channel at the sensor's limit.
    glint, lit, bare, own, other : (h, w) or None for a real photograph: the key's mirror image, the key's
    visibility, pixels of bare petal, of this drop, and of other drops or the backdrop.
    """

    index: int
    radius_px: float
    corner_px: tuple[int, int]
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


@dataclass(frozen=True)
class Frame:
    """The arrays that all drops of a photograph share; worked out once."""

    photo: Photograph
    light: NDArray
    key: NDArray | None
    clipped: NDArray

    @classmethod
    def of(cls, photo: Photograph, fill_linear: NDArray | None = None) -> Frame:
        """Luminance, the key's own share of it where a picture without the key is given, clipped pixels."""
        light = photo.luminance()
        key = None if fill_linear is None else light - luminance(fill_linear)
        return cls(photo, light, key, clipped_pixels(photo))


def clipped_pixels(photo: Photograph) -> NDArray:
    """Pixels of which any channel is at the sensor's limit, (h, w) bool."""
    at_limit = photo.linear >= np.float32(photo.saturation)
    return at_limit[..., 0] | at_limit[..., 1] | at_limit[..., 2]


def view(frame: Frame, index: int, centre_px: tuple[float, float], radius_px: float) -> View:
    """The window on one drop. centre_px: (column, row), pixel centres at .5."""
    height, width = frame.photo.shape
    rows = _span(centre_px[1], REACH * radius_px, height)
    columns = _span(centre_px[0], REACH * radius_px, width)
    down = (np.arange(rows.start, rows.stop, dtype=np.float32) + np.float32(0.5 - centre_px[1]))[:, None]
    right = (np.arange(columns.start, columns.stop, dtype=np.float32) + np.float32(0.5 - centre_px[0]))[None]
    where = (rows, columns)
    return View(
        index,
        radius_px,
        (columns.start, rows.start),
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
        known["bare"] = photo.maps.petal_cover[where] > BARE
        known["own"] = seen == index
        known["other"] = ((seen >= 0) & (seen != index)) | (photo.maps.backdrop_cover[where] > 0.5)
    return known


def reasons(drops: DropsSeen, shape: tuple[int, int]) -> list[str | None]:
    """Why a drop cannot be measured, None for one that can: one entry a drop.

    A drop must stand in the frame with its whole disc, be at least LEAST_RADIUS_PX in radius, and have
    a defocus disc of at most MOST_BLUR of its radius (our rule, no source).
    """
    height, width = shape
    x, y = drops.centre_px[:, 0], drops.centre_px[:, 1]
    r, blur = drops.radius_px, drops.blur_px
    outside = (x + r <= 0) | (x - r >= width) | (y + r <= 0) | (y - r >= height)
    cut = (x - r < 0) | (x + r > width) | (y - r < 0) | (y + r > height)
    tests = (
        (outside, "the drop is outside the frame"),
        (cut, "the drop is cut by the edge of the frame"),
        (r < LEAST_RADIUS_PX, f"the drop is smaller than {2 * LEAST_RADIUS_PX:g} pixels across"),
        (blur > MOST_BLUR * r, "the drop is out of focus"),
    )
    return [next((why for fails, why in tests if fails[k]), None) for k in range(len(r))]


def hidden(seen: View) -> str | None:
    """Reason when less than LEAST_VISIBLE of the drop's disc is seen, else None."""
    if seen.own is None:
        return None
    share = float(seen.own.sum()) / (np.pi * seen.radius_px**2)
    return "the drop is hidden by what stands in front of it" if share < LEAST_VISIBLE else None


def choose_reference(drops: DropsSeen, usable: list[bool], shape: tuple[int, int]) -> int | None:
    """The drop to show enlarged: large, sharp and near the middle, of those that can be measured.

    The same drop comes out for every angle of a sweep, since it depends on where the drops stand alone.
    """
    if not any(usable):
        return None
    height, width = shape
    away = np.hypot(drops.centre_px[:, 0] - width / 2, drops.centre_px[:, 1] - height / 2)
    score = drops.radius_px * (1.0 - away / np.hypot(width, height)) * (1.0 - drops.blur_px / drops.radius_px)
    return int(np.argmax(np.where(usable, score, -np.inf)))


def all_missing(reason: str) -> Mapping[str, str]:
    """The same reason for every number of a drop."""
    return dict.fromkeys(DROP_KEYS, reason)
