"""The cautions at the foot of a plan, in two columns, numbered as they are named by the things on the set."""

from __future__ import annotations

from lightsim.report.drawing.grey_card import ACCENT, PLATE, PLATE_LABEL, PLATE_TEXT, SMALLEST_PT
from lightsim.report.setup.paper import Box, Paper, line_mm, lines_of
from lightsim.report.setup.plan_records import SetupPlan

WARNING = "⚠"
POINTS = SMALLEST_PT
INDENT_MM = 7.5
PAD_MM = 3.0
COLUMN_GAP_MM = 4.0
_BETWEEN = 0.3  # of a line

Column = list[tuple[str, list[str]]]


def _column_mm(width_mm: float) -> float:
    return 0.5 * (width_mm - 2.0 * PAD_MM - COLUMN_GAP_MM)


def _columns(plan: SetupPlan, width_mm: float) -> tuple[Column, Column]:
    """The cautions' lines in two columns of about the same height."""
    wide = _column_mm(width_mm) - INDENT_MM
    cautions = enumerate(plan.cautions, 1)
    lines = [(f"{WARNING} {number}", lines_of(caution.words, POINTS, wide)) for number, caution in cautions]
    sizes = [len(each) + _BETWEEN for _, each in lines]
    cut = min(range(len(lines) + 1), key=lambda n: (max(sum(sizes[:n]), sum(sizes[n:])), -n))
    return lines[:cut], lines[cut:]


def _last(plan: SetupPlan, width_mm: float) -> list[str]:
    return lines_of(plan.last_word, POINTS, width_mm - 2.0 * PAD_MM) if plan.last_word else []


def cautions_height_mm(plan: SetupPlan, width_mm: float) -> float:
    """Height of the cautions with the last word under them; 0 for none."""
    if not plan.cautions:
        return 0.0
    most = max(sum(len(lines) + _BETWEEN for _, lines in column) for column in _columns(plan, width_mm))
    return 3.0 + (most + len(_last(plan, width_mm))) * line_mm(POINTS)


def draw_cautions(paper: Paper, plan: SetupPlan, box: Box) -> None:
    """The plate with all cautions; nothing where there are none."""
    if not plan.cautions:
        return
    left, top, right, bottom = box
    paper.bar(box, PLATE)
    paper.bar((left, top, left + 1.0, bottom), ACCENT, zorder=2)
    step = _column_mm(right - left) + COLUMN_GAP_MM
    for place, column in enumerate(_columns(plan, right - left)):
        x, y = left + PAD_MM + place * step, top + 1.2
        for mark, lines in column:
            paper.text(x, y + 0.75 * line_mm(POINTS), mark, POINTS, ACCENT, bold=True)
            for line in lines:
                y += line_mm(POINTS)
                paper.text(x + INDENT_MM, y - 0.25 * line_mm(POINTS), line, POINTS, PLATE_TEXT)
            y += _BETWEEN * line_mm(POINTS)
    last = _last(plan, right - left)
    for number, line in enumerate(last):
        y = bottom - 1.7 - (len(last) - 1 - number) * line_mm(POINTS)
        paper.text(left + PAD_MM, y, line, POINTS, PLATE_LABEL)
