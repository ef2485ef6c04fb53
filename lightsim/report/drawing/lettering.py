"""Widths of text in millimetres, and lines that fit."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from lightsim.report.theme.typeface import POINT_MM, Face, face_file

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

ASCENT, DESCENT = 0.73, 0.24  # of a line's em above and below its baseline
LEADING = 1.3  # of a line's em from baseline to baseline
_EM = 200  # units in which text is measured


@lru_cache
def _font(face: Face) -> FreeTypeFont:
    from PIL import ImageFont, features

    # kerning and ligatures as matplotlib sets them
    engine = ImageFont.Layout.RAQM if features.check("raqm") else ImageFont.Layout.BASIC
    return ImageFont.truetype(str(face_file(face)), _EM, layout_engine=engine)


@lru_cache(maxsize=16384)
def _ems(text: str, face: Face) -> float:
    return float(_font(face).getlength(text)) / _EM


def width_mm(text: str, points: float, face: Face = Face.REGULAR) -> float:
    """Width of a line of text, mm."""
    return _ems(text, face) * points * POINT_MM


def line_height_mm(points: float, lines: int = 1) -> float:
    """Height of so many lines of text with their leading, mm."""
    return lines * LEADING * points * POINT_MM


def break_lines(text: str, points: float, room_mm: float, face: Face = Face.REGULAR) -> list[str]:
    """The text in lines no wider than the room, broken at plain spaces; too long a word is cut short."""
    lines: list[str] = []
    for word in filter(None, text.split(" ")):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_mm(longer, points, face) <= room_mm:
            lines[-1] = longer
        else:
            lines.append(fit_line(word, points, room_mm, face))
    return lines


def fit_line(text: str, points: float, room_mm: float, face: Face = Face.REGULAR) -> str:
    """The text, cut with an ellipsis where it is wider than the room."""
    if width_mm(text, points, face) <= room_mm:
        return text
    fitting, cut = 0, len(text)  # so many letters fit, so many do not
    while cut - fitting > 1:
        middle = (fitting + cut) // 2
        if width_mm(text[:middle].rstrip() + "…", points, face) <= room_mm:
            fitting = middle
        else:
            cut = middle
    return text[:fitting].rstrip() + "…"
