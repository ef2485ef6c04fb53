"""Advice on a shot in plain sentences, each with its number and the rule behind it."""

from __future__ import annotations

from lightsim.planning.advice import light as on_light
from lightsim.planning.advice import sharpness as on_sharpness
from lightsim.planning.planned import Advice, Planned
from lightsim.scene.describe import warnings

RULES = (
    on_light.level, on_light.ratio, on_sharpness.second_lens, on_sharpness.sharpest, on_light.highlights,
    on_light.ghost, on_light.near, on_light.synchronised, on_sharpness.room_before_lens,
    on_sharpness.lens_in_the_light, on_sharpness.overlaps,
)  # fmt: skip


def advice(plan: Planned) -> tuple[Advice, ...]:
    """All that there is to say of a planned shot."""
    said = [each for rule in RULES for each in rule(plan)]
    for warning in warnings(plan.scene, plan.stage):
        sentence = f"{warning[:1].upper()}{warning[1:]}."
        said.append(Advice("on the set", sentence, "what `lightsim check` reports"))
    return tuple(said)
