"""The figures of the light on the petal that several commands show: its level, the room's part, the ratio."""

from __future__ import annotations

from math import inf, log2
from typing import Any

from lightsim.optics.trade import FLASH, ROOM
from lightsim.planning.levels import Levels, LightingRatio, levels_of, lighting_ratio_of, stops_above
from lightsim.planning.petal_light import petal_light
from lightsim.report.words import fixed, plain, significant
from lightsim.scene.records import Scene
from lightsim.scene.stage import Stage


def light_figures(scene: Scene, stage: Stage) -> dict[str, Any]:
    """Level of the petal and lighting ratio of a scene in closed form, units in the keys."""
    light = petal_light(stage)
    ratio = lighting_ratio_of(scene, stage, light)
    return {
        "levels": level_figures(levels_of(scene, stage, light)),
        "lighting_ratio": ratio_figures(ratio),
    }


def level_figures(levels: Levels) -> dict[str, Any]:
    """The petal's level, the parts of flash and room light in it, and how far to trust them."""
    return {
        "petal_linear": levels.whole,
        "petal_stops_from_mid_tone": stops_above(levels.whole),
        "flash_stops_from_mid_tone": stops_above(levels.part(FLASH)),
        "room_light_stops_from_mid_tone": stops_above(levels.part(ROOM)),
        "room_light_share": levels.room_share,
        "room_light_stops_below_flash": levels.room_stops_below_flash,
        "petal_linear_by_light": levels.by_light,
        "from": "traced draft" if levels.traced else "closed form",
        "within_stops": levels.within_stops,
    }


def ratio_figures(found: LightingRatio | None) -> dict[str, Any] | None:
    """The lighting ratio with its convention; None without light straight from the key."""
    if found is None:
        return None
    return {
        "convention": "(key + fill) : fill",
        "key": found.key,
        "ratio": found.ratio,
        "stops": log2(found.ratio),
        "key_lx_s": found.key_lx_s,
        "fill_lx_s": found.fill_lx_s,
    }


def trust_words(levels: dict[str, Any]) -> str:
    """How the petal's level was found, and how near it is."""
    if levels["from"] != "closed form":
        return "from a small traced picture"
    return f"in closed form, within {plain(levels['within_stops'], 1)} stops of what a traced picture gives"


def below_words(stops: float) -> str:
    """How far the room's light lies below the flash's on the petal."""
    if abs(stops) == inf:
        return "no light but the flash’s" if stops > 0 else "no flash in it"
    return f"{fixed(abs(stops), 1)} stops {'below' if stops >= 0 else 'above'} the flash"


def ratio_words(ratio: dict[str, Any] | None) -> str:
    """The lighting ratio of a set."""
    if ratio is None:
        return "none: no light comes straight from the key to the seen side of the petal"
    if ratio["ratio"] == inf:
        return "no fill at all"
    return (
        f"{significant(ratio['ratio'])} : 1, {fixed(ratio['stops'], 1)} stops ({ratio['key']} + fill : fill)"
    )
