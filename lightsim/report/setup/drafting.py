"""Lines, dimensions, references and the title block of a technical drawing.

Lines by ISO 128-2 (line group 0.35 mm), dimensions by ISO 129-1, item references by ISO 6433, the symbol of
the projection method by ISO 5456-2, the title block's fields by ISO 7200.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.sheet_of_paper import XY, Box, Sheet, arc, fit_line, width_mm
from lightsim.report.theme import SIZES, Face

WIDE_MM, NARROW_MM = 0.35, 0.18
_D = NARROW_MM
HIDDEN = (12 * _D, 3 * _D)  # 02, dashed: hidden outlines
AXIS = (24 * _D, 3 * _D, 0.5 * _D, 3 * _D)  # 04, long-dashed dotted: centre lines
ADJACENT = (24 * _D, 3 * _D, 0.5 * _D, 3 * _D, 0.5 * _D, 3 * _D)  # 05: outlines of adjacent parts
ARROW_MM, _ARROW_HALF_MM = 2.5, 0.42  # closed and filled, about 20 degrees
OVERSHOOT_MM = 8 * _D  # of an extension line beyond its dimension line
BALLOON_MM = 2.7  # radius of an item reference
POINTS = SIZES["smallest"]
TITLE_BLOCK_MM = (180.0, 25.5)
FIRST, THIRD = "first", "third"


def draw_arrow(sheet: Sheet, tip: NDArray, along: NDArray) -> None:
    """An arrowhead with its tip at a place, pointing along a unit vector."""
    across = np.array([-along[1], along[0]])
    back = tip - ARROW_MM * along
    head = np.array([tip, back + _ARROW_HALF_MM * across, back - _ARROW_HALF_MM * across])
    sheet.polygon(head, sheet.theme.ink, zorder=6.0)


def draw_dimension(sheet: Sheet, one: XY, other: XY, off: NDArray, words: str) -> Box:
    """The distance between two places: extension lines, a dimension line, the value above it.

    off : (2,) mm, from the places to the dimension line's ends. The value can be read from the foot of the
    page or from its right.
    """
    starts = np.array([one, other], float)
    ends = starts + off
    ink = sheet.theme.ink
    for start, end in zip(starts, ends, strict=True):
        out = end - start
        length = float(np.hypot(*out))
        if length > 0.5:
            unit = out / length
            sheet.line(
                np.array([start + min(0.8, 0.3 * length) * unit, end + OVERSHOOT_MM * unit]), ink, NARROW_MM
            )
    along = ends[1] - ends[0]
    length = float(np.hypot(*along))
    if length < 1e-6:
        return ends[0, 0], ends[0, 1], ends[0, 0], ends[0, 1]
    along = along / length
    outside = length < 2.5 * ARROW_MM
    if outside:  # no room between: arrows from without
        sheet.line(np.array([ends[0] - 5.0 * along, ends[1] + 5.0 * along]), ink, NARROW_MM)
        draw_arrow(sheet, ends[0], along)
        draw_arrow(sheet, ends[1], -along)
    else:
        sheet.line(ends, ink, NARROW_MM)
        draw_arrow(sheet, ends[0], -along)
        draw_arrow(sheet, ends[1], along)
    return _value(sheet, ends, along, length, words)


def _value(sheet: Sheet, ends: NDArray, along: NDArray, length: float, words: str) -> Box:
    turn = readable_turn(along)
    up = np.array([-np.sin(np.radians(turn)), -np.cos(np.radians(turn))])
    at = ends.mean(axis=0) + 0.9 * up
    if width_mm(words, POINTS) > length - 2.0:  # beside it, past the second end
        beyond = along * (6.0 + 0.5 * width_mm(words, POINTS))
        at = ends[1] + beyond + 0.9 * up
    return _on_paper(sheet, at, words, turn)


def _on_paper(sheet: Sheet, at: NDArray, words: str, turn_deg: float = 0.0) -> Box:
    """A value on a piece of paper of its own, so that no line runs through it."""
    turn = np.radians(turn_deg)
    along, up = np.array([np.cos(turn), -np.sin(turn)]), np.array([-np.sin(turn), -np.cos(turn)])
    half = 0.5 * width_mm(words, POINTS) + 0.4
    places = ((-half, -0.35), (half, -0.35), (half, 2.3), (-half, 2.3))
    corners = np.array([at + beside * along + over * up for beside, over in places])
    sheet.polygon(corners, sheet.theme.paper, zorder=5.5)
    return sheet.text(float(at[0]), float(at[1]), words, POINTS, None, anchor="middle", turn_deg=turn_deg)


def readable_turn(along: NDArray) -> float:
    """How far words along a direction are turned to be read from the foot or from the right, degrees."""
    turn = float(np.degrees(np.arctan2(-along[1], along[0])))
    if turn > 90.0 + 1e-6:
        turn -= 180.0
    elif turn <= -90.0 + 1e-6:
        turn += 180.0
    return turn


def draw_angle(sheet: Sheet, centre: XY, radius: float, start_deg: float, end_deg: float, words: str) -> None:
    """An angle as an arc between two directions (0 right, 90 down the page), arrows at both ends."""
    points = arc(centre, radius, start_deg, end_deg)
    sheet.line(points, sheet.theme.ink, NARROW_MM)
    for tip, before in ((points[0], points[1]), (points[-1], points[-2])):
        along = (tip - before) / float(np.hypot(*(tip - before)))
        draw_arrow(sheet, tip, along)
    middle = np.radians(0.5 * (start_deg + end_deg))
    out = np.array([np.cos(middle), np.sin(middle)])
    wide = width_mm(words, POINTS)
    at = np.asarray(centre) + (radius + 1.4 + 0.5 * wide * abs(out[0]) + 1.4 * abs(out[1])) * out
    _on_paper(sheet, at + np.array([0.0, 1.0]), words)


def draw_balloon(
    sheet: Sheet,
    box: Box,
    number: int,
    at: XY | None = None,
    cautions: Sequence[int] = (),
    on_a_picture: bool = False,
) -> None:
    """An item's reference in a box of `balloon_size`: its number in a circle, a leader with a dot to it,
    and where it brings cautions their sign, on the side away from the item."""
    theme, middle = sheet.theme, 0.5 * (box[1] + box[3])
    side = -1.0 if at is not None and at[0] > 0.5 * (box[0] + box[2]) else 1.0
    centre = (box[0] + BALLOON_MM if side > 0.0 else box[2] - BALLOON_MM, middle)
    if at is not None:
        out = np.asarray(at, float) - centre
        length = float(np.hypot(*out))
        if length > BALLOON_MM:
            ends = np.array([centre + BALLOON_MM * out / length, at])
            spot = (float(at[0]), float(at[1]))
            if on_a_picture:  # paper beside ink shows on any ground
                sheet.line(ends, theme.paper, 4.0 * NARROW_MM, zorder=6.3)
                sheet.disc(spot, 0.75, theme.paper, zorder=6.3)
            sheet.line(ends, theme.ink, NARROW_MM, zorder=6.5)
            sheet.disc(spot, 0.45, theme.ink, zorder=6.6)
    sheet.disc(centre, BALLOON_MM, theme.paper, theme.ink, NARROW_MM, zorder=7.0)
    sheet.text(centre[0], centre[1] + 1.0, str(number), POINTS, None, Face.SEMIBOLD, "middle")
    if cautions:
        draw_caution_sign(sheet, (centre[0] + side * (BALLOON_MM + 3.2), middle))


def balloon_size(cautions: Sequence[int]) -> XY:
    """Width and height of an item's reference with its caution signs, mm."""
    return 2.0 * BALLOON_MM + (6.2 if cautions else 0.0), 2.0 * BALLOON_MM


