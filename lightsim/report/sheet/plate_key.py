"""How to read a contact sheet, in a place that no frame takes."""

from __future__ import annotations

from collections.abc import Sequence

from lightsim.report.drawing.lettering import break_lines, line_height_mm
from lightsim.report.drawing.light_direction import draw_half_circle, draw_ring
from lightsim.report.drawing.sheet_of_paper import Sheet
from lightsim.report.sheet.plate_layout import PlateLayout
from lightsim.report.theme import SIZES
from lightsim.report.words import glued

_WIDEST_MM = 90.0
_ANGLE, _CLOCK = 60.0, 2.0  # of the light in the key


def draw_key(
    sheet: Sheet,
    layout: PlateLayout,
    place: tuple[float, float, float],
    sentences: Sequence[str],
    directions: bool,
) -> bool:
    """The key in a vacant place (left, top, width in mm); whether there was room for it."""
    x, y, room = place[0], place[1], min(place[2], _WIDEST_MM)
    points = SIZES["smallest"]
    lines = [line for each in sentences for line in break_lines(glued(each), points, room)]
    drawing = min(0.3 * layout.cell_height, 0.42 * layout.cell) + 9.0 if directions else 0.0
    if drawing + line_height_mm(points, len(lines)) > layout.cell_height:
        return False
    if directions:
        _draw_labelled(sheet, x, y, drawing - 9.0, min(room, 1.4 * layout.cell))
        y += drawing
    for line in lines:
        y += line_height_mm(points)
        sheet.text(x, y, line, points, sheet.theme.quiet)
    return True


def _draw_labelled(sheet: Sheet, x: float, y: float, height: float, room: float) -> None:
    """The direction of light with names at its ends: lens, behind, clock."""
    points, quiet = SIZES["smallest"], sheet.theme.quiet
    radius = 0.46 * height
    flower = (x + 2.2, y + 4.0 + 0.5 * height)
    draw_half_circle(sheet, flower, radius, _ANGLE, _CLOCK)
    sheet.text(x, y + 2.8, "behind 180°", points, quiet)
    sheet.text(x, y + height + 7.2, "lens 0°", points, quiet)
    ring = 0.26 * height
    centre = (x + room - ring - 1.5, y + 4.0 + 0.5 * height)
    draw_ring(sheet, centre, ring, _ANGLE, _CLOCK)
    sheet.text(centre[0], centre[1] - ring - 1.0, "12", points, quiet, anchor="middle")
    sheet.text(x + room, y + height + 7.2, "clock", points, quiet, anchor="right")
