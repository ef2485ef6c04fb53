"""Numbers in a lesson's words: {petal contrast at 75°} becomes what was measured there."""

from __future__ import annotations

import re

from lightsim.errors import LightsimError
from lightsim.report.handout.handout_records import HandoutFrame, HandoutSet
from lightsim.runs.handout.handout_set import NUMBERS

_PLACE = re.compile(r"\{([^{}]*)\}")


def with_numbers(text: str, shown: HandoutSet, where: str) -> str:
    """The text with each {NAME at VALUE} replaced by the measure's words in the frame of that value.

    NAME : one of `NUMBERS`.  VALUE : as it stands under the frame, such as 75° or f/16; a step with a single
    frame needs none. where : the step, for messages.
    Raises LightsimError for a name, or a value, that there is not.
    """

    def measured(found: re.Match[str]) -> str:
        name, _, value = (part.strip() for part in found[1].partition(" at "))
        if name not in NUMBERS:
            raise LightsimError(f"{where}: found {{{found[1]}}}, allowed {', '.join(NUMBERS)}")
        return _frame(shown, value, where, found[1]).said.get(name, "no number here")

    return _PLACE.sub(measured, text)


def _frame(shown: HandoutSet, value: str, where: str, placeholder: str) -> HandoutFrame:
    headings = [frame.heading for frame in shown.frames]
    if not value and len(headings) == 1:
        return shown.frames[0]
    wanted = {value, f"{value}°", f"f/{value}", f"{value} mm", f"{value} lx"}
    for frame, heading in zip(shown.frames, headings, strict=True):
        if heading in wanted:
            return frame
    raise LightsimError(f"{where}: found {{{placeholder}}}, allowed a number at {', '.join(headings)}")
