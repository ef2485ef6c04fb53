"""Reasons for empty numbers, with the light that was measured called by its name where it is not the key."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from lightsim.measures.measure_records import FrameMeasures

KEY = "the key"


def name_light(text: str, light: str) -> str:
    """The text with the key called by another light's name.

    >>> name_light("no image of the key in this drop", "fill")
    'no image of “fill” in this drop'
    """
    return text.replace(KEY, f"“{light}”")


def with_light_named(measures: FrameMeasures, light: str) -> FrameMeasures:
    """The measures with every reason naming that light instead of the key."""
    drops = tuple(replace(drop, missing=_named(drop.missing, light)) for drop in measures.drops)
    return replace(measures, drops=drops, missing=_named(measures.missing, light))


def _named(missing: Mapping[str, str], light: str) -> dict[str, str]:
    return {key: name_light(reason, light) for key, reason in missing.items()}
