"""The trade's words and the form of numbers, alike on sheet, chart and table."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from math import isfinite, log2

from lightsim.optics.exposure_values import MID_TONE
from lightsim.optics.marks import FLASH_POWERS, ISO_SPEEDS, SHUTTER_TIMES, Series

DASH = "–"  # what stands for a number that cannot be had
MINUS = "−"

# Upper border of each name, degrees off the lens axis; a border belongs to the name before it, since back
# light begins above 120. Common practice, no source.
TRADE_BORDERS: tuple[tuple[float, str], ...] = (
    (30.0, "frontal"),
    (60.0, "three-quarter"),
    (120.0, "side"),
    (180.0, "back"),
)


def folded_angle(angle_deg: float) -> float:
    """An angle off the lens axis brought into 0..180: 200 degrees is 160 on the other side."""
    return abs((angle_deg + 180.0) % 360.0 - 180.0)


def trade_name(angle_deg: float) -> str:
    """The trade's name of a light that stands at an angle off the lens axis.

    frontal 0-30, three-quarter above 30 to 60, side above 60 to 120, back above 120 (common practice, no
    source). Angles beyond 180 are folded back.
    """
    angle = round(folded_angle(angle_deg), 6)
    return next(name for border, name in TRADE_BORDERS if angle <= border)


def trade_bands(low_deg: float, high_deg: float) -> Iterator[tuple[float, float, str]]:
    """The bands (from, to, name) that cover a range of angles, both in degrees; folded beyond 180."""
    ends = [border for border, _ in TRADE_BORDERS]
    borders = sorted({*ends, *(360.0 - end for end in ends), 360.0})
    edges = [low_deg, *(b for b in borders if low_deg < b < high_deg), high_deg]
    runs: list[tuple[float, float, str]] = []
    for start, end in pairwise(edges):
        name = trade_name((start + end) / 2)
        if runs and runs[-1][2] == name:
            start = runs.pop()[0]
        runs.append((start, end, name))
    yield from runs


# Lowest reflectance of each kind of card, its name. Common practice, no source: a grey card reflects 18 %.
CARD_KINDS: tuple[tuple[float, str], ...] = ((0.6, "white card"), (0.1, "grey card"), (0.0, "black flag"))


def card_kind(reflectance: float) -> str:
    """What the trade calls a card that reflects so much: white card, grey card, black flag."""
    return next(name for least, name in CARD_KINDS if reflectance >= least)


def face_words(shape: str, width_mm: float, height_mm: float, inner_width_mm: float | None = None) -> str:
    """Size of a light's face or of a board: "60 × 40 mm", "80 mm, round", "ring of 80 mm, 60 mm inside".

    shape : "rectangle", "round" (width_mm is the diameter) or "ring" (inner_width_mm that of its hole).
    """
    if shape == "ring":
        return f"ring of {plain(width_mm)} mm, {plain(inner_width_mm or 0.0)} mm inside"
    if shape == "round":
        return f"{plain(width_mm)} mm, round"
    return f"{plain(width_mm)} × {plain(height_mm)} mm"


def plain(value: float, digits: int = 2) -> str:
    """A number with at most `digits` decimals, no needless noughts, a true minus sign."""
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text.replace("-", MINUS)


def fixed(value: float, digits: int) -> str:
    """A number with exactly `digits` decimals and a true minus sign."""
    text = f"{value:.{digits}f}"
    return (text[1:] if text.startswith("-") and not float(text) else text).replace("-", MINUS)


def signed(value: float, digits: int = 1) -> str:
    """A difference with its sign; one that rounds to nothing is written with a plus-minus."""
    text = fixed(abs(value), digits)
    if not float(text):
        return "±" + text
    return ("+" if value > 0 else MINUS) + text


def significant(value: float, figures: int = 2) -> str:
    """A positive size to so many significant figures, without an exponent: 0.0734 -> 0.073, 12.6 -> 13."""
    if value == 0 or not isfinite(value):
        return plain(value)
    decimals = figures - int(f"{abs(value):.{figures - 1}e}".split("e")[1]) - 1
    return fixed(round(value, decimals), max(decimals, 0))


def clock_words(clock: float) -> str:
    """A clock position to the nearest quarter hour: 10 -> "10 o’clock", 9.73 -> "9:45"."""
    quarters = round(clock * 4) % 48
    hour, quarter = quarters // 4 or 12, quarters % 4
    return f"{hour} o’clock" if quarter == 0 else f"{hour}:{quarter * 15:02d}"


def clock_figures(clock: float) -> str:
    """A clock position to the nearest quarter hour in figures alone: 10 -> "10:00"."""
    words = clock_words(clock)
    return words if ":" in words else f"{words.split()[0]}:00"


def degrees(angle_deg: float) -> str:
    """An angle with its sign: 75°."""
    return f"{plain(angle_deg, 1)}°"


def percent(share: float) -> str:
    """A share as a percentage to two significant figures, whole from 10 up."""
    value = 100.0 * share
    return f"{significant(value) if value < 10 else fixed(value, 0)} %"


def quantity(value: float | str, unit: str) -> str:
    """A value in its unit, as it heads a caption: 75°, 10 o’clock, 250 mm, f/11, 1/125 s, power 1/16."""
    if isinstance(value, str):
        return value
    if unit in ("deg", "°"):
        return degrees(value)
    if unit in ("clock", "o’clock", "o'clock"):
        return clock_words(value)
    if unit in ("f/", "f-number"):
        return f"f/{plain(value, 1)}"
    if unit in MARKED:
        return f"power {marked(value, unit)}" if unit == "power" else marked(value, unit)
    return f"{plain(value)} {unit}".rstrip()


# Settings that are marked in stops: the unit and its marks.
MARKED: dict[str, Series] = {"power": FLASH_POWERS, "s": SHUTTER_TIMES, "ISO": ISO_SPEEDS}
_AT_THE_MARK_STOPS = 0.05


def marked(value: float, unit: str) -> str:
    """A setting as it stands on the dial; one between the marks as a number."""
    series = MARKED[unit]
    mark = series.nearest(series.exact(value))
    if abs(mark.rest_stops) < _AT_THE_MARK_STOPS:
        return mark.label
    return (
        f"ISO {plain(value, 0)}" if unit == "ISO" else f"{significant(value)} {unit}".removesuffix(" power")
    )


_THIRDS = {"1/3": " and a third", "2/3": " and two thirds"}
_PARTS = {1 / 10: "a tenth", 1 / 8: "an eighth", 1 / 6: "a sixth", 1 / 5: "a fifth", 1 / 4: "a quarter",
          1 / 3: "a third", 1 / 2: "half"}  # fmt: skip


def power_words(power: float) -> str:
    """A flash's power as its dial shows it, the remainder in words.

    >>> power_words(2.0 ** (-6 + 2 / 3)), power_words(2.0 ** (-4 + 0.15)), power_words(2.0 ** -9.3)
    ('1/64 and two thirds', '1/16, a sixth of a stop more', '1/256, 1.3 stops less')
    """
    mark = FLASH_POWERS.nearest(power)
    whole, _, third = mark.label.partition(" + ")
    words = whole + _THIRDS.get(third, "")
    rest = abs(mark.rest_stops)
    if rest < _AT_THE_MARK_STOPS:
        return words
    way = "more" if mark.rest_stops > 0 else "less"
    if rest > 0.6:
        return f"{words}, {fixed(rest, 1)} stops {way}"
    part = _PARTS[min(_PARTS, key=lambda known: abs(known - rest))]
    return f"{words}, {part} of a stop {way}"


def sentence(text: str) -> str:
    """The text with a capital at its beginning, unless it begins with an f-number."""
    return text if text.startswith("f/") else text[:1].upper() + text[1:]


def glued(text: str) -> str:
    """The text with hard spaces where a line must not break: before a unit, about a cross, after ISO."""
    return re.sub(r"(?<=\d) (?=[^\W\d_]{1,2}\b|%|×)|(?<=×) (?=\d)|(?<=ISO) (?=\d)", "\u00a0", text)


def level_words(value: float, unit: bool = True) -> str:
    """A linear level in stops from the mid-tone."""
    if value <= 0:
        return "black"
    return signed(log2(value / MID_TONE)) + (" stops" if unit else "")
