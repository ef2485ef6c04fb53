"""What the sensor clips, marked in a photograph: an outline, a light hatch within it, and a key below."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.page_files import page_image
from lightsim.report.drawing.sheet_of_paper import Sheet, break_lines, line_height_mm, width_mm
from lightsim.report.theme import SIZES, Theme, theme_for
from lightsim.report.words import percent

ALL_CHANNELS = 7
_HATCH_SHARE = 1.0 / 110.0  # distance of the hatch's lines, of the picture's width
_LINE_SHARE = 1.0 / 1100.0
_KEY_MM, _LEAST_DPI = 120.0, 110.0  # as how wide a picture its key is set
_PAD_MM, _SWATCH_MM = 2.5, 7.0


def mark_burnt_out(
    picture: NDArray[np.uint8], over: NDArray[np.uint8], theme: Theme | None = None
) -> NDArray[np.uint8]:
    """The picture with its clipped parts outlined and hatched, crosswise where all channels are clipped.

    picture : (h, w, 3).  over : (h, w), a bit for each clipped channel.
    theme : whose accent the lines have, on white: what is burnt out is bright on any ground.
    """
    from scipy.ndimage import binary_dilation

    accent = np.array(theme_for("light").accent if theme is None else theme.accent, np.uint8)
    region = over > 0
    marked = picture.copy()
    if not region.any():
        return marked
    width = picture.shape[1]
    thick = max(round(_LINE_SHARE * width), 1)
    gap = max(round(_HATCH_SHARE * width), 5 * thick)
    rows, columns = np.nonzero(region)
    one = (rows + columns) % gap < thick
    two = ((rows - columns) % gap < thick) & (over[rows, columns] == ALL_CHANNELS)
    lines = one | two
    marked[rows[lines], columns[lines]] = accent
    outline = binary_dilation(region, iterations=thick) & ~region
    marked[outline] = accent
    return marked


def clipping_key(width_px: int, over: NDArray[np.uint8], theme: Theme) -> NDArray[np.uint8]:
    """A strip (h, width_px, 3) as wide as the picture: what the marks mean and how much is marked."""
    dpi = max(width_px / _KEY_MM * 25.4, _LEAST_DPI)
    wide = width_px / dpi * 25.4
    entries = _entries(over)
    points = SIZES["smallest"]
    room = wide - 2.0 * _PAD_MM
    lines = [
        break_lines(words, points, room - (_SWATCH_MM + 2.0 if pattern else 0.0))
        for pattern, words in entries
    ]
    high = line_height_mm(points, sum(map(len, lines))) + 2.0 * _PAD_MM
    sheet = Sheet.blank(wide, high, theme, dpi=dpi)
    y = _PAD_MM
    for (pattern, _), wrapped in zip(entries, lines, strict=True):
        for number, line in enumerate(wrapped):
            y += line_height_mm(points)
            if pattern and number == 0:
                _draw_swatch(sheet, _PAD_MM, y - 2.5, pattern == ALL_CHANNELS)
            x = _PAD_MM + (_SWATCH_MM + 2.0 if pattern else 0.0)
            if width_mm(line, points) <= wide - x:
                sheet.text(x, y - 0.5, line, points)
    strip = np.asarray(page_image(sheet))
    return (
        strip[:, :width_px] if strip.shape[1] >= width_px else np.pad(strip, ((0, 0), (0, 1), (0, 0)), "edge")
    )


def _entries(over: NDArray[np.uint8]) -> list[tuple[int, str]]:
    """Pattern (a channel's bit, or all) and words."""
    whole = np.count_nonzero(over == ALL_CHANNELS) / over.size
    part = np.count_nonzero(over) / over.size - whole
    if whole + part == 0.0:
        return [(0, "Nothing is burnt out.")]
    found = [(1, part, "burnt out in one or two channels"), (ALL_CHANNELS, whole, "in all three")]
    return [
        (pattern, f"{words}: {percent(share)} of the picture") for pattern, share, words in found if share > 0
    ]


def _draw_swatch(sheet: Sheet, x: float, y: float, crossed: bool) -> None:
    """A small piece of the pattern in its outline."""
    height, accent = 2.7, sheet.theme.accent
    right, bottom = x + _SWATCH_MM, y + height
    box = (x, y, right, bottom)
    step = 1.1
    for number in range(-3, 10):
        at = x + number * step
        sheet.line([(at, bottom), (at + height, y)], accent, 0.2, clip=box)
        if crossed:
            sheet.line([(at, y), (at + height, bottom)], accent, 0.2, clip=box)
    sheet.frame(box, accent, 0.25)
