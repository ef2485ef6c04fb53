"""What a handout holds: sets with their photographs, as pictures and as layers to be exposed anew."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from lightsim.report.viewer.packed_layer import PackedPlanes


@dataclass(frozen=True)
class HandoutFrame:
    """One photograph of a set.

    heading : what varies, in words ("75°").  trade_name : of its light ("side light"), or "".
    picture : JPEG, at the scene's own settings.
    layers : for each light its layer's key in the set.  petal : the bare petal's mean colour per unit of it.
    effective_f_number, iso, shutter_s : for its exposure.  outputs : of each light, as its layer counts it.
    numbers : (short name, what, words).
    plotted : numbers of the charts by key, None where one cannot be had.
    warning : why it cannot be built, or "".
    """

    heading: str
    trade_name: str
    picture: bytes
    layers: dict[str, str]
    petal: dict[str, tuple[float, ...]]
    effective_f_number: float
    iso: float
    shutter_s: float
    outputs: dict[str, float]
    numbers: tuple[tuple[str, str, str], ...]
    plotted: dict[str, float | None]
    warning: str = ""

    @property
    def said(self) -> dict[str, str]:
        """What is measured, in words by its short name."""
        return {name: words for name, _, words in self.numbers}


@dataclass(frozen=True)
class HandoutSet:
    """One set: its frames, one for each value of what varies (of two, row by row).

    axes : (name, key, values in words) of what varies, the frames' columns first.
    lights : {name, kind, kelvin, power, output} as the scene has them; the room is of kind "ambient".
    settings : {iso, shutter_s, white_balance_k, auto} of the scene.
    layers : packed, by key.
    first : number of the frame to begin with.
    """

    title: str
    about: str
    setting_words: str
    axes: tuple[tuple[str, str, tuple[str, ...]], ...]
    frames: tuple[HandoutFrame, ...]
    lights: tuple[dict[str, Any], ...]
    settings: dict[str, Any]
    layers: dict[str, PackedPlanes]
    width_px: int
    height_px: int
    first: int = 0


@dataclass(frozen=True)
class Section:
    """A part of a page: words, then perhaps a set, then perhaps a question.

    text : HTML that was made of Markdown, with no markup of its author's own.  answer : the same.
    """

    heading: str
    text: str = ""
    shown: HandoutSet | None = None
    question: str = ""
    answer: str = ""


@dataclass(frozen=True)
class HandoutPage:
    """A whole page.

    plan : JPEG of the plan of the set-up, None for none.  cautions : sentences.  terms : (term, words).
    """

    title: str
    sections: tuple[Section, ...]
    plan: bytes | None = None
    plan_words: str = ""
    cautions: tuple[str, ...] = ()
    terms: tuple[tuple[str, str], ...] = field(default_factory=tuple)
