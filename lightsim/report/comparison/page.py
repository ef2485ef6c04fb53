"""Pictures side by side at one exposure, with their measures and how they differ from the first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from lightsim.errors import PictureError
from lightsim.report.comparison.page_layout import ComparePlan, blocks_of, planned, row_height
from lightsim.report.comparison.rows import CompareRow, compare_rows, left_out
from lightsim.report.drawing.canvas import Canvas
from lightsim.report.drawing.font import shortened, wrapped
from lightsim.report.drawing.grey_card import (
    ACCENT,
    INK,
    LABEL,
    PLATE,
    PLATE_LABEL,
    PLATE_LINE,
    PLATE_TEXT,
)
from lightsim.report.drawing.plan_icon import ASPECT
from lightsim.report.frames import SheetFrame, checked_frames, largest_distance_mm
from lightsim.report.sheet.captions import Footnotes
from lightsim.report.sheet.cells import draw_foot, draw_inset, draw_inset_scale, draw_picture, draw_plan
from lightsim.report.words import clock_words, degrees, folded_angle, glued, sentence, trade_name

if TYPE_CHECKING:
    from PIL.Image import Image

__all__ = ["CompareRow", "compare_rows", "compare_sheet"]

FEWEST, MOST = 2, 6
DEFAULT_WIDTH_PX = 3508  # the long side of A4 at 300 dpi


def compare_sheet(
    frames: Sequence[SheetFrame],
    labels: Sequence[str] | None = None,
    *,
    title: str = "Side by side",
    subtitle: str = "",
    footer: str = "",
    exposure_note: str = "",
    width_px: int = DEFAULT_WIDTH_PX,
) -> Image:
    """Two to six pictures at the same exposure over a table of their measures.

    labels : what each is called; the frames' own headings when None.
    exposure_note : what the exposures have in common.  width_px : width of the sheet.
    Raises PictureError for another number of pictures, or labels that do not match.
    """
    canvas = draw_compare(checked_frames(frames), labels, title, (subtitle, exposure_note), footer, width_px)
    return canvas.image


def draw_compare(
    frames: list[SheetFrame],
    labels: Sequence[str] | None,
    title: str,
    notes_above: Sequence[str],
    footer: str,
    width_px: int,
) -> Canvas:
    """The sheet with the boxes of all that is on it."""
    labels = [frame.heading for frame in frames] if labels is None else list(labels)
    if not FEWEST <= len(frames) <= MOST or len(labels) != len(frames):
        raise PictureError(
            f"found {len(frames)} pictures and {len(labels)} labels, "
            f"allowed {FEWEST} to {MOST} pictures with a label each"
        )
    notes = Footnotes()
    measures = [frame.measures for frame in frames]
    rows = compare_rows(measures, notes)
    foot = [
        *map(sentence, footer.splitlines()),
        _key(labels[0]),
        " ".join((*left_out(measures), *notes.sentences())),
    ]
    lights = [light_words(frame, label) for frame, label in zip(frames, labels, strict=True)]
    plan = planned(frames, rows, lights, [line for line in foot if line], width_px)
    blocks = blocks_of(len(frames), plan.per_row)
    canvas = Canvas.blank(plan.width, plan.height(len(blocks)))
    for number, block in enumerate(blocks):
        top = plan.margin + number * (plan.block_height + plan.sizes.gap)
        _draw_block(canvas, plan, top, block, frames, labels, rows)
    _draw_words(canvas, plan, title, notes_above)
    foot_y = plan.margin + len(blocks) * (plan.block_height + plan.sizes.gap)
    sizes = plan.sizes
    draw_foot(canvas, plan.margin, foot_y, plan.content, plan.foot, sizes.text, sizes.line)
    return canvas


def _key(first: str) -> str:
    return f"In amber: the difference from {first}; one stop is a factor of two. Highlights: medians."


def light_words(frame: SheetFrame, label: str) -> str:
    """Trade name, angle and clock position of a frame's light, less what its label says already."""
    if frame.angle_deg is None:
        return ""
    words = trade_name(frame.angle_deg)
    if degrees(frame.angle_deg) not in label:
        words += " " + degrees(frame.angle_deg)
    on_axis = folded_angle(frame.angle_deg) in (0.0, 180.0)
    return words if on_axis or clock_words(frame.clock) in label else f"{words} at {clock_words(frame.clock)}"


