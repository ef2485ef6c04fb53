"""Scenes as TOML, plain or with a comment on every key."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from textwrap import wrap
from typing import Any

from lightsim.errors import OutputError
from lightsim.optics.marks import FLASH_POWERS, SHUTTER_TIMES
from lightsim.scene.file.keys import SECTIONS
from lightsim.scene.file.layout import Slot, slots
from lightsim.scene.file.messages import hint
from lightsim.scene.file.typed_number import typed_number
from lightsim.scene.records import Scene

ESCAPES = {"\\": "\\\\", '"': '\\"', "\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r"}


def scene_to_toml(scene: Scene, comments: bool = False) -> str:
    """A scene as the text of a scene file, which loads as an equal scene.

    With comments, each section and each key is explained; keys and sections that are unset stand there as
    comments.
    """
    return "\n".join(_section(scene, "", False, comments)).strip("\n") + "\n"


def save_scene(scene: Scene, path: str | Path, force: bool = False) -> Path:
    """Write a scene file: whole, or not at all. A mesh file is named as seen from there.

    Raises OutputError when the place cannot be written or, unless `force`, when the file is there already.
    """
    path = Path(path)
    file = scene.petal.file
    if file is not None and not file.is_absolute():
        beside = Path(os.path.relpath(file, path.parent))
        scene = replace(scene, petal=replace(scene.petal, file=beside))
    return write_text(scene_to_toml(scene), path, force)


def write_text(text: str, path: Path, force: bool = False) -> Path:
    """Write text to a file by way of a temporary name beside it. Raises OutputError as `save_scene` does."""
    if path.is_dir():
        raise OutputError(f"{path}: found a folder, allowed the name of a file")
    if path.exists() and not force:
        raise OutputError(
            f"{path}: found a file there already, allowed a new name (or overwriting, if asked for)"
        )
    temporary = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        temporary.write_text(text, encoding="utf-8", newline="\n")
        temporary.replace(path)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise OutputError(f"{path}: cannot be written ({reason}), allowed a place that can be") from None
    finally:
        temporary.unlink(missing_ok=True)
    return path


def _section(record: Any, heading: str, repeated: bool, comments: bool) -> Iterator[str]:
    """The lines of a record: its own keys first, then the sections inside it."""
    if heading:
        yield ""
        yield from _explained(type(record), comments)
        yield f"[[{heading}]]" if repeated else f"[{heading}]"
    inner = []
    for slot in slots(type(record)).values():
        if slot.record is None:
            yield from _line(slot, getattr(record, slot.field), comments)
        else:
            inner.append(slot)
    for slot in inner:
        yield from _inside(slot, getattr(record, slot.field), heading, comments)


def _inside(slot: Slot, value: Any, heading: str, comments: bool) -> Iterator[str]:
    inner = f"{heading}.{slot.key}" if heading else slot.key
    if slot.kind == "table":
        if value is not None:
            yield from _section(value, inner, False, comments)
        elif comments:
            yield from _unset_section(slot, inner)
        return
    for entry in value:
        yield from _section(entry, inner, True, comments)


def _unset_section(slot: Slot, heading: str) -> Iterator[str]:
    """A section that is not given, as comments with its defaults."""
    assert slot.record is not None
    for line in _section(slot.record(), heading, False, True):
        yield line if not line or line.startswith("#") else f"# {line}"


def _explained(record: type, comments: bool) -> Iterator[str]:
    if comments:
        yield from (f"# {line}" for line in wrap(SECTIONS[record], 100))


def _line(slot: Slot, value: Any, comments: bool) -> Iterator[str]:
    if comments:
        words = hint(slot)
        yield f"# {slot.rule.about} ({words})" if words else f"# {slot.rule.about}"
        if value is None:
            yield f"# {slot.key} = ..."
    if value is not None:
        yield f"{slot.key} = {value_to_toml(value, slot)}"


def value_to_toml(value: Any, slot: Slot | None = None) -> str:
    """A value in TOML. Shutter times and powers that stand on the dial are written as their marks."""
    mark = _mark(value, slot)
    if mark is not None:
        return f'"{mark}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (str, Path)):
        text = value if isinstance(value, str) else value.as_posix()
        return '"' + "".join(map(_escaped, text)) + '"'
    if isinstance(value, tuple):
        return "[" + ", ".join(map(value_to_toml, value)) + "]"
    return repr(value)


def _mark(value: Any, slot: Slot | None) -> str | None:
    """The mark that a number has on the dial, such as "1/125" or "1/16 + 1/3", or None."""
    series = {"shutter": SHUTTER_TIMES, "fraction": FLASH_POWERS}
    if slot is None or slot.rule.written not in series or not isinstance(value, float):
        return None
    mark = series[slot.rule.written].nearest(value).label.removesuffix(" s")
    return mark if typed_number(mark, slot.rule.unit, slot.rule.written) == value else None


def _escaped(character: str) -> str:
    if character in ESCAPES:
        return ESCAPES[character]
    return character if character >= " " and character != "\x7f" else f"\\u{ord(character):04x}"
