"""What stands under a frame of a contact sheet: measures in short words, and why one is absent."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from re import sub

from lightsim.errors import LightsimError
from lightsim.measures.measure_records import FrameMeasures
from lightsim.report.drawing.sheet_of_paper import width_mm
from lightsim.report.footnotes import focus_sentence, reason_for
from lightsim.report.frames import SheetFrame
from lightsim.report.words import clock_words, fixed, level_words, percent, sentence, signed, significant

SEPARATOR = " · "
LEAST_CLIPPED = 0.005  # of the petal, from which it is said
NOT_BUILDABLE = "cannot be built"


@dataclass(frozen=True)
class ShownMeasure:
    """A measure as it stands under a frame.

    keys : of FrameMeasures, all of which it needs.  write : the numbers in words.  about : what it is.
    """

    keys: tuple[str, ...]
    write: Callable[..., str]
    about: str

    def words(self, measures: FrameMeasures) -> str | None:
        """The measure in words, or None where one of its numbers is empty."""
        values = [getattr(measures, key) for key in self.keys]
        return None if any(value is None for value in values) else self.write(*values)


def _place(share: float, clock: float | None = None) -> str:
    where = f"{percent(share)} out"
    return where if clock is None else f"{where} at {clock_words(clock)}"


MEASURES: dict[str, ShownMeasure] = {
    "petal": ShownMeasure(
        ("petal_contrast_stops",),
        lambda value: f"petal {fixed(value, 1)} stops",
        "petal: contrast of the bare petal, 95th to 5th percentile of luminance",
    ),
    "highlight": ShownMeasure(
        ("highlight_long_mm_median", "highlight_short_mm_median"),
        lambda long, short: f"{significant(long)} × {significant(short)} mm",
        "mm: the highlight in a drop, full width long × short, median over the drops",
    ),
    "share": ShownMeasure(
        ("highlight_disc_share_median",),
        lambda value: f"{percent(value)} of the drop",
        "of the drop: the highlight’s part of the drop’s disc (median)",
    ),
    "place": ShownMeasure(
        ("highlight_place_share_median", "highlight_clock_median"),
        _place,
        "out: how far the highlight lies from the drop’s centre (0 %) to its rim (100 %), median",
    ),
    "brightness": ShownMeasure(
        ("highlight_stops_above_petal_median",),
        lambda value: f"highlight {signed(value)} stops",
        "highlight: how far it stands above the petal (median)",
    ),
    "level": ShownMeasure(
        ("petal_linear",),
        lambda value: f"level {level_words(value)}",
        "level: the petal’s mean from mid-tone",
    ),
    "clipped": ShownMeasure(
        ("clipped_share",),
        lambda value: f"{percent(value)} burnt out",
        "burnt out: part of the picture that the sensor clips",
    ),
    "shadow": ShownMeasure(
        ("shadow_depth_stops",),
        lambda value: f"shadow {fixed(value, 1)} stops",
        "shadow: petal in the key’s light to petal in its cast shadow",
    ),
    "texture": ShownMeasure(
        ("texture_fine_rms",),
        lambda value: f"texture {percent(value)}",
        "texture: RMS contrast of the petal’s detail of 0.25 to 1 mm",
    ),
    "lighting": ShownMeasure(
        ("lighting_ratio",),
        lambda value: f"lighting {significant(value)} : 1",
        "lighting: ratio of key and fill to fill alone",
    ),
    "caustic": ShownMeasure(
        ("caustic_stops_above_petal_median",),
        lambda value: f"caustic {signed(value)} stops",
        "caustic: the light that a drop gathers, above the petal (median)",
    ),
}
USUAL = ("petal", "highlight")


def checked_measures(names: Sequence[str] | None) -> tuple[str, ...]:
    """The names of measures that are known; the usual ones for None. Raises LightsimError for another."""
    if names is None:
        return USUAL
    if not names:
        raise LightsimError(f"measures: found none, allowed {', '.join(MEASURES)}")
    for name in names:
        if name not in MEASURES:
            raise LightsimError(f"measures: found {name!r}, allowed {', '.join(MEASURES)}")
    return tuple(dict.fromkeys(names))


def measure_parts(frame: SheetFrame, names: Sequence[str]) -> list[str]:
    """What is known of a frame, in short words; what is empty is absent, all of it where the set cannot be
    built."""
    if frame.not_buildable:
        return [NOT_BUILDABLE]
    parts = list(frame.settings)
    if frame.exposure_stops is not None:
        parts.append(f"exposed {signed(frame.exposure_stops)} stops")
    shown = [*names, "level"] if frame.shows_level and "level" not in names else list(names)
    if frame.shows_level and (frame.measures.petal_clipped_share or 0.0) >= LEAST_CLIPPED:
        shown.append("clipped")
    parts += [words for name in shown if (words := MEASURES[name].words(frame.measures)) is not None]
    return parts


def packed(parts: Sequence[str], points: float, room_mm: float) -> list[str]:
    """The parts in lines no wider than the room, as many to a line as fit."""
    lines: list[str] = []
    for part in parts:
        longer = f"{lines[-1]}{SEPARATOR}{part}" if lines else part
        if lines and width_mm(longer, points) <= room_mm:
            lines[-1] = longer
        else:
            lines.append(part)
    return lines


def key_sentences(frames: Sequence[SheetFrame], names: Sequence[str]) -> list[str]:
    """What the captions' numbers are, for those that stand under any frame."""
    shown = list(names)
    if any(frame.shows_level for frame in frames):
        shown.append("level")
    there = [
        name for name in dict.fromkeys(shown) if any(MEASURES[name].words(each.measures) for each in frames)
    ]
    about = [MEASURES[name].about for name in there]
    if frames and frames[0].measured_light:
        about = [words.replace("the key’s", f"“{frames[0].measured_light}”’s") for words in about]
    measures = [frame.measures for frame in frames]
    left_out = [focus_sentence(measures)] if any(each.highlights_out_of_focus for each in measures) else []
    return [sentence("; ".join(about)) + ".", *left_out] if about else []