def draw_caution_sign(sheet: Sheet, centre: XY, half: float = 2.7) -> None:
    """A triangle with an exclamation mark in it, which points to the cautions. half : half its width, mm."""
    x, y = centre
    corners = np.array([(x, y - half), (x + half, y + 0.75 * half), (x - half, y + 0.75 * half)])
    sheet.polygon(corners, sheet.theme.paper, sheet.theme.warning, 0.15 * half, zorder=7.0)
    stroke = np.array([(x, y - 0.42 * half), (x, y + 0.22 * half)])
    sheet.line(stroke, sheet.theme.warning, 0.17 * half, zorder=7.5)
    sheet.disc((x, y + 0.47 * half), 0.1 * half, sheet.theme.warning, zorder=7.5)


def draw_projection_symbol(sheet: Sheet, box: Box, method: str) -> None:
    """A truncated cone in two views: seen from its small end at the right (first angle) or left (third)."""
    left, top, right, bottom = box
    y, high = 0.5 * (top + bottom), 0.34 * (bottom - top)
    small, long = 0.5 * high, 2.0 * high
    gap = 0.7 * high
    whole = long + gap + 2.0 * high
    x = 0.5 * (left + right) - 0.5 * whole
    cone_x, disc_x = (x, x + long + gap + high) if method == FIRST else (x + 2.0 * high + gap, x + high)
    cone = [(cone_x, y - small), (cone_x + long, y - high), (cone_x + long, y + high), (cone_x, y + small)]
    ink = sheet.theme.ink
    sheet.line([*cone, cone[0]], ink, WIDE_MM)
    sheet.disc((disc_x, y), high, None, ink, WIDE_MM)
    sheet.disc((disc_x, y), small, None, ink, WIDE_MM)
    sheet.line([(cone_x - 1.2, y), (cone_x + long + 1.2, y)], ink, NARROW_MM, AXIS)
    sheet.line([(disc_x - high - 1.2, y), (disc_x + high + 1.2, y)], ink, NARROW_MM, AXIS)
    sheet.line([(disc_x, y - high - 1.2), (disc_x, y + high + 1.2)], ink, NARROW_MM, AXIS)


