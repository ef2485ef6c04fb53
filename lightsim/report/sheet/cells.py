"""Parts that sheets share: title, picture with its marked drop, inset with its scale, foot."""

from __future__ import annotations

from collections.abc import Sequence

from lightsim.report.drawing.canvas import Box, Canvas
from lightsim.report.drawing.font import shortened, text_width_px
from lightsim.report.drawing.grey_card import INK, LABEL, PLATE, RULE
from lightsim.report.drawing.plan_icon import plan_icon
from lightsim.report.frames import SheetFrame
from lightsim.report.sheet.inset import draw_scale_bar, enlarged, inset_box
from lightsim.report.words import DASH, sentence


def draw_title(
    canvas: Canvas, x: int, y: int, content: int, title: str, lines: Sequence[str], text_px: int, line_px: int
) -> None:
    """Title, as large as fits, and the lines below it. y: the top; content: width to stay in."""
    title = sentence(title)
    size = round(1.9 * text_px)
    while size > text_px and text_width_px(title, size, bold=True) > content:
        size -= 1
    y += round(1.4 * text_px)
    if title:
        canvas.text(x, y, shortened(title, size, content, bold=True), size, INK, bold=True)
    y += round(0.3 * text_px)
    for line in lines:
        y += line_px
        canvas.text(x, y, line, text_px, LABEL)


def draw_foot(
    canvas: Canvas, x: int, y: int, content: int, lines: Sequence[str], text_px: int, line_px: int
) -> None:
    """A hairline and the lines of the foot under it."""
    pad = round(0.38 * text_px)
    canvas.bar((x, y - pad, x + content, y - pad + max(text_px // 16, 1)), RULE)
    for line in lines:
        y += line_px
        canvas.text(x, y, line, text_px, LABEL)


def draw_picture(canvas: Canvas, box: Box, frame: SheetFrame, corner_px: int) -> None:
    """The picture, as large as the box allows, with fine corners around the reference drop."""
    from PIL import Image

    left, top, right, bottom = box
    height, width = frame.image.shape[:2]
    scale = min((right - left) / width, (bottom - top) / height)
    size = (round(width * scale), round(height * scale))
    picture = Image.fromarray(frame.image).resize(size, Image.Resampling.LANCZOS)
    left, top = left + (right - left - size[0]) // 2, top + (bottom - top - size[1]) // 2
    canvas.picture(picture, left, top)
    if frame.inset_drop is not None:
        x0, y0, x1, _ = (edge * scale for edge in inset_box(frame.image.shape, frame.inset_drop))
        _draw_corners(canvas, left + x0, top + y0, x1 - x0, corner_px)


def _draw_corners(canvas: Canvas, left: float, top: float, side: float, thick: int) -> None:
    """Four fine corners of a square."""
    arm = max(round(side * 0.2), 3 * thick)
    xs, ys = (round(left), round(left + side)), (round(top), round(top + side))
    for x, along_x in zip(xs, (1, -1), strict=True):
        for y, along_y in zip(ys, (1, -1), strict=True):
            for inward, colour in ((thick, LABEL), (0, INK)):  # dark beside white shows on any picture
                left_x, top_y = x + along_x * inward, y + along_y * inward
                canvas.bar(_ordered(left_x, top_y, x + along_x * arm, top_y + along_y * thick), colour)
                canvas.bar(_ordered(left_x, top_y, left_x + along_x * thick, y + along_y * arm), colour)


def _ordered(x0: int, y0: int, x1: int, y1: int) -> Box:
    return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)


def draw_plan(
    canvas: Canvas, right: int, top: int, frame: SheetFrame, farthest_mm: float, height_px: int
) -> None:
    """The plan of the frame's light, its right edge given; nothing where there is no light to show.

    farthest_mm : the distance that the plan's circle stands for. A nearer light is drawn nearer, but never
        nearer than half the circle's radius, so that it stays clear of the flower.
    """
    if frame.angle_deg is None:
        return
    share = frame.distance_mm / farthest_mm if farthest_mm > 0 else 1.0
    icon = plan_icon(frame.angle_deg, frame.clock, height_px, ring=0.5 + 0.5 * share)
    canvas.picture(icon, right - icon.width, top)


def draw_inset(canvas: Canvas, x: int, y: int, side: int, frame: SheetFrame, text_px: int) -> None:
    """The reference drop enlarged, or a plate with a dash where there is none."""
    if frame.inset_drop is None:
        canvas.bar((x, y, x + side, y + side), PLATE)
        canvas.text(x + side / 2, y + side / 2, DASH, text_px, INK, anchor="mm")
    else:
        canvas.picture(enlarged(frame.image, frame.inset_drop, side), x, y)


def draw_inset_scale(canvas: Canvas, x: int, y: int, side: int, frame: SheetFrame, text_px: int) -> None:
    """The scale of an inset so many pixels wide, standing on the line y; nothing where it is not known."""
    if frame.inset_drop is not None and frame.mm_per_px is not None:
        left, _, right, _ = inset_box(frame.image.shape, frame.inset_drop)
        width_mm = frame.mm_per_px * (right - left)
        draw_scale_bar(canvas, x, y, width_mm, width_mm / side, text_px)
