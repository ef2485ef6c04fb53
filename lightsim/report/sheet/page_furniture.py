"""What stands on every page: title, what it shows, and the foot with set-up, credit and page number."""

from __future__ import annotations

from collections.abc import Sequence

from lightsim.report.drawing.sheet_of_paper import Sheet, break_lines, fit_line, line_height_mm, width_mm
from lightsim.report.theme import SIZES
from lightsim.report.words import glued, sentence

MARGIN_MM = 11.0
_TITLE_MM = 7.0  # from the top to the title's baseline
_AFTER_MM = 4.5
_MEASURE_MM = 186.0  # longest line of running text: about 110 letters
MOST_ABOUT_LINES = 2


def _about_lines(text: str, room_mm: float) -> list[str]:
    """What a page shows, in at most two lines."""
    lines = break_lines(glued(sentence(text.replace("'", "’"))), SIZES["text"], min(room_mm, _MEASURE_MM))
    if len(lines) > MOST_ABOUT_LINES:
        lines = [*lines[: MOST_ABOUT_LINES - 1], lines[MOST_ABOUT_LINES - 1].rstrip(".,;: ") + " …"]
    return lines


def header_height_mm(about: str, note: str, room_mm: float) -> float:
    """Height of the title and what stands under it in a room so wide, with the clear space after."""
    lines = len(_about_lines(about, room_mm)) + bool(note)
    return _TITLE_MM + line_height_mm(SIZES["text"], lines) + _AFTER_MM


def draw_header(
    sheet: Sheet, title: str, about: str = "", note: str = "", margin: float = MARGIN_MM
) -> float:
    """Title, what the page shows, and what the exposures have in common; returns where all else begins."""
    room = sheet.width_mm - 2.0 * margin
    size, title = SIZES["title"], sentence(title)
    while size > SIZES["heading"] and width_mm(title, size) > room:
        size -= 0.5
    y = margin + _TITLE_MM - 1.0
    if title:
        sheet.text(margin, y, fit_line(title, size, room), size)
    y += 1.0
    for line in _about_lines(about, room):
        y += line_height_mm(SIZES["text"])
        sheet.text(margin, y, line, SIZES["text"], sheet.theme.quiet)
    if note:
        y += line_height_mm(SIZES["text"])
        sheet.text(margin, y, fit_line(glued(sentence(note)), SIZES["text"], room), SIZES["text"])
    return margin + header_height_mm(about, note, room)


def _foot_lines(parts: Sequence[str], room_mm: float) -> list[str]:
    return [line for part in parts if part for line in break_lines(glued(part), SIZES["smallest"], room_mm)]


def foot_height_mm(parts: Sequence[str], room_mm: float, credit: str, pages: int = 1) -> float:
    """Height of the foot in a room so wide, with the clear space above it."""
    count = len(_foot_lines(parts, room_mm)) + bool(credit or pages > 1)
    return line_height_mm(SIZES["smallest"], count) + 5.0 if count else 0.0


def draw_footer(
    sheet: Sheet, parts: Sequence[str], credit: str, number: str = "", margin: float = MARGIN_MM
) -> float:
    """A hairline, the foot's parts in lines, at its end credit and page number; returns where it begins, with
    the clear space above it."""
    left, right, bottom = margin, sheet.width_mm - margin, sheet.height_mm - margin
    lines = _foot_lines(parts, right - left)
    count = len(lines) + bool(credit or number)
    if not count:
        return bottom
    points = SIZES["smallest"]
    y = bottom - line_height_mm(points, count) - 0.6
    sheet.line([(left, y), (right, y)])
    y += 0.4
    for line in lines:
        y += line_height_mm(points)
        sheet.text(left, y, line, points, sheet.theme.quiet)
    if credit or number:
        y += line_height_mm(points)
        room = right - left - width_mm(number, points) - 4.0
        if credit:
            sheet.text(left, y, fit_line(credit, points, room), points, sheet.theme.ink)
        if number:
            sheet.text(right, y, number, points, sheet.theme.quiet, anchor="right")
    return bottom - foot_height_mm(parts, right - left, credit, 2 if number else 1)
