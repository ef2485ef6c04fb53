"""Tables of values into records, with every value checked against its key's rule."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, is_dataclass
from math import isfinite
from numbers import Integral, Real
from pathlib import Path
from typing import Any

import numpy as np

from lightsim.errors import named
from lightsim.scene.faces import same_direction
from lightsim.scene.file.layout import Slot, slots
from lightsim.scene.file.messages import missing_key, unknown_key, wrong_table, wrong_value
from lightsim.scene.file.typed_number import NotTyped, meant_by_seconds, typed_number

MOST_BITS = 64  # of a whole number: no key allows more


class NotAllowed(Exception):
    """A value that its key does not allow. meant : what was probably meant, "" where that is not known."""

    def __init__(self, meant: str = ""):
        super().__init__(meant)
        self.meant = meant


@dataclass
class Problems:
    """Sentences on what is wrong, and the places they speak of."""

    sentences: list[str] = field(default_factory=list)
    places: set[str] = field(default_factory=set)

    def add(self, where: str, sentence: str) -> None:
        """Note one more."""
        self.sentences.append(sentence)
        self.places.add(where)

    def about(self, *places: str) -> bool:
        """Whether one of some places, or something inside it, is known to be wrong."""
        return any(
            bad == place or bad.startswith((place + ".", place + "["))
            for place in places
            for bad in self.places
        )


def record_from_table(record: type, table: Mapping, where: str, heading: str, problems: Problems) -> Any:
    """A record from a table. A value that is wrong is noted and replaced by an allowed one."""
    known = slots(record)
    for key in table:
        if key not in known:
            problems.add(_inside(where, str(key)), unknown_key(_inside(where, str(key)), str(key), record))
    made = {}
    table = _in_range(table, known)
    for key, slot in known.items():
        place, inner = _inside(where, key), _inside(heading, key)
        if key not in table:
            if slot.default is MISSING:
                problems.add(place, missing_key(place, slot))
            made[slot.field] = _stand_in(slot)
        elif slot.kind == "table":
            made[slot.field] = _one_table(table[key], slot, place, inner, problems)
        elif slot.kind == "tables":
            made[slot.field] = _many_tables(table[key], slot, place, inner, problems)
        else:
            made[slot.field] = _value(table[key], slot, place, problems)
    return record(**made)


def _in_range(table: Mapping, known: Mapping[str, Slot]) -> Mapping:
    """The table with an angle off the lens axis from 0 to 180 degrees, its clock position turned with it."""
    if not {"angle_deg", "clock"} <= known.keys() or "angle_deg" not in table:
        return table
    try:
        angle = _typed(table["angle_deg"], known["angle_deg"])
        clock = _typed(table.get("clock", known["clock"].default), known["clock"])
    except NotAllowed:
        return table
    if not isfinite(angle) or 0.0 <= angle <= 180.0 or abs(angle) > 720.0:
        return table
    angle, clock = same_direction(angle, clock)
    return {**table, "angle_deg": angle, "clock": clock}


def _inside(where: str, key: str) -> str:
    return f"{where}.{named(key)}" if where else named(key)


def _stand_in(slot: Slot) -> Any:
    """What a key that is left out or wrong stands for; where no table is given there is none."""
    if slot.kind == "tables":
        return ()
    return slot.rule.low if slot.default is MISSING else slot.default


def _one_table(value: Any, slot: Slot, where: str, heading: str, problems: Problems) -> Any:
    assert slot.record is not None
    if isinstance(value, Mapping):
        return record_from_table(slot.record, value, where, heading, problems)
    problems.add(where, wrong_table(where, value, slot, heading))
    return slot.default


def _many_tables(value: Any, slot: Slot, where: str, heading: str, problems: Problems) -> tuple:
    assert slot.record is not None
    if not isinstance(value, (list, tuple)) or not all(isinstance(entry, Mapping) for entry in value):
        problems.add(where, wrong_table(where, value, slot, heading))
        return ()
    return tuple(
        record_from_table(slot.record, entry, f"{where}[{number}]", heading, problems)
        for number, entry in enumerate(value)
    )


def _value(value: Any, slot: Slot, where: str, problems: Problems) -> Any:
    try:
        return converted(value, slot)
    except NotAllowed as error:
        problems.add(where, wrong_value(where, value, slot, error.meant))
        return _stand_in(slot)


def converted(value: Any, slot: Slot) -> Any:
    """A value as its record holds it. NotAllowed when of the wrong type, not finite, or out of range."""
    if slot.kind == "flag":
        return _flag(value)
    if slot.kind == "whole":
        return _whole(value, slot)
    if slot.kind == "number":
        return _number(value, slot)
    if slot.kind in ("numbers", "wholes"):
        return _numbers(value, slot)
    if slot.kind == "file":
        return _file(value)
    if slot.kind == "named number" and not isinstance(value, str):
        return _number(value, slot)
    return _text(value, slot)


def _flag(value: Any) -> bool:
    if not isinstance(value, (bool, np.bool_)):
        raise NotAllowed
    return bool(value)


def _whole(value: Any, slot: Slot) -> int:
    if isinstance(value, str):
        number = _typed(value, slot)
        if number != int(number):
            raise NotAllowed
        value = int(number)
    if isinstance(value, bool) or not isinstance(value, Integral) or int(value).bit_length() > MOST_BITS:
        raise NotAllowed
    return int(_within(int(value), slot))


def _number(value: Any, slot: Slot) -> float:
    number = _typed(value, slot)
    if slot.rule.written == "shutter" and isinstance(value, Integral) and meant_by_seconds(number):
        raise NotAllowed(meant_by_seconds(number))
    return float(_within(number, slot))


def _typed(value: Any, slot: Slot) -> float:
    """A number, given as such or as text with or without its unit."""
    if isinstance(value, str):
        try:
            return typed_number(value, slot.rule.unit, slot.rule.written)
        except NotTyped as error:
            raise NotAllowed(error.meant) from None
    if isinstance(value, bool) or not isinstance(value, Real):
        raise NotAllowed
    try:
        return float(value)
    except (OverflowError, ValueError):
        raise NotAllowed from None


def _numbers(value: Any, slot: Slot) -> tuple[float, ...]:
    """A list of numbers; a bare one stands for a list of any length, or for grey."""
    if not isinstance(value, (list, tuple)) and (slot.length == 0 or slot.is_colour):
        value = (value,) * (slot.length or 1)
    if not isinstance(value, (list, tuple)) or slot.length not in (0, len(value)):
        raise NotAllowed
    one = _whole if slot.kind == "wholes" else _number
    return tuple(one(entry, slot) for entry in value)


def _file(value: Any) -> Path:
    if not isinstance(value, (str, Path)) or not str(value).strip() or "\0" in str(value):
        raise NotAllowed
    return Path(value)


def _text(value: Any, slot: Slot) -> str:
    if not isinstance(value, str):
        raise NotAllowed
    if slot.rule.choices and value not in slot.rule.choices:
        raise NotAllowed
    if slot.rule.written == "name or nothing" and value and not (value.isprintable() and len(value) <= 100):
        raise NotAllowed
    if slot.rule.written == "name" and not (value.strip() and value.isprintable() and len(value) <= 60):
        raise NotAllowed
    return value


def _within(value: float, slot: Slot) -> float:
    low, high = slot.rule.low, slot.rule.high
    if not isfinite(value) or (low is not None and (value < low or (slot.rule.above and value == low))):
        raise NotAllowed
    if high is not None and value > high:
        raise NotAllowed
    return value


def table_from_record(record: Any) -> Any:
    """A record as the nested tables that a file would hold; what is unset is left out."""
    if isinstance(record, (list, tuple)) and record and all(map(is_dataclass, record)):
        return [table_from_record(entry) for entry in record]
    if not is_dataclass(record):
        return record
    found = {key: getattr(record, slot.field) for key, slot in slots(type(record)).items()}
    optional = {key for key, slot in slots(type(record)).items() if slot.optional}
    return {
        key: table_from_record(value)
        for key, value in found.items()
        if not (value is None and key in optional)
    }
