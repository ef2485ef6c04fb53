"""What a comparison shows of each picture: measures in words, and how they differ from the first's."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from math import log, log2

from lightsim.measures.glossary import compare_measures
from lightsim.measures.measure_records import FrameMeasures
from lightsim.report.footnotes import Footnotes, reason_for
from lightsim.report.words import clock_words, fixed, level_words, percent, signed, significant


@dataclass(frozen=True)
class CompareRow:
    """One measure over all pictures.

    name : what is measured, in words.  values : each picture's, in words; a dash where it cannot be had.
    changes : how each differs from the first, in words; "" for the first and where one of the two is empty.
    stops : the same as a number, where it is given in stops; None otherwise.
    """

    name: str
    values: tuple[str, ...]
    changes: tuple[str, ...]
    stops: tuple[float | None, ...] = ()


def _ratio(value: float) -> str:
    return f"{significant(value)} : 1, {fixed(log2(value), 1)} stops" if value > 0 else significant(value)


def _rms(value: float) -> str:
    return f"{percent(value)} RMS, {fixed(value / log(2.0), 2)} stops"


def _stops(value: float) -> str:
    return f"{signed(value)} stops"


def _mm(value: float) -> str:
    return f"{significant(value)} mm"


def _place(value: float) -> str:
    return f"{percent(value)} of the way"


# key of FrameMeasures: name, how its value is written
SHOWN: dict[str, tuple[str, Callable[[float], str]]] = {
    "petal_contrast_ratio": ("petal contrast, bright : dark parts", _ratio),
    "shadow_depth_ratio": ("shadow depth, light : cast shadow", _ratio),
    "texture_fine_rms": ("texture, detail of 0.25 to 1 mm", _rms),
    "texture_coarse_rms": ("texture, detail of 1 to 4 mm", _rms),
    "lighting_ratio": ("lighting ratio, (key + fill) : fill", _ratio),
    "petal_linear": ("petal’s brightness from mid-tone", level_words),
    "petal_clipped_share": ("clipped part of the petal", percent),
    "clipped_share": ("clipped part of the picture", percent),
    "highlight_long_mm_median": ("highlight, long axis", _mm),
    "highlight_short_mm_median": ("highlight, short axis", _mm),
    "highlight_disc_share_median": ("highlight, share of the drop’s disc", percent),
    "highlight_place_share_median": ("highlight, place from centre to rim", _place),
    "highlight_clock_median": ("highlight, clock position", clock_words),
    "highlight_stops_above_petal_median": ("highlight above the petal", _stops),
    "caustic_stops_above_petal_median": ("caustic above the petal", _stops),
    "shadow_length_mm_median": ("drops’ shadows, length", _mm),
}


# Those that a page has room for beside large pictures; the others stand in the tables of numbers.
ON_A_PAGE = (
    "petal_contrast_ratio",
    "shadow_depth_ratio",
    "texture_fine_rms",
    "lighting_ratio",
    "petal_linear",
    "clipped_share",
    "highlight_long_mm_median",
    "highlight_short_mm_median",
    "highlight_place_share_median",
    "highlight_stops_above_petal_median",
    "caustic_stops_above_petal_median",
)


def compare_rows(
    measures: Sequence[FrameMeasures], notes: Footnotes | None = None, keys: Collection[str] = SHOWN
) -> list[CompareRow]:
    """The rows of a comparison; measures that none of the pictures has are left out.

    keys : of those that are shown.
    notes : collects the reasons for empty values; their raised figures stand with the dashes.
    """
    notes = Footnotes() if notes is None else notes
    changes = [compare_measures(measures[0], each) for each in measures]
    rows = []
    for key, (name, write) in SHOWN.items():
        if key not in keys or all(getattr(each, key) is None for each in measures):
            continue
        values = tuple(_value(each, key, write, notes) for each in measures)
        differ = tuple(_change(key, change) if index else "" for index, change in enumerate(changes))
        in_stops = tuple(_stops_of(key, change) if index else None for index, change in enumerate(changes))
        rows.append(CompareRow(name, values, differ, in_stops))
    return rows


def left_out(measures: Sequence[FrameMeasures]) -> list[str]:
    """Sentences for the measures that none of the pictures has: name and reason."""
    lines: dict[str, list[str]] = {}
    for key, (name, _) in SHOWN.items():
        if all(getattr(each, key) is None for each in measures):
            lines.setdefault(reason_for(measures[0].missing, key), []).append(name)
    return [f"Not shown: {'; '.join(names)} ({reason})." for reason, names in lines.items()]


def _value(measures: FrameMeasures, key: str, write: Callable[[float], str], notes: Footnotes) -> str:
    value = getattr(measures, key)
    return notes.mark(reason_for(measures.missing, key)) if value is None else write(float(value))


def _stops_of(key: str, changes: dict[str, tuple[float, str]]) -> float | None:
    by, unit = changes.get(key, (0.0, ""))
    return by if unit == "stops" else None


def _change(key: str, changes: dict[str, tuple[float, str]]) -> str:
    """A difference in words; stops wherever the measure is a ratio, a length, or in stops."""
    if key not in changes:
        return ""
    by, unit = changes[key]
    if unit == "share":
        return f"{signed(100 * by, 2 if abs(by) < 0.1 else 0)} points"
    if unit == "hours":
        return f"{signed(by)} h"
    return f"{signed(by)} {unit}"
