"""Every key of a scene file with its unit, its default, what is allowed and one line about it."""

from __future__ import annotations

from dataclasses import MISSING, dataclass

from lightsim.scene.file.layout import sections, slots
from lightsim.scene.file.messages import allowed, shown


@dataclass(frozen=True)
class KeyNotes:
    """One key as documentation shows it; every entry is text."""

    section: str
    key: str
    unit: str
    default: str
    allowed: str
    about: str


def describe_keys() -> list[KeyNotes]:
    """Every key of a scene file: section, key, unit, default, what is allowed, one line about it."""
    notes = []
    for section in sections():
        for slot in slots(section.record).values():
            if slot.record is None:
                default = "must be given" if slot.default is MISSING else shown(slot.default)
                default = "unset" if slot.default is None else default
                notes.append(
                    KeyNotes(section.shown, slot.key, slot.rule.unit, default, allowed(slot), slot.rule.about)
                )
    return notes
