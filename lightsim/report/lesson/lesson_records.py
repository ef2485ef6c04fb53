"""A lesson that is ready to be laid out: its steps with their words and photographs."""

from __future__ import annotations

from dataclasses import dataclass

from lightsim.report.handout.handout_records import HandoutSet


@dataclass(frozen=True)
class TaughtStep:
    """One step. text, question, answer : Markdown, the measured numbers in it.  shown : its photographs.

    numbers : names of the measures that stand under the photographs with the answer.
    """

    heading: str
    text: str
    shown: HandoutSet
    question: str = ""
    answer: str = ""
    numbers: tuple[str, ...] = ("petal contrast", "highlight")


@dataclass(frozen=True)
class TaughtLesson:
    """A lesson. about : one or two sentences on what it teaches.  credit : who gives it, or ""."""

    title: str
    about: str
    steps: tuple[TaughtStep, ...]
    credit: str = ""
