"""Where the light stands, drawn as the tool speaks of it: a half-circle of angles and a clock ring.

The half-circle lies in the plane through the lens axis and the light, the flower in its middle, the lens
below at 0 degrees, 180 above. It opens to the right for clock positions from 12 to 6 and to the left from
6 to 12. The ring is a clock face as the camera sees it; its hand says how that plane is turned.
"""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np

from lightsim.report.drawing.sheet_of_paper import HAIRLINE_MM, XY, Sheet, arc
from lightsim.report.words import TRADE_BORDERS, folded_angle

ASPECT = 1.28  # width / height of the two together
_HALF_RADIUS = 0.46  # of the height
_RING_RADIUS = 0.25
_DOT = 0.075


def seen_clock(angle_deg: float, clock: float) -> float:
    """The clock position from 0 up to 12; an angle beyond 180 stands opposite."""
    turned = 6.0 if (angle_deg % 360.0) > 180.0 else 0.0
    return (clock + turned) % 12.0


def on_the_left(angle_deg: float, clock: float) -> bool:
    """Whether the light stands left of the lens axis, seen from the camera."""
    return 6.0 < seen_clock(angle_deg, clock) < 12.0


def half_circle_place(angle_deg: float, clock: float, centre: XY, radius: float) -> XY:
    """The light's place on the half-circle, mm."""
    angle = radians(folded_angle(angle_deg))
    side = -1.0 if on_the_left(angle_deg, clock) else 1.0
    return centre[0] + side * radius * sin(angle), centre[1] + radius * cos(angle)


def clock_ring_place(angle_deg: float, clock: float, centre: XY, radius: float) -> XY:
    """The hand's end on the clock ring, mm; its middle where the light stands on the lens axis."""
    if min(folded_angle(angle_deg), 180.0 - folded_angle(angle_deg)) < 0.5:
        return centre
    turn = radians(30.0 * seen_clock(angle_deg, clock))
    return centre[0] + radius * sin(turn), centre[1] - radius * cos(turn)


def draw_direction(sheet: Sheet, x: float, y: float, height: float, angle_deg: float, clock: float) -> None:
    """Half-circle and clock ring with their top left corner at (x, y), so high, `ASPECT` as wide; mm."""
    left = on_the_left(angle_deg, clock)
    radius = _HALF_RADIUS * height
    flower = (x + (0.56 if left else 0.09) * height, y + 0.5 * height)
    ring = (x + (ASPECT - _RING_RADIUS - 0.03) * height, y + 0.5 * height)
    draw_half_circle(sheet, flower, radius, angle_deg, clock)
    draw_ring(sheet, ring, _RING_RADIUS * height, angle_deg, clock)


def draw_half_circle(sheet: Sheet, centre: XY, radius: float, angle_deg: float, clock: float) -> None:
    """The half-circle of angles with a tick at each of the trade's borders, the lens, and the light on it."""
    theme, thin = sheet.theme, min(HAIRLINE_MM, 0.03 * radius)
    side = -1.0 if on_the_left(angle_deg, clock) else 1.0
    way = 90.0 - side * 180.0  # from the lens, round the light's side, to behind the flower
    sheet.line(arc(centre, radius, 90.0, way), width=thin)
    for border in (0.0, *(each for each, _ in TRADE_BORDERS)):
        turn = radians(border)
        out = np.array([side * sin(turn), cos(turn)])
        sheet.line(np.asarray(centre) + np.outer([0.86 * radius, radius], out), width=thin)
    lens = 0.13 * radius
    below = centre[1] + 0.86 * radius
    sheet.line([(centre[0] - lens, below), (centre[0] + lens, below)], theme.ink, 2.0 * thin)
    light = half_circle_place(angle_deg, clock, centre, radius)
    sheet.line([centre, light], theme.accent, 1.6 * thin, zorder=4.0)
    sheet.disc(centre, 0.055 * radius, theme.ink)
    sheet.disc(light, _DOT / _HALF_RADIUS * radius, theme.accent, zorder=5.0)


def draw_ring(sheet: Sheet, centre: XY, radius: float, angle_deg: float, clock: float) -> None:
    """The clock ring, 12 above, with its hand."""
    theme, thin = sheet.theme, min(HAIRLINE_MM, 0.055 * radius)
    sheet.disc(centre, radius, None, theme.hairline, thin, zorder=3.0)
    for hour in range(12):
        turn = radians(30.0 * hour)
        out = np.array([sin(turn), -cos(turn)])
        start = 0.72 if hour % 3 == 0 else 0.88
        points = np.asarray(centre) + np.outer([start * radius, radius], out)
        sheet.line(points, theme.ink if hour == 0 else None, thin * (1.8 if hour == 0 else 1.0))
    hand = clock_ring_place(angle_deg, clock, centre, radius)
    sheet.line([centre, hand], theme.accent, 1.6 * thin, zorder=4.0)
    sheet.disc(hand, 0.2 * radius, theme.accent, zorder=5.0)