@dataclass(frozen=True)
class TitleBlock:
    """The fields of ISO 7200 that a plan has. identification : of the set, its file.  scale : "1 : 4"."""

    title: str
    document_type: str
    identification: str
    date: str
    sheet: str
    creator: str = ""
    scale: str = ""
    projection: str = ""


def draw_title_block(sheet: Sheet, right: float, bottom: float, block: TitleBlock) -> Box:
    """The title block with its lower right corner at a place; returns its box."""
    width, height = TITLE_BLOCK_MM
    left, top = right - width, bottom - height
    rows = [top, top + height / 3.0, top + 2.0 * height / 3.0, bottom]
    columns = [left, left + 76.0, left + 132.0, right]
    ink = sheet.theme.ink
    sheet.frame((left, top, right, bottom), ink, WIDE_MM)
    for y in rows[1:3]:
        sheet.line([(left, y), (right, y)], ink, NARROW_MM)
    for x in columns[1:3]:
        sheet.line([(x, top), (x, bottom)], ink, NARROW_MM)
    cells = [
        ("created by", block.creator or "–"),
        ("type", block.document_type),
        ("projection" if block.projection else "", ""),
        ("title", block.title),
        ("number", block.identification),
        ("scale" if block.scale else "", block.scale),
        ("language", "en; dimensions in millimetres"),
        ("date", block.date),
        ("sheet", block.sheet),
    ]
    for number, (name, value) in enumerate(cells):
        row, column = divmod(number, 3)
        x, y = columns[column] + 1.5, rows[row + 1] - 2.9
        sheet.text(x, y, name, POINTS, sheet.theme.quiet)
        start = x + (width_mm(name, POINTS) + 2.0 if name else 0.0)
        face = Face.SEMIBOLD if name == "title" else Face.REGULAR
        sheet.text(
            start, y, fit_line(value, POINTS, columns[column + 1] - start - 1.0, face), POINTS, None, face
        )
    if block.projection:
        draw_projection_symbol(sheet, (columns[2] + 20.0, rows[0], right, rows[1]), block.projection)
    return left, top, right, bottom
