"""The sheets of a plan: the set in two views with its items; then how it looks, settings and cautions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.sheet_of_paper import Box, Sheet, break_lines, line_height_mm
from lightsim.report.page_options import PageOptions
from lightsim.report.setup.drafting import (
    FIRST,
    TITLE_BLOCK_MM,
    WIDE_MM,
    TitleBlock,
    draw_caution_sign,
    draw_title_block,
)
from lightsim.report.setup.items import draw_item_table, item_table_height_mm, items_of
from lightsim.report.setup.orthographic import OrthographicView
from lightsim.report.setup.pictorial import draw_pictorial, pictorial
from lightsim.report.setup.plan_records import SetupPlan
from lightsim.report.setup.projection import Scale, common_ratio, extent, view_from_above, view_from_the_side
from lightsim.report.setup.solid.whole import Solids
from lightsim.report.sheet.mounting import MAT_MM, draw_mounted
from lightsim.report.theme import SIZES, Face
from lightsim.report.words import glued, plain, sentence

FRAME_MM = 10.0  # from the paper's edge
_LEFT_MM, _RIGHT_MM, _TOP_MM, _BOTTOM_MM = 21.0, 21.0, 10.0, 14.0  # round what a view draws


def _framed(block: TitleBlock, options: PageOptions) -> tuple[Sheet, Box]:
    """A standing sheet, and its frame."""
    paper = options.paper_size
    sheet = Sheet.blank(paper.short_mm, paper.long_mm, options.theme, block.title, options.dpi)
    box = (FRAME_MM, FRAME_MM, sheet.width_mm - FRAME_MM, sheet.height_mm - FRAME_MM)
    sheet.frame(box, sheet.theme.ink, WIDE_MM)
    return sheet, box


def drawing_sheet(
    plan: SetupPlan, solids: Solids, block: TitleBlock, options: PageOptions
) -> tuple[Sheet, float]:
    """The sheet, and its scale: mm of the set for one on the paper."""
    sheet, (left, top, right, bottom) = _framed(block, options)
    items = items_of(plan)
    inner = right - left - 6.0
    table = item_table_height_mm(items, inner)
    low = bottom - TITLE_BLOCK_MM[1] - table - 3.0
    views = [view_from_the_side(solids.up), view_from_above(solids.up)]
    if block.projection != FIRST:
        views.reverse()
    extents = np.array([extent(view, solids) for view in views])  # (2, least and greatest, 2)
    across = extents[:, 0, 0].min(), extents[:, 1, 0].max()
    sizes = np.array([(across[1] - across[0], high - least) for (_, least), (_, high) in extents])
    width = right - left - _LEFT_MM - _RIGHT_MM
    height = low - top - 2.0 * (_TOP_MM + _BOTTOM_MM)
    ratio = common_ratio(sizes, width, height)
    spare = 0.5 * max(height - float(sizes[:, 1].sum()) / ratio, 0.0)
    x = left + _LEFT_MM + 0.5 * width - 0.5 * (across[0] + across[1]) / ratio
    y = top
    for view, (_, most), (_, high) in zip(views, extents, sizes, strict=True):
        deep = _TOP_MM + high / ratio + spare + _BOTTOM_MM
        origin = (x, y + _TOP_MM + 0.5 * spare + float(most[1]) / ratio)
        drawn = (left + _LEFT_MM, y + _TOP_MM - 3.0, right - _RIGHT_MM, y + deep - _BOTTOM_MM + 3.0)
        box = (left + 1.0, y + 1.0, right - 1.0, y + deep - 1.0)
        OrthographicView(sheet, view, plan, solids, items, Scale(origin, ratio), box, drawn).draw()
        y += deep
    draw_item_table(sheet, items, (left + 3.0, low + 1.0, right - 3.0, low + table))
    scale = f"1 : {plain(ratio, 1)} on {options.paper_size.name.upper()}"
    draw_title_block(sheet, right, bottom, replace(block, scale=scale))
    return sheet, ratio


POINTS = SIZES["smallest"]
PICTURE_MM = 88.0  # width of the photograph with its mat, at most
_PAD_MM = 4.0
_BETWEEN_MM = 0.8
_LEAST_VIEW_MM, _MOST_VIEW_MM = 45.0, 118.0
_NAME_MM = 21.0
_INDENT_MM = 10.0


def settings_sheets(
    plan: SetupPlan,
    solids: Solids,
    picture: NDArray[np.uint8] | None,
    block: TitleBlock,
    options: PageOptions,
    with_3d: bool = True,
) -> list[Sheet]:
    """The sheet, and one more where the cautions take more than is left.

    picture : (h, w, 3) of what the set gives, or None.
    Raises NoOpenGL, in one sentence, where the 3-D view is wanted and there is no OpenGL.
    """
    sheet, (left, top, right, bottom) = _framed(block, options)
    left, y, right, low = left + _PAD_MM, top + _PAD_MM, right - _PAD_MM, bottom - TITLE_BLOCK_MM[1] - _PAD_MM
    y = _about(sheet, plan, (left, y, right, low)) + _PAD_MM
    y = _picture_and_settings(sheet, plan, picture, (left, y, right, low)) + _PAD_MM
    columns = _columns(plan, right - left)
    most = max((_column_height(column) for column in columns), default=0.0)
    tail = _tail_height(plan, right - left)
    needed = most + tail + (6.0 if plan.cautions else 0.0)
    room = low - y - needed - _PAD_MM
    apart = with_3d and room < _LEAST_VIEW_MM and bool(plan.cautions)
    if with_3d:
        tall = min(low - y if apart else room, _MOST_VIEW_MM)
        box = (left, y, right, y + tall)
        draw_pictorial(sheet, pictorial(solids, box, options.theme), plan, solids, box)
        y += tall + _PAD_MM
    sheets = [sheet]
    if plan.cautions and not apart:
        _cautions(sheet, plan, (left, y, right, low))
    elif plan.cautions:
        sheets.append(_cautions_alone(plan, block, options))
    for number, each in enumerate(sheets, 2):
        own = replace(block, sheet=f"{number} / {len(sheets) + 1}", scale="", projection="")
        draw_title_block(each, each.width_mm - FRAME_MM, each.height_mm - FRAME_MM, own)
    return sheets


def _cautions_alone(plan: SetupPlan, block: TitleBlock, options: PageOptions) -> Sheet:
    sheet, (left, top, right, bottom) = _framed(block, options)
    _cautions(
        sheet, plan, (left + _PAD_MM, top + _PAD_MM, right - _PAD_MM, bottom - TITLE_BLOCK_MM[1] - _PAD_MM)
    )
    return sheet


def _about(sheet: Sheet, plan: SetupPlan, box: Box) -> float:
    left, top, right, _ = box
    y = top + 7.0
    sheet.text(left, y, sentence(plan.name), SIZES["title"])
    for line in break_lines(glued(sentence(plan.about.replace("'", "’"))), SIZES["text"], right - left)[:3]:
        y += line_height_mm(SIZES["text"])
        sheet.text(left, y + 1.0, line, SIZES["text"], sheet.theme.quiet)
    return y + 2.0


def _picture_and_settings(sheet: Sheet, plan: SetupPlan, picture: NDArray | None, box: Box) -> float:
    """The photograph at the left, the settings beside it; returns where they end."""
    left, top, right, _ = box
    words, end = left, top
    if picture is not None:
        aspect = picture.shape[0] / picture.shape[1]
        wide = min(PICTURE_MM, (PICTURE_MM - 2.0 * MAT_MM) / max(aspect, 1.0) + 2.0 * MAT_MM)
        tall = aspect * (wide - 2.0 * MAT_MM) + 2.0 * MAT_MM
        draw_mounted(sheet, picture, (left, top, left + wide, top + tall))
        words, end = left + wide + 5.0, top + tall
    y = top - 0.8
    for name, text in plan.settings:
        lines = break_lines(glued(text), POINTS, right - words - _NAME_MM)
        names = break_lines(name, POINTS, _NAME_MM - 1.5)
        for number, line in enumerate(names):
            base = y + (number + 0.8) * line_height_mm(POINTS)
            sheet.text(words, base, line, POINTS, sheet.theme.quiet)
        for number, line in enumerate(lines):
            sheet.text(words + _NAME_MM, y + (number + 0.8) * line_height_mm(POINTS), line, POINTS)
        y += line_height_mm(POINTS, max(len(lines), len(names))) + _BETWEEN_MM
    return max(end, y)


Column = list[tuple[int, list[str]]]


def _columns(plan: SetupPlan, width: float) -> tuple[Column, Column]:
    """The cautions' lines in two columns of about the same height."""
    room = 0.5 * (width - 5.0) - _INDENT_MM
    lines = [
        (number, break_lines(glued(each.words), POINTS, room)) for number, each in enumerate(plan.cautions, 1)
    ]
    cuts = range(len(lines) + 1)
    cut = min(cuts, key=lambda n: (max(_column_height(lines[:n]), _column_height(lines[n:])), -n))
    return lines[:cut], lines[cut:]


