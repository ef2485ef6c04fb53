"""The numbers marked on cameras and flashes, and the exact ones they stand for.

f/11 is 2^(7/2) = 11.31, 1/125 s is 1/128 s, ISO 125 is 126: the marks are rounded (ISO 517 for f-numbers,
ISO 516 for shutter times, ISO 12232 and ISO 5800 for speeds; which round number is marked for thirds is
common practice). Arithmetic on marks goes wrong (f/8 to f/22 gives 2.92 stops), so a mark is turned into
its exact number first, and an answer back into the nearest mark with the rest in stops.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log2
from typing import NamedTuple

_CLOSE = 0.005  # a number within half a per cent of a mark is that mark


class Mark(NamedTuple):
    """A marked number. exact is what it stands for; rest_stops of light are left over (+ lets more light
    in)."""

    label: str
    exact: float
    rest_stops: float


@dataclass(frozen=True)
class Series:
    """A row of marks in thirds of a stop.

    name : what is counted.
    marked : the numbers as they are written.  labels : the same as text.
    thirds : each mark's place, in thirds of a stop from the exact number 1 (or `base`).
    stops_per_octave : stops of light in a factor of two; 2 for f-numbers, else 1.
    more_light : +1 when a larger number means more light, else -1.
    """

    name: str
    marked: tuple[float, ...]
    labels: tuple[str, ...]
    thirds: tuple[int, ...]
    base: float = 1.0
    stops_per_octave: int = 1
    more_light: int = 1

    def exact_at(self, third: int) -> float:
        """The exact number so many thirds of a stop from the base."""
        return self.base * 2.0 ** (third / 3 / self.stops_per_octave)

    def exact(self, number: float) -> float:
        """What a marked number stands for; a number that is no mark stands for itself."""
        for marked, third in zip(self.marked, self.thirds, strict=True):
            if abs(number / marked - 1) < _CLOSE:
                return self.exact_at(third)
        return number

    def stops_between(self, first: float, second: float) -> float:
        """Stops of light gained from the first exact number to the second."""
        return self.more_light * self.stops_per_octave * log2(second / first)

    def nearest(self, exact: float) -> Mark:
        """The mark nearest to an exact number, and the stops of light that the number has over the mark."""
        places = (abs(self.stops_between(self.exact_at(third), exact)) for third in self.thirds)
        place = min(enumerate(places), key=lambda pair: pair[1])[0]
        at = self.exact_at(self.thirds[place])
        rest = self.stops_between(at, exact)
        return Mark(self.labels[place], at, 0.0 if abs(rest) < 1e-9 else rest)

    def label(self, exact: float) -> str:
        """The nearest mark as text, with what is left over: "f/11 + 0.2 stops"."""
        mark = self.nearest(exact)
        if abs(mark.rest_stops) < 0.05:
            return mark.label
        return f"{mark.label} {'+' if mark.rest_stops > 0 else '-'} {abs(mark.rest_stops):.1f} stops"

    def within(self, low: float, high: float) -> tuple[Mark, ...]:
        """The marks whose exact numbers lie from low to high, ends included."""
        marks = (Mark(*pair, 0.0) for pair in zip(self.labels, map(self.exact_at, self.thirds), strict=True))
        slack = 2.0**0.01
        return tuple(mark for mark in marks if low / slack <= mark.exact <= high * slack)

    def full_stops(self) -> tuple[Mark, ...]:
        """The marks a whole stop apart."""
        pairs = zip(self.labels, self.thirds, strict=True)
        return tuple(Mark(label, self.exact_at(third), 0.0) for label, third in pairs if third % 3 == 0)


def _marks(text: str) -> tuple[str, ...]:
    return tuple(text.split())


_F_MARKS = _marks("""
    0.7 0.8 0.9 1.0 1.1 1.2 1.4 1.6 1.8 2 2.2 2.5 2.8 3.2 3.5 4 4.5 5 5.6 6.3 7.1 8 9 10 11 13 14 16 18 20 22
    25 29 32 36 40 45 51 57 64 72 81 90
""")

F_NUMBERS = Series(
    "f-number",
    tuple(map(float, _F_MARKS)),
    tuple(f"f/{mark}" for mark in _F_MARKS),
    tuple(range(-3, len(_F_MARKS) - 3)),
    stops_per_octave=2,
    more_light=-1,
)

_SLOW = _marks("30 25 20 15 13 10 8 6 5 4 3.2 2.5 2 1.6 1.3 1 0.8 0.6 0.5 0.4 0.3")
_FAST = _marks("""
    4 5 6 8 10 13 15 20 25 30 40 50 60 80 100 125 160 200 250 320 400 500 640 800 1000 1250 1600 2000 2500
    3200 4000 5000 6400 8000 10000 12800 16000
""")

SHUTTER_TIMES = Series(
    "shutter",
    tuple(map(float, _SLOW)) + tuple(1 / float(mark) for mark in _FAST),
    tuple(f"{mark} s" for mark in _SLOW) + tuple(f"1/{mark} s" for mark in _FAST),
    tuple(range(15, 15 - len(_SLOW) - len(_FAST), -1)),
)

_ISO_MARKS = _marks("""
    25 32 40 50 64 80 100 125 160 200 250 320 400 500 640 800 1000 1250 1600 2000 2500 3200 4000 5000 6400
    8000 10000 12800 16000 20000 25600 32000 40000 51200 64000 80000 102400
""")

ISO_SPEEDS = Series(
    "ISO",
    tuple(map(float, _ISO_MARKS)),
    tuple(f"ISO {mark}" for mark in _ISO_MARKS),
    tuple(range(-6, len(_ISO_MARKS) - 6)),
    base=100.0,
)


def _power_label(third: int) -> str:
    """ "1/16 + 1/3": power is marked in whole stops, with thirds added to them (common practice, no
    source)."""
    stop, part = divmod(third, 3)
    return f"1/{2**-stop}" + (f" + {part}/3" if part else "")


_POWER_THIRDS = tuple(range(0, -25, -1))

FLASH_POWERS = Series(
    "flash power",
    tuple(2.0 ** (third / 3) for third in _POWER_THIRDS),
    tuple(map(_power_label, _POWER_THIRDS)),
    _POWER_THIRDS,
)
"""1/1 to 1/256 in thirds of a stop."""
