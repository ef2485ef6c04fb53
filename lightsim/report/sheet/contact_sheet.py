"""The contact sheet: pictures in the order of the sweep, with their light, measures and reference drop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from lightsim.report.drawing.canvas import Canvas
from lightsim.report.drawing.font import text_width_px
from lightsim.report.drawing.grey_card import INK, LABEL
from lightsim.report.frames import SheetFrame, checked_frames, largest_distance_mm
from lightsim.report.sheet.captions import CONTRAST, READING_KEY, Caption, Footnotes, caption
from lightsim.report.sheet.cells import (
    draw_foot,
    draw_inset,
    draw_inset_scale,
    draw_picture,
    draw_plan,
    draw_title,
)
from lightsim.report.sheet.sheet_layout import (
    Layout,
    Sizes,
    Words,
    foot_lines,
    header_lines,
    lay_out,
)
from lightsim.report.words import sentence

if TYPE_CHECKING:
    from PIL.Image import Image

DEFAULT_WIDTH_PX = 3508  # the long side of A4 at 300 dpi


def contact_sheet(
    frames: Sequence[SheetFrame],
    *,
    title: str,
    subtitle: str = "",
    footer: str = "",
    exposure_note: str = "",
    columns: int | None = None,
    grid: bool = False,
    width_px: int = DEFAULT_WIDTH_PX,
) -> Image:
    """A contact sheet of the frames, in their order, fit to be printed on A4.

    footer : the set-up in a line; line breaks are kept.
    exposure_note : what the exposures have in common.
    columns : None takes the number that gives the largest pictures.
    grid : whether the frames, row by row, are a grid of two varied quantities; then columns and rows are
        named, and the captions are not.
    width_px : pixels along the long side of the A4 page. The sheet itself is narrower when it stands
        upright or when a few pictures do not fill the page.
    Raises PictureError where there is no frame or a picture is of the wrong kind.
    """
    canvas, _ = draw_sheet(
        checked_frames(frames),
        title=title,
        subtitle=subtitle,
        footer=footer,
        exposure_note=exposure_note,
        columns=columns,
        width_px=width_px,
        grid=grid,
    )
    return canvas.image


def draw_sheet(
    frames: list[SheetFrame],
    *,
    title: str,
    subtitle: str,
    footer: str,
    exposure_note: str,
    columns: int | None,
    width_px: int,
    grid: bool = False,
) -> tuple[Canvas, Layout]:
    """The sheet with the boxes of all that is on it, and its layout."""
    notes = Footnotes()
    captions = [caption(frame, notes) for frame in frames]
    foot = [*map(sentence, footer.splitlines()), "  ".join((READING_KEY, *notes.sentences()))]
    column_heads, row_heads = _heads(frames) if grid else ([], [])
    if grid:
        captions = [replace(each, heading="") for each in captions]
    words = Words(captions, sentence(subtitle), sentence(exposure_note), foot, column_heads, row_heads)
    aspect = max(frame.image.shape[0] / frame.image.shape[1] for frame in frames)
    layout = lay_out(words, aspect, width_px, columns)
    canvas = Canvas.blank(layout.width, layout.height)
    _draw_header(canvas, layout, title, words)
    _draw_heads(canvas, layout, words)
    farthest = largest_distance_mm(frames)
    for index, frame in enumerate(frames):
        _draw_frame(canvas, layout, layout.corner(index), frame, captions[index], farthest)
    _draw_foot(canvas, layout, words)
    return canvas, layout


def _draw_header(canvas: Canvas, layout: Layout, title: str, words: Words) -> None:
    page, content = layout.page, layout.content
    lines = header_lines(words, content, page)
    draw_title(canvas, layout.margin, layout.margin, content, title, lines, page.text, page.line)


def _heads(frames: Sequence[SheetFrame]) -> tuple[list[str], list[str]]:
    """What the columns and the rows of a grid have in common, in words."""
    columns = dict.fromkeys(frame.varied[0].words for frame in frames)
    rows = dict.fromkeys(frame.varied[1].words for frame in frames)
    return list(columns), list(rows)


def _draw_heads(canvas: Canvas, layout: Layout, words: Words) -> None:
    """The names of a grid's columns, over them, and of its rows, beside their pictures."""
    size = layout.cell.heading
    for number, head in enumerate(words.column_heads):
        x, y = layout.corner(number)
        middle = x + layout.cell_width // 2
        canvas.text(middle, y - round(0.5 * size), head, size, INK, bold=True, anchor="ms")
    for number, head in enumerate(words.row_heads):
        _, y = layout.corner(number * layout.columns)
        middle = y + layout.band_height + layout.picture_height // 2
        canvas.text(layout.margin, middle, head, size, INK, bold=True, anchor="lm")


def _draw_frame(
    canvas: Canvas,
    layout: Layout,
    corner: tuple[int, int],
    frame: SheetFrame,
    words: Caption,
    farthest_mm: float,
) -> None:
    x, y = corner
    cell, side = layout.cell, layout.inset
    _draw_band(canvas, layout, x, y, frame, words, farthest_mm)
    y += layout.band_height + cell.pad
    box = (x, y, x + layout.cell_width, y + layout.picture_height)
    draw_picture(canvas, box, frame, max(cell.text // 16, 1))
    y += layout.picture_height + cell.pad
    draw_inset(canvas, x, y, side, frame, cell.text)
    beside = x + side + 2 * cell.pad
    _draw_beside(canvas, beside, y, words, cell)
    draw_inset_scale(canvas, beside, y + side, side, frame, cell.text)


def _draw_band(
    canvas: Canvas, layout: Layout, x: int, y: int, frame: SheetFrame, words: Caption, farthest_mm: float
) -> None:
    """The line over a picture: heading, trade name, contrast; the plan at its right."""
    cell = layout.cell
    base = y + cell.icon - cell.line - round(0.32 * cell.text)
    canvas.text(x, base, words.heading, cell.heading, INK, bold=True)
    after = text_width_px(words.heading, cell.heading, bold=True) + cell.pad if words.heading else 0
    canvas.text(x + after, base, words.light, cell.text, INK)
    base = y + cell.icon - round(0.28 * cell.text)
    canvas.text(x, base, CONTRAST, cell.text, LABEL)
    canvas.text(x + text_width_px(CONTRAST + " ", cell.text), base, words.contrast, cell.text, INK)
    draw_plan(canvas, x + layout.cell_width, y, frame, farthest_mm, cell.icon)


def _draw_beside(canvas: Canvas, x: int, y: int, words: Caption, cell: Sizes) -> None:
    """What stands beside the inset, line by line."""
    base = y + round(0.86 * cell.text)
    for line in words.beside:
        canvas.text(x, base, line, cell.text, INK)
        base += cell.line


def _draw_foot(canvas: Canvas, layout: Layout, words: Words) -> None:
    page, content = layout.page, layout.content
    lines = foot_lines(words, content, page)
    draw_foot(canvas, layout.margin, layout.foot_top, content, lines, page.text, page.line)