def unbuilt_sentences(frames: Sequence[SheetFrame]) -> list[str]:
    """Which frames cannot be built, and why."""
    unbuilt: dict[str, list[str]] = {}
    for frame in frames:
        if frame.not_buildable:
            unbuilt.setdefault(frame.not_buildable, []).append(frame.heading)
    return [f"{sentence(NOT_BUILDABLE)}: {listed(at)} ({reason})." for reason, at in unbuilt.items()]


def hidden_sentence(frames: Sequence[SheetFrame]) -> str:
    """How much of the light solid things hide in which frames; empty where none of it."""
    hidden = [f"{percent(each.hidden_share)} ({each.heading})" for each in frames if each.hidden_share]
    return f"Lens, camera and other solid things hide part of the light: {listed(hidden)}." if hidden else ""


def absence_sentence(frames: Sequence[SheetFrame], names: Sequence[str]) -> str:
    """One short sentence for why numbers are absent; empty where none is."""
    reasons: dict[str, list[str]] = {}
    for frame in frames:
        for name in names:
            measure = MEASURES[name]
            if not frame.not_buildable and measure.words(frame.measures) is None:
                key = next(each for each in measure.keys if getattr(frame.measures, each) is None)
                headings = reasons.setdefault(first_reason(reason_for(frame.measures.missing, key)), [])
                if frame.heading not in headings:
                    headings.append(frame.heading)
    if not reasons:
        return ""
    reason = max(reasons, key=lambda each: len(reasons[each]))
    others = " Other reasons stand in the table." if len(reasons) > 1 else ""
    return f"Without a number at {_listed(reasons[reason], len(frames))}: {reason}.{others}"


def first_reason(reason: str) -> str:
    """The first of several reasons, without the count of drops that it holds for."""
    return sub(r"^\d+ drops?: ", "", reason.rstrip(".").split("; ")[0])


def _listed(headings: Sequence[str], count: int) -> str:
    if len(headings) == count and count > 1:
        return "any frame"
    return listed(headings) if len(headings) <= 4 else f"{headings[0]} to {headings[-1]}"


def listed(headings: Sequence[str]) -> str:
    """Headings one after the other, parted so that commas within them do not mislead."""
    return ("; " if any("," in heading for heading in headings) else ", ").join(headings)
