"""What the page may say: JSON texts of a known kind, bounded in size, every field of a known type."""

from __future__ import annotations

import json
from math import isfinite
from typing import Any

from lightsim.errors import LightsimError

MOST_BYTES = 1_000_000  # some dozens of kept scenes, or one with ten thousand drops put by hand

Fields = dict[str, tuple[type, ...]]

NUMBER, TEXT, FLAG = (int, float), (str,), (bool,)
NOTHING = type(None)

# kind: its fields; one with NOTHING among its types may be left out.
KINDS: dict[str, Fields] = {
    "hello": {"run": (str, NOTHING), "table": (dict, NOTHING)},
    "set": {"values": (dict,), "gesture": (str, NOTHING), "hold": (str, NOTHING)},
    "move": {"thing": TEXT, "angle": (*NUMBER, NOTHING), "clock": (*NUMBER, NOTHING),
             "distance": (*NUMBER, NOTHING), "gesture": (str, NOTHING)},
    "hand": {"down": FLAG},
    "width": {"px": NUMBER},
    "shown": {"serial": NUMBER},
    "undo": {},
    "redo": {},
    "go to": {"table": (dict,)},
    "pick": {"drop": (int, NOTHING)},
    "focus": {"x": NUMBER, "y": NUMBER},
    "put drop": {"x": NUMBER, "y": NUMBER, "diameter_mm": NUMBER},
    "move drop": {"drop": (int,), "x": NUMBER, "y": NUMBER, "gesture": (str, NOTHING)},
    "remove drop": {"drop": (int,)},
    "sky": {"on": FLAG},
    "save": {"file": (str, NOTHING), "force": (bool, NOTHING)},
    "open": {"file": TEXT},
    "take file": {},
    "keep mine": {},
    "make": {"what": TEXT, "kept": (list, NOTHING)},
}  # fmt: skip


def parsed(text: str) -> dict[str, Any]:
    """A message with all its fields, those left out as None. LightsimError says what is wrong with it."""
    if len(text) > MOST_BYTES:
        raise LightsimError(f"message: found {len(text)} characters, allowed up to {MOST_BYTES}")
    try:
        message = json.loads(text, parse_constant=_not_finite)
    except (ValueError, RecursionError):
        raise LightsimError("message: found broken JSON, allowed an object with a kind") from None
    kind = message.get("kind") if isinstance(message, dict) else None
    if not isinstance(kind, str) or kind not in KINDS:
        raise LightsimError(f"message: found the kind {str(kind)[:40]!r}, allowed {', '.join(KINDS)}")
    fields = KINDS[kind]
    for name in message:
        if name not in fields and name != "kind":
            raise LightsimError(
                f"message {kind!r}: found the field {str(name)[:40]!r}, allowed {_names(fields)}"
            )
    return {
        "kind": kind,
        **{name: _field(kind, name, message.get(name), types) for name, types in fields.items()},
    }


def merged(first: dict[str, Any], then: dict[str, Any]) -> dict[str, Any] | None:
    """Two changes one after the other, within one gesture, as one; None where they cannot be joined."""
    if any(first.get(name) != then.get(name) for name in ("kind", "gesture", "thing", "hold")):
        return None
    if first["gesture"] is None or then.get("hold") is not None:
        return None
    if first["kind"] == "set":
        return {**then, "values": {**first["values"], **then["values"]}}
    if first["kind"] == "move":
        return {**first, **{name: value for name, value in then.items() if value is not None}}
    return None


def _field(kind: str, name: str, value: Any, types: tuple[type, ...]) -> Any:
    wrong = not isinstance(value, types) or (isinstance(value, bool) and bool not in types)
    if wrong or (isinstance(value, float) and not isfinite(value)):
        allowed = " or ".join(sorted({_type_word(one) for one in types}))
        raise LightsimError(f"message {kind!r}, {name}: found {str(value)[:40]!r}, allowed {allowed}")
    return value


def _type_word(one: type) -> str:
    words = {int: "a number", float: "a number", str: "text", bool: "true or false", dict: "an object"}
    return words.get(one, "a list" if one is list else "nothing")


def _names(fields: Fields) -> str:
    return ", ".join(fields) or "none"


def _not_finite(_: str) -> float:
    raise ValueError
