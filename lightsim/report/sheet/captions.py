"""The words under a frame, and the reasons for what could not be measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from lightsim.measures.records import FrameMeasures
from lightsim.report.frames import SheetFrame
from lightsim.report.level import level_words
from lightsim.report.words import DASH, clock_words, fixed, percent, signed, significant

CONTRAST = "contrast"  # the second line over a picture begins with it
LEAST_CLIPPED = 0.005  # of the petal, from which it is said
NO_REASON = "not measured"
READING_KEY = (
    "Beside a drop, its highlight: long × short axis, share of the drop’s disc, place from the centre (0 R) "
    "to the rim (1 R); medians. Contrast: bright to dark parts of the petal (95th to 5th percentile), drops "
    "left out."
)
_LONGEST_REASON = 110  # letters
_SUPERSCRIPTS = "⁰¹²³⁴⁵⁶⁷⁸⁹"


@dataclass
class Footnotes:
    """Reasons in the order in which they come up, each told once."""

    reasons: list[str] = field(default_factory=list)

    def mark(self, reason: str) -> str:
        """The en dash that stands for a missing number, with the raised figure of its reason.

        A very long reason is cut short first.
        """
        reason = brief(reason)
        if reason not in self.reasons:
            self.reasons.append(reason)
        return DASH + raised(self.reasons.index(reason) + 1)

    def sentences(self) -> list[str]:
        """Each reason after its raised figure."""
        return [f"{raised(number)}\u00a0{ended(reason)}" for number, reason in enumerate(self.reasons, 1)]


@dataclass(frozen=True)
class Caption:
    """What stands with a frame: heading 75°, light side, contrast 2.3 stops, and lines beside its drop."""

    heading: str
    light: str
    contrast: str
    beside: tuple[str, ...]


def brief(reason: str) -> str:
    """A reason in full where it is short; of a long list as many whole parts as fit, and an ellipsis."""
    parts = reason.rstrip(".").split("; ")
    kept = parts[:1]
    for part in parts[1:]:
        if len("; ".join([*kept, part])) > _LONGEST_REASON:
            return "; ".join(kept) + " …"
        kept.append(part)
    return "; ".join(kept)


def ended(text: str) -> str:
    """The text with a full stop, unless it ends in an ellipsis."""
    return text if text.endswith("…") else text + "."


def raised(number: int) -> str:
    """A number in raised figures."""
    return "".join(_SUPERSCRIPTS[int(digit)] for digit in str(number))


def caption(frame: SheetFrame, notes: Footnotes) -> Caption:
    """The caption of a frame; reasons for missing numbers go to `notes`."""
    measures = frame.measures
    stops = frame.exposure_stops
    exposed = () if stops is None else (f"exposed {signed(stops)} stops",)
    if frame.shows_level and measures.petal_linear is not None:
        exposed = (*exposed, f"petal {level_words(measures.petal_linear)}{_clipped(measures)}")
    return Caption(
        heading=frame.heading,
        light=frame.light_name,
        contrast=contrast_words(measures, notes),
        beside=(*exposed, *highlight_words(measures, notes)),
    )


def _clipped(measures: FrameMeasures) -> str:
    """What is said with the petal's level where part of it is clipped."""
    share = measures.petal_clipped_share or 0.0
    return f", {percent(share)} of it clipped" if share >= LEAST_CLIPPED else ""


def contrast_words(measures: FrameMeasures, notes: Footnotes) -> str:
    """Petal contrast in stops."""
    if measures.petal_contrast_stops is None:
        return notes.mark(reason_for(measures.missing, "petal_contrast_stops", "petal_contrast_ratio"))
    return f"{fixed(measures.petal_contrast_stops, 1)} stops"


def highlight_words(measures: FrameMeasures, notes: Footnotes) -> tuple[str, ...]:
    """Size, share of the disc and place of the highlight; one dash where nothing of it is known."""
    parts = (_size(measures, notes), _share(measures, notes), _place(measures, notes))
    empty = [part for part in parts if part.startswith(DASH)]
    return (parts[0],) if len(empty) == 3 and len(set(parts)) == 1 else parts


def _size(measures: FrameMeasures, notes: Footnotes) -> str:
    long_mm, short_mm = measures.highlight_long_mm_median, measures.highlight_short_mm_median
    if long_mm is None or short_mm is None:
        return notes.mark(reason_for(measures.missing, "highlight_long_mm_median", "highlight_long_mm"))
    return f"{significant(long_mm)} × {significant(short_mm)} mm"


def _share(measures: FrameMeasures, notes: Footnotes) -> str:
    share = measures.highlight_disc_share_median
    if share is None:
        return notes.mark(reason_for(measures.missing, "highlight_disc_share_median", "highlight_disc_share"))
    return f"{percent(share)} of the disc"


def _place(measures: FrameMeasures, notes: Footnotes) -> str:
    place, clock = measures.highlight_place_share_median, measures.highlight_clock_median
    if place is None:
        return notes.mark(
            reason_for(measures.missing, "highlight_place_share_median", "highlight_place_share")
        )
    where = f"{fixed(place, 2)} R"
    return where if clock is None else f"{where} at {clock_words(clock)}"


def reason_for(missing: Mapping[str, str], *keys: str) -> str:
    """The reason why a number is empty, by the first of its names that has one."""
    for key in keys:
        if key in missing:
            return missing[key]
    return NO_REASON
