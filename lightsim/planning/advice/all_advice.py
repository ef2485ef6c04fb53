"""Advice on a shot in plain sentences, each with its number and the rule behind it."""

from __future__ import annotations

from collections.abc import Iterator

from lightsim.planning.advice import light as on_light
from lightsim.planning.advice import sharpness as on_sharpness
from lightsim.planning.advice.advice_records import Advice
from lightsim.planning.planned import Planned
from lightsim.scene.describe import warnings


def advice(plan: Planned) -> tuple[Advice, ...]:
    """All that there is to say of a planned shot."""
    return tuple(_advice(plan))


def _advice(plan: Planned) -> Iterator[Advice]:
    yield from on_light.level(plan)
    yield from on_light.ratio(plan)
    yield from on_sharpness.second_lens(plan)
    yield from on_sharpness.sharpest(plan)
    yield from on_light.highlights(plan)
    yield from on_light.ghost(plan)
    yield from on_light.near(plan)
    yield from on_light.synchronised(plan)
    yield from on_sharpness.room_before_lens(plan)
    yield from on_sharpness.lens_in_the_light(plan)
    yield from on_sharpness.overlaps(plan)
    for warning in warnings(plan.scene, plan.stage):
        sentence = f"{warning[:1].upper()}{warning[1:]}."
        yield Advice("on the set", sentence, "what `lightsim check` reports")
