"""Levels of light in words."""

from __future__ import annotations

from math import log2

from lightsim.report.words import signed

MIDTONE = 0.18  # of a photograph's linear values


def level_words(value: float, unit: bool = True) -> str:
    """A linear level in stops from the mid-tone."""
    if value <= 0:
        return "black"
    return signed(log2(value / MIDTONE)) + (" stops" if unit else "")
