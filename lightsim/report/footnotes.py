"""The reasons for what could not be measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from lightsim.measures.measure_records import FrameMeasures
from lightsim.report.words import DASH

NO_REASON = "not measured"
_LONGEST_REASON = 110  # letters
_SUPERSCRIPTS = "⁰¹²³⁴⁵⁶⁷⁸⁹"


@dataclass
class Footnotes:
    """Reasons in the order in which they come up, each given once."""

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


def reason_for(missing: Mapping[str, str], *keys: str) -> str:
    """The reason why a number is empty, by the first of its names that has one."""
    for key in keys:
        if key in missing:
            return missing[key]
    return NO_REASON


def focus_sentence(measures: Sequence[FrameMeasures]) -> str:
    """Over which drops the highlights' medians run, and how many were left out for focus."""
    return left_out_for_focus([each.highlights_out_of_focus for each in measures])


def left_out_for_focus(counts: Sequence[int]) -> str:
    """The same from the numbers of drops left out."""
    words = "Highlights: medians over the drops"
    low, high = min(counts, default=0), max(counts, default=0)
    if high == 0:
        return f"{words}."
    more = low if low == high else f"{low} to {high}"
    return f"{words} within the depth of field; {more} more left out for focus."
