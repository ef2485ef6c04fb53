"""Marked shutter times and power fractions: what stands on the dial, and the exact power of two it means.

The marks of the whole stops are those of ISO 516 (1/15, 1/30, 1/60 ... for 1/16, 1/32, 1/64 ...); those of
the thirds and halves between them are common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction
from math import isclose, log2

# Parts of a second on the dial, whole stops first: exactly 2, 4, 8, ... 8192.
WHOLE_STOPS = (2, 4, 8, 15, 30, 60, 125, 250, 500, 1000, 2000, 4000, 8000)
# Thirds of a stop, from 1/2.5 s on; each group of three counts up from a whole stop's mark.
THIRDS = {
    1: (1.3, 1.6),
    2: (2.5, 3),
    4: (5, 6),
    8: (10, 13),
    16: (20, 25),
    32: (40, 50),
    64: (80, 100),
    128: (160, 200),
    256: (320, 400),
    512: (640, 800),
    1024: (1250, 1600),
    2048: (2500, 3200),
    4096: (5000, 6400),
}
HALVES = {16: 20, 32: 45, 64: 90, 128: 180, 256: 350, 512: 750, 1024: 1500, 2048: 3000, 4096: 6000}


def _marked() -> dict[float, float]:
    marks: dict[float, float] = {half: exact * 2**0.5 for exact, half in HALVES.items()}
    for exact, (first, second) in THIRDS.items():
        marks[first], marks[second] = exact * 2 ** (1 / 3), exact * 2 ** (2 / 3)
    marks.update({mark: 2.0 ** (stop + 1) for stop, mark in enumerate(WHOLE_STOPS)})
    return marks


MARKED_PARTS = _marked()


def fraction(text: str) -> float:
    """The value of "1/16", "0.5" or "2". ValueError for anything else, a zero divisor included."""
    above, slash, below = text.strip().partition("/")
    try:
        return float(Fraction(above.strip()) / Fraction(below.strip())) if slash else float(Fraction(above))
    except (ZeroDivisionError, OverflowError) as error:
        raise ValueError(text) from error


def shutter_seconds(text: str) -> float:
    """Seconds of a shutter time as marked: "1/125" is exactly 1/128. Other fractions mean what they say."""
    above, slash, below = text.strip().removesuffix("s").strip().partition("/")
    parts = fraction(below) if slash and fraction(above) == 1.0 else None
    if parts is not None and parts in MARKED_PARTS:
        return 1.0 / MARKED_PARTS[parts]
    return fraction(text.strip().removesuffix("s"))


def shutter_mark(seconds: float) -> str | None:
    """The mark of a shutter time that stands on the dial, such as "1/125", or None."""
    for parts, exact in MARKED_PARTS.items():
        if seconds * exact == 1.0 or isclose(seconds * exact, 1.0, rel_tol=1e-15):
            return f"1/{parts:g}"
    return None


def power_mark(power: float) -> str | None:
    """A power of whole stops below full as a fraction, such as "1/16", or None."""
    stops = -log2(power) if power > 0.0 else -1.0
    return f"1/{2 ** int(stops)}" if stops >= 0.0 and stops == int(stops) else None