def _column_height(column: Column) -> float:
    return sum(line_height_mm(POINTS, len(lines)) + 1.4 for _, lines in column)


def _tail_height(plan: SetupPlan, width: float) -> float:
    return (
        line_height_mm(POINTS, len(break_lines(plan.last_word, POINTS, width))) + 1.5
        if plan.last_word
        else 0.0
    )


def _cautions(sheet: Sheet, plan: SetupPlan, box: Box) -> None:
    """The cautions in two columns, each with its sign, number and whose it is; then who knows better."""
    left, top, right, _ = box
    sheet.line([(left, top), (right, top)], sheet.theme.warning, 0.35)
    columns = _columns(plan, right - left)
    low = top
    for place, column in enumerate(columns):
        x, y = left + place * (0.5 * (right - left) + 2.5), top + 1.6
        for number, lines in column:
            draw_caution_sign(sheet, (x + 2.2, y + 2.0), 2.0)
            sheet.text(x + 5.0, y + 2.7, str(number), POINTS, sheet.theme.warning, Face.SEMIBOLD)
            for line in lines:
                y += line_height_mm(POINTS)
                sheet.text(x + _INDENT_MM, y - 0.22 * line_height_mm(POINTS), line, POINTS)
            y += 1.4
        low = max(low, y)
    for line in break_lines(plan.last_word, POINTS, right - left) if plan.last_word else []:
        low += line_height_mm(POINTS)
        sheet.text(left, low, line, POINTS, sheet.theme.quiet)
