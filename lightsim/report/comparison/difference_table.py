"""A small table: what was measured in each picture, and short bars for the stops by which it differs."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

from lightsim.report.comparison.rows import CompareRow
from lightsim.report.drawing.lettering import fit_line, line_height_mm, width_mm
from lightsim.report.drawing.sheet_of_paper import HAIRLINE_MM, Box, Sheet
from lightsim.report.theme import SIZES, Face
from lightsim.report.words import DASH

_POINTS = SIZES["smallest"]
_ROW_MM = line_height_mm(_POINTS) + 0.7
_STACKED_MM = _ROW_MM + 2.4  # a row whose bars stand under its numbers
_WIDEST_MM = 74.0  # of a column
_INLINE_MM = 52.0  # narrower columns have their bars under the numbers
_BAR_MM = 1.3
_THIN_MM = 0.09
_LEAST_SPAN = 1.0  # stops that half the bars' room stands for, at least


def _names_mm(rows: Sequence[CompareRow]) -> float:
    return max((width_mm(row.name, _POINTS) for row in rows), default=0.0) + 4.0


def _column_mm(rows: Sequence[CompareRow], count: int, room: float) -> float:
    return min((room - _names_mm(rows)) / count, _WIDEST_MM)


def table_height_mm(rows: Sequence[CompareRow], count: int, room: float) -> float:
    """Height of the table for so many pictures in a room so wide."""
    inline = _column_mm(rows, count, room) >= _INLINE_MM
    return (len(rows) + 1) * _ROW_MM + (0.0 if inline else len(rows) * (_STACKED_MM - _ROW_MM)) + 2.0


def span_stops(rows: Sequence[CompareRow]) -> float:
    """The most stops by which any number differs, rounded up to whole ones."""
    most = max((abs(stops) for row in rows for stops in row.stops if stops is not None), default=0.0)
    return max(float(ceil(most)), _LEAST_SPAN)


def draw_table(sheet: Sheet, box: Box, rows: Sequence[CompareRow], labels: Sequence[str]) -> None:
    """The table at the top of a box: names at the left, a column for each picture."""
    left, y, right, _ = box
    names = _names_mm(rows)
    column = _column_mm(rows, len(labels), right - left)
    inline, span = column >= _INLINE_MM, span_stops(rows)
    values = max((width_mm(value, _POINTS) for row in rows for value in row.values), default=0.0)
    y += _ROW_MM
    for index, label in enumerate(labels):
        x = left + names + index * column
        sheet.text(
            x, y - 1.2, fit_line(label, _POINTS, column - 2.0, Face.SEMIBOLD), _POINTS, None, Face.SEMIBOLD
        )
    right = min(right, left + names + len(labels) * column)
    for number, row in enumerate(rows):
        height = _ROW_MM if inline else _STACKED_MM
        sheet.line([(left, y), (right, y)], width=_THIN_MM if number else HAIRLINE_MM)
        base = y + 0.76 * _ROW_MM
        sheet.text(left, base, row.name, _POINTS, sheet.theme.quiet)
        for index in range(len(labels)):
            x = left + names + index * column
            if not row.values[index].startswith(DASH):
                sheet.text(x, base, fit_line(row.values[index], _POINTS, column - 2.0), _POINTS)
            change = row.changes[index]
            if inline and change:
                sheet.text(x + column - 6.0, base, change, _POINTS, sheet.theme.accent, anchor="right")
            stops = row.stops[index]
            if stops is not None:
                room = (x + values + 3.0, x + column - 27.0) if inline else (x, x + column - 4.0)
                middle = y + (0.5 * height if inline else height - 1.35)
                _draw_bar(sheet, room, middle, stops, span)
        y += height
    sheet.line([(left, y), (right, y)])


def _draw_bar(sheet: Sheet, room: tuple[float, float], y: float, stops: float, span: float) -> None:
    """A bar from nought in the middle of the room, to the right for more light."""
    zero = 0.5 * (room[0] + room[1])
    end = zero + 0.5 * (room[1] - room[0]) * stops / span
    half = 0.5 * _BAR_MM
    if abs(end - zero) > 0.05:
        sheet.bar((min(zero, end), y - half, max(zero, end), y + half), sheet.theme.accent, zorder=3.0)
    sheet.line([(zero, y - half - 0.25), (zero, y + half + 0.25)], sheet.theme.ink, zorder=4.0)
