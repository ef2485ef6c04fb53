"""The reference drop: which one it is, and its picture enlarged with a scale bar."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, log10
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.present.canvas import Canvas
from lightsim.present.theme import INK, LABEL
from lightsim.present.words import plain

if TYPE_CHECKING:
    from PIL.Image import Image

    from lightsim.picture import DropsSeen, Maps

MARGIN = 1.4  # half the inset's side, in radii of the drop
SMALLEST_RADIUS_PX = 2.0  # below this there is nothing to enlarge


@dataclass(frozen=True)
class ReferenceDrop:
    """The drop that is shown enlarged under every frame.

    centre_px : column and row of its centre; pixel centres are at .5.  radius_px : of its disc.
    """

    centre_px: tuple[float, float]
    radius_px: float


def choose_reference_drop(maps: Maps) -> int | None:
    """The drop to show enlarged: in focus, whole in the frame, little hidden, large, near the centre.

    Returns its index, or None where no drop lies whole in the frame. Where none is quite in focus the
    sharpest for its size is preferred.
    """
    score = _scores(maps.drops, maps.drop_index)
    return int(np.argmax(score)) if score.size and score.max() > 0 else None


def reference_drop(maps: Maps) -> ReferenceDrop | None:
    """The chosen drop's place in the picture, or None where there is none to show."""
    index = choose_reference_drop(maps)
    if index is None:
        return None
    column, row = maps.drops.centre_px[index]
    return ReferenceDrop((float(column), float(row)), float(maps.drops.radius_px[index]))


def _scores(drops: DropsSeen, drop_index: NDArray) -> NDArray:
    """(n,) float, 0 for a drop that cannot serve; larger is better."""
    height, width = drop_index.shape
    centre = np.asarray(drops.centre_px, dtype=float).reshape(-1, 2)
    radius = np.asarray(drops.radius_px, dtype=float)
    if not radius.size:
        return radius
    room = np.minimum(centre, np.array([width, height]) - centre).min(axis=1)
    whole = (room >= radius) & (radius >= SMALLEST_RADIUS_PX)
    off_centre = np.hypot(*(centre - np.array([width, height]) / 2).T) / np.hypot(width, height)
    blur = np.asarray(drops.blur_px, dtype=float) / np.maximum(radius, 1e-9)
    sharp = 1.0 / (1.0 + (blur / 0.15) ** 2)
    seen = _seen_share(drop_index, radius)
    return whole * sharp * seen**2 * np.sqrt(radius) * np.exp(-((off_centre / 0.3) ** 2))


def _seen_share(drop_index: NDArray, radius: NDArray) -> NDArray:
    """(n,) float, share of each drop's disc that is seen and not hidden by another drop or the petal."""
    seen = np.bincount(drop_index[drop_index >= 0].ravel(), minlength=len(radius))[: len(radius)]
    return np.minimum(seen / np.maximum(np.pi * radius**2, 1.0), 1.0)


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
