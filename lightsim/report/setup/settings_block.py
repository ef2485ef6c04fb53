"""The settings on their plate: each thing's name, then its words."""

from __future__ import annotations

from math import ceil

from lightsim.report.drawing.grey_card import PLATE, PLATE_LABEL, PLATE_TEXT, SMALLEST_PT
from lightsim.report.setup.paper import Box, Paper, line_mm, lines_of, text_width_mm
from lightsim.report.setup.plan_records import SetupPlan
from lightsim.report.words import glued

POINTS = SMALLEST_PT
PAD_MM = 2.5
BETWEEN_MM = 0.6
_HARD_SPACE = "\u00a0"


def settings_height_mm(plan: SetupPlan, width_mm: float) -> float:
    """Height that the settings take on a plate of a width."""
    count = sum(len(lines) for _, lines in _lines(plan, width_mm))
    return 4.0 + count * line_mm(POINTS) + BETWEEN_MM * len(plan.settings)


def _lines(plan: SetupPlan, width_mm: float) -> list[tuple[str, list[str]]]:
    """Each setting's name with its lines; the first line is moved in by the name's width."""
    space = text_width_mm(_HARD_SPACE, POINTS)
    found = []
    for name, words in plan.settings:
        # the name runs before the words, so the first line begins with as many hard spaces
        indent = _HARD_SPACE * ceil((text_width_mm(name, POINTS, True) + 1.8) / space)
        found.append((name, lines_of(indent + glued(words), POINTS, width_mm - 2.0 * PAD_MM)))
    return found


def draw_settings(paper: Paper, plan: SetupPlan, box: Box) -> None:
    """The plate with all settings."""
    paper.bar(box, PLATE)
    left, y, right, _ = box
    left, y = left + PAD_MM, y + 1.6
    for name, lines in _lines(plan, right - box[0]):
        paper.text(left, y + 0.75 * line_mm(POINTS), name, POINTS, PLATE_LABEL, bold=True)
        for line in lines:
            y += line_mm(POINTS)
            text = line.lstrip(_HARD_SPACE)
            start = text_width_mm(line[: len(line) - len(text)], POINTS) if line is lines[0] else 0.0
            if text:
                paper.text(left + start, y - 0.25 * line_mm(POINTS), text, POINTS, PLATE_TEXT)
        y += BETWEEN_MM
