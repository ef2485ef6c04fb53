"""The reference drop, and a drop away from the focus, enlarged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from PIL.Image import Image

    from lightsim.picture import DropsSeen

LEAST_SECOND_PX = 5.0  # radius of a drop away from the focus that is worth enlarging
MARGIN = 1.4  # half the inset's side, in radii of the drop


@dataclass(frozen=True)
class ReferenceDrop:
    """The drop that is shown enlarged under every frame.

    centre_px : column and row of its centre; pixel centres are at .5.  radius_px : of its disc.
    """

    centre_px: tuple[float, float]
    radius_px: float


def reference_drop(drops: DropsSeen, index: int | None) -> ReferenceDrop | None:
    """A drop's place in the picture, or None where there is none to show."""
    if index is None:
        return None
    column, row = drops.centre_px[index]
    return ReferenceDrop((float(column), float(row)), float(drops.radius_px[index]))


def defocused_drop(drops: DropsSeen, shape: tuple[int, ...], but: int | None) -> ReferenceDrop | None:
    """The most blurred drop whole in the frame and large enough to see; None where there is none.

    shape : height and width of the picture, pixels.  but : the drop that is shown already.
    """
    height, width = shape[:2]
    room = np.minimum(drops.centre_px, np.array([width, height]) - drops.centre_px).min(
        axis=1, initial=np.inf
    )
    good = (room >= drops.radius_px) & (drops.radius_px >= LEAST_SECOND_PX) & (drops.blur_px > 0.0)
    if but is not None:
        good[but] = False
    if not good.any():
        return None
    return reference_drop(drops, int(np.argmax(np.where(good, drops.blur_px, -1.0))))


def inset_box(shape: tuple[int, ...], drop: ReferenceDrop) -> tuple[float, float, float, float]:
    """The square of the picture that the inset shows: left, top, right, bottom in pixels.

    Centred on the drop where it can be; it is moved to stay inside the frame.
    """
    height, width = shape[:2]
    half = min(MARGIN * drop.radius_px, width / 2, height / 2)
    column = min(max(drop.centre_px[0], half), width - half)
    row = min(max(drop.centre_px[1], half), height - half)
    return column - half, row - half, column + half, row + half


def enlarged(image: NDArray[np.uint8], drop: ReferenceDrop, side_px: int) -> Image:
    """The drop and a little of the petal around it, `side_px` square."""
    from PIL import Image

    box = inset_box(image.shape, drop)
    return Image.fromarray(image).resize((side_px, side_px), Image.Resampling.BICUBIC, box=box)
