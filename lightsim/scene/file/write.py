"""Scenes as TOML: whole, or as a file to start from with a comment on every key."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from textwrap import wrap
from typing import Any

from lightsim.errors import OutputError, named
from lightsim.optics.marks import FLASH_POWERS, SHUTTER_TIMES
from lightsim.scene.file.keys import SECTIONS
from lightsim.scene.file.layout import Slot, sections, slots
from lightsim.scene.file.messages import hint
from lightsim.scene.file.typed_number import typed_number
from lightsim.scene.records import PlacedDrop, Scene
from lightsim.whole_file import replacing


def scene_to_toml(scene: Scene) -> str:
    """A scene as the text of a scene file, which loads as an equal scene."""
    return "\n".join(_section(scene, "", False)).strip("\n") + "\n"


def brief_toml(scene: Scene, matters: Mapping[type, Collection[str]]) -> str:
    """A scene as a file to start from: the keys that matter first, and the rest below as comments.

    matters : keys that are written for each record even where they are the usual ones.
    Every key is explained; those below are ready to be copied under their heading above.
    """
    above = list(_brief_section(scene, "", False, matters))
    below = list(_rest(scene, matters))
    return "\n".join([*above, "", *REST, *below]).strip("\n") + "\n"


REST = (
    "# " + "-" * 98,
    "# All else that a scene can say, with its usual value. To use a line, copy it up under its heading",
    "# without the # before it; a heading that is not above yet is copied with it.",
    "# " + "-" * 98,
)


def _brief_section(
    record: Any, heading: str, repeated: bool, matters: Mapping[type, Collection[str]]
) -> Iterator[str]:
    """The lines of the keys that matter or are not the usual ones, and of the sections inside."""
    if heading:
        yield ""
        yield from _explained(type(record))
        yield f"[[{heading}]]" if repeated else f"[{heading}]"
    held = [(slot, getattr(record, slot.field)) for slot in slots(type(record)).values()]
    for slot, value in held:
        if slot.record is None and value is not None and _is_above(slot, value, type(record), matters):
            yield f"# {_about(slot)}"
            yield f"{slot.key} = {value_to_toml(value, slot)}"
    for slot, value in held:
        if slot.record is None:
            continue
        inner = f"{heading}.{slot.key}" if heading else slot.key
        if slot.kind == "tables":
            for entry in value:
                yield from _brief_section(entry, inner, True, matters)
        elif value is not None and (slot.optional or any(_brief_section(value, "", False, matters))):
            yield from _brief_section(value, inner, False, matters)


def _is_above(slot: Slot, value: Any, record: type, matters: Mapping[type, Collection[str]]) -> bool:
    return value != slot.default or slot.key in matters.get(record, ())


def _rest(scene: Scene, matters: Mapping[type, Collection[str]]) -> Iterator[str]:
    """Every section with the keys that stand above for none of the scene's records, as comments."""
    for section in sections():
        there = list(_records(scene, section.record))
        usual = section.record() if section.record is not PlacedDrop else PlacedDrop(0.0, 0.0, 1.0)
        left = [
            slot
            for slot in slots(section.record).values()
            if slot.record is None
            and not any(_is_above(slot, getattr(one, slot.field), section.record, matters) for one in there)
        ]
        if not left:
            continue
        yield ""
        if section.heading:
            yield from _explained(section.record)
            yield f"# {section.shown}"
        for slot in left:
            value = getattr(usual, slot.field)
            yield f"# # {_about(slot)}"
            yield f"# {slot.key} = {'...' if value is None else value_to_toml(value, slot)}"


def _records(record: Any, wanted: type) -> Iterator[Any]:
    """Every record of a kind inside a scene."""
    if isinstance(record, wanted):
        yield record
    for slot in slots(type(record)).values():
        if slot.record is None:
            continue
        value = getattr(record, slot.field)
        for one in value if slot.kind == "tables" else [value] if value is not None else []:
            yield from _records(one, wanted)


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
    """Write a text file, whole or not at all. Raises OutputError as `save_scene` does."""
    if path.is_dir():
        raise OutputError(f"{named(path)}: found a folder, allowed the name of a file")
    if path.exists() and not force:
        raise OutputError(
            f"{named(path)}: found a file there already, allowed a new name (or overwriting, if asked for)"
        )
    with replacing(path) as part:
        part.write_text(text, encoding="utf-8", newline="\n")
    return path


def _section(record: Any, heading: str, repeated: bool) -> Iterator[str]:
    """The lines of a record: its own keys first, then the sections inside it; what is unset is left out."""
    if heading:
        yield ""
        yield f"[[{heading}]]" if repeated else f"[{heading}]"
    given = [(slot, getattr(record, slot.field)) for slot in slots(type(record)).values()]
    for slot, value in given:
        if slot.record is None and value is not None:
            yield f"{slot.key} = {value_to_toml(value, slot)}"
    for slot, value in given:
        if slot.record is None or value is None:
            continue
        inner = f"{heading}.{slot.key}" if heading else slot.key
        for one in value if slot.kind == "tables" else [value]:
            yield from _section(one, inner, slot.kind == "tables")


def _explained(record: type) -> Iterator[str]:
    yield from (f"# {line}" for line in wrap(SECTIONS[record], 100))


def _about(slot: Slot) -> str:
    """What a key is, and what it allows."""
    words = hint(slot)
    return f"{slot.rule.about} ({words})" if words else slot.rule.about


def value_to_toml(value: Any, slot: Slot | None = None) -> str:
    """A value in TOML. Shutter times and powers that stand on the dial are written as their marks."""
    mark = _mark(value, slot)
    if mark is not None:
        return f'"{mark}"'
    import tomlkit

    plain = (
        value.as_posix() if isinstance(value, Path) else list(value) if isinstance(value, tuple) else value
    )
    return tomlkit.item(plain).as_string()


def _mark(value: Any, slot: Slot | None) -> str | None:
    """The mark that a number has on the dial, such as "1/125" or "1/16 + 1/3", or None."""
    series = {"shutter": SHUTTER_TIMES, "fraction": FLASH_POWERS}
    if slot is None or slot.rule.written not in series or not isinstance(value, float):
        return None
    mark = series[slot.rule.written].nearest(value).label.removesuffix(" s")
    return mark if typed_number(mark, slot.rule.unit, slot.rule.written) == value else None
