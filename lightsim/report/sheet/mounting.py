"""A picture mounted like a specimen: a narrow neutral grey mat round it, the reference drop marked in it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.sheet_of_paper import Box, Sheet
from lightsim.report.frames import ReferenceDrop, SheetFrame, enlarged, inset_box

MAT_MM = 1.1
INSET_MAT_MM = 0.6
_MARK_MM = 0.2  # thickness of the marks in a picture
_WHITE, _BLACK = (255, 255, 255), (0, 0, 0)


def draw_mounted(sheet: Sheet, picture: NDArray[np.uint8], box: Box, mat: float = MAT_MM) -> Box:
    """A picture within its mat, which fills the box; returns the picture's own box, mm.

    A picture of another shape is centred, the mat wider at its sides.
    """
    sheet.bar(box, sheet.theme.mat, zorder=1.2)
    left, top, right, bottom = box[0] + mat, box[1] + mat, box[2] - mat, box[3] - mat
    height, width = picture.shape[:2]
    scale = min((right - left) / width, (bottom - top) / height)
    x = left + 0.5 * (right - left - width * scale)
    y = top + 0.5 * (bottom - top - height * scale)
    return sheet.picture(picture, (x, y, x + width * scale, y + height * scale))


def draw_frame_picture(sheet: Sheet, frame: SheetFrame, box: Box) -> None:
    """A frame's picture in its mat, its drops marked; one that cannot be built is struck through."""
    taken = draw_mounted(sheet, frame.image, box)
    for drop in (frame.inset_drop, frame.second_drop):
        if drop is not None:
            _mark_drop(sheet, frame, drop, taken)
    strike_unbuildable(sheet, frame, taken)


def strike_unbuildable(sheet: Sheet, frame: SheetFrame, taken: Box) -> None:
    """A line across a picture of what cannot be built. taken : by the picture."""
    if frame.not_buildable:
        left, top, right, bottom = taken
        for colour, width in ((_BLACK, 0.7), (_WHITE, 0.3)):
            sheet.line([(left, bottom), (right, top)], colour, width, clip=taken, zorder=3.0)


def _mark_drop(sheet: Sheet, frame: SheetFrame, drop: ReferenceDrop, taken: Box) -> None:
    """Fine corners of the square that the inset shows; dark beside white shows on any picture."""
    scale = (taken[2] - taken[0]) / frame.image.shape[1]
    x0, y0, x1, y1 = (edge * scale for edge in inset_box(frame.image.shape, drop))
    x0, y0, x1, y1 = taken[0] + x0, taken[1] + y0, taken[0] + x1, taken[1] + y1
    arm = 0.22 * (x1 - x0)
    for colour, off in ((_BLACK, _MARK_MM), (_WHITE, 0.0)):
        for x, inward_x in ((x0, 1.0), (x1, -1.0)):
            for y, inward_y in ((y0, 1.0), (y1, -1.0)):
                at_x, at_y = x + inward_x * off, y + inward_y * off
                corner = [(at_x + inward_x * arm, at_y), (at_x, at_y), (at_x, at_y + inward_y * arm)]
                sheet.line(corner, colour, _MARK_MM, clip=taken, zorder=3.0)


def draw_drop_inset(
    sheet: Sheet, frame: SheetFrame, drop: ReferenceDrop, x: float, y: float, side: float
) -> None:
    """A drop enlarged in a mat of its own, `side` mm square over all."""
    inner = side - 2.0 * INSET_MAT_MM
    picture = np.asarray(enlarged(frame.image, drop, round(inner / 25.4 * sheet.dpi)))
    draw_mounted(sheet, picture, (x, y, x + side, y + side), INSET_MAT_MM)


def inset_width_mm(frame: SheetFrame, drop: ReferenceDrop) -> float | None:
    """How much of the subject an inset shows from edge to edge, mm; None where the scale is not known."""
    if frame.mm_per_px is None:
        return None
    left, _, right, _ = inset_box(frame.image.shape, drop)
    return frame.mm_per_px * (right - left)
