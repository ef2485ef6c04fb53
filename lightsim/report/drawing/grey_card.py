"""The look: a grey card to judge pictures on, dark plates for drawings, one amber accent for the light.

The page reflects 18 %, so that a picture's tones are seen as they would be beside a grey card. On that
grey, white and near-black stand out about equally (both above 4:1), which gives a quiet order of reading:
white for what was found, near-black for what it is called, amber for the light and for what stands out.
"""

from __future__ import annotations

RGB8 = tuple[int, int, int]

PAGE: RGB8 = (118, 118, 118)  # linear 0.18 by IEC 61966-2-1
PLATE: RGB8 = (34, 34, 34)  # ground of plans and charts
PLATE_LINE: RGB8 = (104, 104, 104)  # rings, ticks, grids on a plate
PLATE_SHAPE: RGB8 = (214, 214, 214)  # lens, flower
PLATE_LABEL: RGB8 = (176, 176, 176)
PLATE_TEXT: RGB8 = (236, 236, 236)
INK: RGB8 = (255, 255, 255)  # what was found
LABEL: RGB8 = (20, 20, 20)  # what it is called
RULE: RGB8 = (88, 88, 88)  # hairlines on the page
ACCENT: RGB8 = (255, 176, 46)  # the light
ACCENT_DEEP: RGB8 = (168, 104, 12)

A4_LONG_MM = 297.0  # ISO 216
A4_RATIO = 2.0**0.5  # ISO 216
POINT_MM = 25.4 / 72.0  # the desktop publishing point
SMALLEST_PT = 8.0  # nothing on a sheet is smaller when it fills an A4 page


def hex_colour(colour: RGB8) -> str:
    """#rrggbb, as charts and pages want it."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


def points_to_px(points: float, long_side_px: float) -> int:
    """Size in pixels of so many points when `long_side_px` fill the long side of an A4 page; rounded up."""
    return int(points * POINT_MM * long_side_px / A4_LONG_MM + 0.999)
