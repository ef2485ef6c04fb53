"""The reference drop: its place, and its picture enlarged with a scale bar."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, log10
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.canvas import Canvas
from lightsim.report.drawing.grey_card import INK, LABEL
from lightsim.report.words import plain

if TYPE_CHECKING:
    from PIL.Image import Image

    from lightsim.picture import DropsSeen

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


def scale_length_mm(width_mm: float, largest_share: float = 0.4) -> float:
    """A round length (1, 2 or 5 times a power of ten) of at most that share of a width, mm."""
    limit = width_mm * largest_share
    power = 10.0 ** floor(log10(limit))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= limit * (1 + 1e-9))


def draw_scale_bar(canvas: Canvas, x: int, y: int, width_mm: float, mm_per_px: float, size_px: int) -> None:
    """A scale bar with end strokes, standing on the line y, and its length in words after it.

    width_mm : what the picture beside it shows across.  mm_per_px : size of one pixel of the page there.
    size_px : of the lettering.
    """
    length_mm = scale_length_mm(width_mm)
    length, thick, stroke = round(length_mm / mm_per_px), max(size_px // 11, 1), round(size_px * 0.36)
    top = y - stroke
    middle = y - (stroke + thick) // 2
    canvas.bar((x, middle, x + length, middle + thick), INK)
    canvas.bar((x, top, x + thick, y), INK)
    canvas.bar((x + length - thick, top, x + length, y), INK)
    canvas.text(x + length + size_px // 2, y, f"{plain(length_mm, 4)} mm", size_px, LABEL)
