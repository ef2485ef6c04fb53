"""Advice on a shot in plain sentences, each with its number and the rule behind it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from lightsim.planning.planned import Planned
from lightsim.scene.describe import warnings


@dataclass(frozen=True)
class Advice:
    """One piece of advice.

    topic : a word or two.  sentence : plain words with the number in them.  rule : what is behind it.
    number, unit : for programs.  minds : False where it only says that all is well.
    on : names of the things on the set that bring it, "camera" too.
    """

    topic: str
    sentence: str
    rule: str
    number: float | None = None
    unit: str = ""
    minds: bool = True
    on: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """All of it."""
        return asdict(self)


def advice(plan: Planned) -> tuple[Advice, ...]:
    """All that there is to say of a planned shot."""
    return tuple(_advice(plan))


def _advice(plan: Planned) -> Iterator[Advice]:
    from lightsim.planning.advice import light as advice_light
    from lightsim.planning.advice import sharpness as advice_sharp

    yield from advice_light.level(plan)
    yield from advice_light.ratio(plan)
    yield from advice_sharp.sharpest(plan)
    yield from advice_light.highlights(plan)
    yield from advice_light.ghost(plan)
    yield from advice_light.near(plan)
    yield from advice_light.synchronised(plan)
    yield from advice_sharp.room_before_lens(plan)
    yield from advice_sharp.lens_in_the_light(plan)
    yield from advice_sharp.overlaps(plan)
    for warning in warnings(plan.scene, plan.stage):
        sentence = f"{warning[:1].upper()}{warning[1:]}."
        yield Advice("on the set", sentence, "what `lightsim check` looks at")
