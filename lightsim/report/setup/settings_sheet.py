"""The second sheet of a plan: what the set gives, how it looks, the settings, and the cautions."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.lettering import break_lines, line_height_mm
from lightsim.report.drawing.sheet_of_paper import Box, Sheet
from lightsim.report.page_options import PageOptions
from lightsim.report.setup.drafting import TITLE_BLOCK_MM, TitleBlock, draw_caution_sign, draw_title_block
from lightsim.report.setup.drawing_sheet import frame_box
from lightsim.report.setup.pictorial import draw_pictorial, pictorial
from lightsim.report.setup.plan_records import SetupPlan
from lightsim.report.setup.solid import Solids
from lightsim.report.sheet.mounting import MAT_MM, draw_mounted
from lightsim.report.theme import SIZES, Face
from lightsim.report.words import glued, sentence

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
    paper = options.paper_size
    sheet = Sheet.blank(paper.short_mm, paper.long_mm, options.theme, block.title, options.dpi)
    left, top, right, bottom = frame_box(sheet)
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
        facts = {**block.__dict__, "sheet": f"{number} / {len(sheets) + 1}", "scale": "", "projection": ""}
        draw_title_block(each, each.width_mm - 10.0, each.height_mm - 10.0, TitleBlock(**facts))
    return sheets


def _cautions_alone(plan: SetupPlan, block: TitleBlock, options: PageOptions) -> Sheet:
    paper = options.paper_size
    sheet = Sheet.blank(paper.short_mm, paper.long_mm, options.theme, block.title, options.dpi)
    left, top, right, bottom = frame_box(sheet)
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
