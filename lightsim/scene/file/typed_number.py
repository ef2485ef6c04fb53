"""Numbers as a hand types them: "f/8", "1/60s", "60 mm", "+8", "8D", "25 %", "9:30"; files and options alike.

A number may carry its unit; the unit has to be one of its key's. What is nearly right (a comma as decimal
sign, curly quotes, a shutter time of 200 that must be 1/200) is refused with what was probably meant, never
guessed in silence.
"""

from __future__ import annotations

import re
import unicodedata
from math import isfinite

from lightsim.optics.marks import SHUTTER_TIMES

LONGEST_TEXT = 40  # characters; no number is longer
LONGEST_UNMARKED_S = 30.0  # longer shutter times are not marked on a dial (ISO 516)

LENGTHS_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "µm": 0.001, "um": 0.001}
_SECONDS = {"s": 1.0, "sec": 1.0, "ms": 0.001, "min": 60.0}

# unit of a key -> what may stand behind its number, and the factor that this brings
SUFFIXES: dict[str, dict[str, float]] = {
    "mm": LENGTHS_MM,
    "m": {unit: factor / 1000.0 for unit, factor in LENGTHS_MM.items()},
    "mm/s": {"mm/s": 1.0, "cm/s": 10.0},
    "s": _SECONDS,
    "degrees": dict.fromkeys(("°", "deg", "degree", "degrees"), 1.0),
    "dioptres": dict.fromkeys(("d", "dpt", "dioptre", "dioptres"), 1.0),
    "o'clock": dict.fromkeys(("o'clock", "oclock", "h"), 1.0),
    "K": {"k": 1.0, "kelvin": 1.0},
    "lx": {"lx": 1.0, "lux": 1.0},
    "EV": {"ev": 1.0},
    "stops": {"stop": 1.0, "stops": 1.0},
    "pixels": dict.fromkeys(("px", "pixel", "pixels"), 1.0),
    "electrons": {"e": 1.0, "electrons": 1.0},
    "cd s (flash) or cd": {"cd": 1.0, "cd s": 1.0, "cds": 1.0},
    "": {"%": 0.01},
}
# how a key's number is written -> what may stand before it
PREFIXES = {"f-number": ("f/", "f"), "iso": ("iso",), "magnification": ("x", "×")}
_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?"
_FORM = re.compile(rf"({_NUMBER})(?:/({_NUMBER}))?(?:\+({_NUMBER})(?:/({_NUMBER}))?)?")


class NotTyped(ValueError):
    """Text that is no number of its key. meant : what was probably meant, "" where that is not known."""

    def __init__(self, meant: str = ""):
        super().__init__(meant)
        self.meant = meant


def typed_number(text: str, unit: str = "", written: str = "") -> float:
    """The number that a text stands for, in its key's own unit.

    Parameters
    ----------
    text : "60", "60 mm", "6cm", "f/8", "F8", "ISO 400", "1/60s", "+8", "8D", "25 %", "9:30", "1/16 + 1/3".
    unit : the key's unit, as `scene.file.keys` names it ("mm", "degrees", "o'clock", "" ...).
    written : how the number is written besides: "f-number", "iso", "shutter" (a marked time stands for the
        exact one: 1/125 is 1/128 s), "fraction" (1/16 + 1/3: thirds of a stop), "magnification" (1.5:1).

    Raises
    ------
    NotTyped, with what was probably meant where that is known.

    >>> typed_number("6 cm", "mm"), typed_number("F8", written="f-number"), typed_number("9:30", "o'clock")
    (60.0, 8.0, 9.5)
    """
    plain = _plain(text)
    if not plain or len(plain) > LONGEST_TEXT:
        raise NotTyped
    body, factor = _without_unit(_without_prefix(plain, written), unit)
    if unit == "o'clock" and ":" in body:
        return _clock(body)
    if written == "magnification" and body.endswith(":1"):
        body = body.removesuffix(":1")
    found = _FORM.fullmatch(body)
    if found is None:
        raise NotTyped(_meant(plain, unit))
    above, below, third, of = found.groups()
    if third is not None and written != "fraction":
        raise NotTyped
    try:
        number = float(above) / float(below) if below else float(above)
        number *= factor * 2.0 ** ((float(third) / float(of) if of else float(third)) if third else 0.0)
    except (ZeroDivisionError, OverflowError):
        raise NotTyped from None
    if not isfinite(number):
        raise NotTyped
    return SHUTTER_TIMES.exact(number) if written == "shutter" and number > 0.0 else number


def meant_by_seconds(number: float) -> str:
    """What was probably meant by a shutter time without fraction or unit that no dial has; "" otherwise.

    >>> meant_by_seconds(200)
    'probably "1/200"; "200 s" for so many seconds'
    """
    if number <= LONGEST_UNMARKED_S or not isfinite(number):
        return ""
    return f'probably "1/{number:g}"; "{number:g} s" for so many seconds'


def _plain(text: str) -> str:
    """Without spaces and quotes, small letters, plain signs."""
    text = (
        unicodedata.normalize("NFKC", text[: 2 * LONGEST_TEXT]).replace("\u2044", "/").replace("\u2212", "-")
    )
    return re.sub(r"[\s“”„‘’\"]", "", text).lower()


def _without_prefix(text: str, written: str) -> str:
    for prefix in PREFIXES.get(written, ()):
        if text.startswith(prefix) and text != prefix:
            return text.removeprefix(prefix)
    return text


def _without_unit(text: str, unit: str) -> tuple[str, float]:
    """The text before its unit, and the factor that the unit brings."""
    known = {suffix.replace(" ", "").lower(): factor for suffix, factor in SUFFIXES.get(unit, {}).items()}
    for suffix in sorted(known, key=len, reverse=True):
        if text.endswith(suffix) and re.search(r"[\d.]$", text.removesuffix(suffix)):
            return text.removesuffix(suffix), known[suffix]
    return text, 1.0


def _clock(text: str) -> float:
    """Hours and minutes: 9:30 is half past nine."""
    found = re.fullmatch(r"(\d{1,2}):([0-5]\d)", text)
    if found is None:
        raise NotTyped('such as "9:30", hours and minutes')
    return int(found[1]) + int(found[2]) / 60.0


def _meant(text: str, unit: str) -> str:
    """A decimal comma, or a unit of another kind, said."""
    point = text.replace(",", ".")
    if re.fullmatch(r"[^.]*\d,\d+[^\d.]*", text) and text.count(",") == 1:
        return f"{point}, with a point as the decimal sign"
    foreign = re.fullmatch(rf"{_NUMBER}([^\d].*)", text)
    if foreign:
        known = [suffix for suffix in SUFFIXES.get(unit, {}) if len(suffix) <= len(unit) + 2]
        return f"a number in {' or '.join(known[:3])}" if known and unit else ""
    return ""