def _draw_words(canvas: Canvas, plan: ComparePlan, title: str, notes: Sequence[str]) -> None:
    """Title and notes in the column at the left, beside the first pictures."""
    sizes, x = plan.sizes, plan.margin
    y = plan.margin + sizes.icon - sizes.line - round(0.32 * sizes.text)  # in line with the first label
    for number, line in enumerate(wrapped(sentence(title), sizes.heading, plan.names, bold=True)):
        y += round(1.2 * sizes.heading) if number else 0
        canvas.text(x, y, line, sizes.heading, INK, bold=True)
    y += round(0.04 * sizes.line)
    for note in notes:
        for line in wrapped(glued(sentence(note)), sizes.text, plan.names):
            y += sizes.line
            canvas.text(x, y, line, sizes.text, LABEL)
        y += sizes.pad


def _draw_block(
    canvas: Canvas,
    plan: ComparePlan,
    top: int,
    block: range,
    frames: list[SheetFrame],
    labels: Sequence[str],
    rows: Sequence[CompareRow],
) -> None:
    """A row of pictures and the table under them."""
    farthest = largest_distance_mm(frames)
    for place, index in enumerate(block):
        _draw_column(canvas, plan, plan.column_x(place), top, frames[index], labels[index], farthest)
    sizes = plan.sizes
    y = top + plan.block_height - plan.table_height
    right = plan.column_x(len(block) - 1) + plan.column + sizes.pad
    canvas.bar((plan.margin - sizes.pad, y, right, y + plan.table_height), PLATE)
    y += sizes.pad
    for number, row in enumerate(rows):
        if number:
            canvas.bar((plan.margin, y, right - sizes.pad, y + max(sizes.text // 24, 1)), PLATE_LINE)
        base = y + round(1.12 * sizes.text)
        canvas.text(plan.margin, base, row.name, sizes.text, PLATE_LABEL)
        for place, index in enumerate(block):
            x = plan.column_x(place)
            canvas.text(x, base, row.values[index], sizes.text, PLATE_TEXT)
            if row.changes[index]:
                canvas.text(x + plan.values, base, row.changes[index], sizes.text, ACCENT)
        y += row_height(sizes)


def _draw_column(
    canvas: Canvas, plan: ComparePlan, x: int, top: int, frame: SheetFrame, label: str, farthest_mm: float
) -> None:
    """One picture: its name and its light above, its reference drop below."""
    sizes = plan.sizes
    room = plan.column - round(ASPECT * sizes.icon) - sizes.pad
    base = top + sizes.icon - sizes.line - round(0.32 * sizes.text)
    name = shortened(label, sizes.heading, room, bold=True)
    canvas.text(x, base, name, sizes.heading, INK, bold=True)
    light = light_words(frame, label)
    base = top + sizes.icon - round(0.28 * sizes.text)
    canvas.text(x, base, light, sizes.text, INK)
    draw_plan(canvas, x + plan.column, top, frame, farthest_mm, sizes.icon)
    y = top + sizes.icon + sizes.pad
    box = (x, y, x + plan.column, y + plan.picture_height)
    draw_picture(canvas, box, frame, max(sizes.text // 16, 1))
    y += plan.picture_height + sizes.pad
    draw_inset(canvas, x, y, plan.inset, frame, sizes.text)
    beside = x + plan.inset + 2 * sizes.pad
    draw_inset_scale(canvas, beside, y + plan.inset, plan.inset, frame, sizes.text)
