"""The layout of a scene file, derived from the records' types and the tables of `keys`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import MISSING, Field, dataclass, fields, is_dataclass
from functools import cache
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from lightsim.scene.file.keys import KEYS, Rule
from lightsim.scene.records import Scene

# Fields of `Scene` that a file names otherwise: one heading stands for one of them.
NAMES_IN_FILE = {"lights": "light", "cards": "card"}
NOT_IN_FILE = {"path"}


@dataclass(frozen=True)
class Slot:
    """One key: the record's field and how a file gives it.

    kind : "number", "whole", "flag", "text", "file", "named number" (text or number), "numbers" or "wholes"
        (a list of `length`, 0 for any), "table" (a record of its own) or "tables" (any number of them).
    optional : whether it may be left unset.  record : the record of a table.
    """

    field: str
    key: str
    kind: str
    rule: Rule
    default: Any
    optional: bool = False
    length: int = 0
    record: type | None = None

    @property
    def is_colour(self) -> bool:
        """Whether it is a share for each of red, green, blue; one number then stands for grey."""
        return self.length == 3 and self.rule.low == 0.0 and self.rule.high == 1.0


def slots(record: type) -> dict[str, Slot]:
    """The keys of a record by their name in a file."""
    return _slots(record)


@cache
def _slots(record: type) -> dict[str, Slot]:
    hints = get_type_hints(record)
    kept = [field for field in fields(record) if field.name not in NOT_IN_FILE]
    made = [_slot(record, field, hints[field.name]) for field in kept]
    return {slot.key: slot for slot in made}


def _slot(record: type, field: Field, hint: Any) -> Slot:
    members = _members(hint)
    optional = NoneType in members
    hint, *others = [member for member in members if member is not NoneType]
    kind, length, inner = ("named number", 0, None) if others else _kind(hint)
    key = NAMES_IN_FILE.get(field.name, field.name)
    rule = KEYS[record].get(field.name, Rule(""))
    return Slot(field.name, key, kind, rule, _default(field), optional, length, inner)


def _members(hint: Any) -> tuple[Any, ...]:
    return get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)


def _kind(hint: Any) -> tuple[str, int, type | None]:
    """Kind, length of a list, record of a table."""
    simple = {bool: "flag", int: "whole", float: "number", str: "text", Path: "file"}
    if hint in simple:
        return simple[hint], 0, None
    if is_dataclass(hint):
        return "table", 0, hint  # type: ignore[return-value]
    inner = get_args(hint)
    if is_dataclass(inner[0]):
        return "tables", 0, inner[0]  # type: ignore[return-value]
    return "wholes" if inner[0] is int else "numbers", 0 if inner[-1] is Ellipsis else len(inner), None


def _default(field: Field) -> Any:
    if field.default_factory is not MISSING:
        return field.default_factory()
    return field.default  # MISSING where the key must be given


@dataclass(frozen=True)
class Section:
    """One heading of a scene file.

    heading : "" for the top, or such as "camera.focus".  repeated : whether it is a list of tables.
    """

    heading: str
    record: type
    repeated: bool

    @property
    def shown(self) -> str:
        """The heading as it stands in a file."""
        return f"[[{self.heading}]]" if self.repeated else f"[{self.heading}]" if self.heading else ""


def sections(record: type = Scene, heading: str = "", repeated: bool = False) -> Iterator[Section]:
    """Every section of a scene file in order, the top first."""
    yield Section(heading, record, repeated)
    for slot in slots(record).values():
        if slot.record is not None:
            inner = f"{heading}.{slot.key}" if heading else slot.key
            yield from sections(slot.record, inner, slot.kind == "tables")
