"""Saving into a scene file that a person wrote: only what changed is written, comments and order stay."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Table

from lightsim.errors import SceneError
from lightsim.live.scene_draft import table_of
from lightsim.report.files.writable import require_file
from lightsim.scene.file.layout import Slot, slots
from lightsim.scene.file.read import load_scene
from lightsim.scene.file.write import scene_to_toml, value_to_toml
from lightsim.scene.records import Scene
from lightsim.whole_file import replacing


def save_draft(scene: Scene, path: Path, original: Path | None) -> None:
    """Write a scene to a file, whole or not at all.

    original : the file whose text, with its comments, it starts from; None writes every key anew.
    OutputError where the place cannot be written, SceneError where the original can no longer be read.
    """
    require_file(path, (".toml",))
    text = scene_to_toml(scene) if original is None else merged_text(scene, original)
    with replacing(path) as part:
        part.write_text(text, encoding="utf-8", newline="\n")


def merged_text(scene: Scene, original: Path) -> str:
    """The original's text with the scene's values where they differ."""
    before = table_of(load_scene(original))
    try:
        document = tomlkit.parse(original.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError, TOMLKitError) as error:
        raise SceneError(
            f"found a file that cannot be read ({error}), allowed a scene file", original
        ) from None
    _merge(document, Scene, before, table_of(scene))
    return tomlkit.dumps(document)


def _merge(into: Any, record: type, before: Mapping[str, Any], after: Mapping[str, Any]) -> None:
    """Bring one table of the document from the one set of values to the other."""
    for key, slot in slots(record).items():
        old, new = before.get(key), after.get(key)
        if old == new:
            continue
        if slot.kind == "tables":
            _merge_tables(into, key, slot, old or [], new or [])
        elif new is None:
            into.pop(key, None)
        elif slot.kind == "table":
            if key not in into:
                into[key] = tomlkit.table()
            assert slot.record is not None
            _merge(into[key], slot.record, old or table_of_defaults(slot), new)
        else:
            _put(into, key, slot, new)


def _merge_tables(into: Any, key: str, slot: Slot, old: list[Any], new: list[Any]) -> None:
    assert slot.record is not None
    array = into.get(key)
    if array is None:
        array = into[key] = tomlkit.aot()
    while len(array) > len(new):
        del array[len(array) - 1]
    for number, entry in enumerate(new):
        if number == len(array):
            array.append(_new_table(slot.record, entry))
        elif number < len(old) and entry != old[number]:
            _merge(array[number], slot.record, old[number], entry)
    if not new and isinstance(array, AoT | list):
        into.pop(key, None)


def _new_table(record: type, values: Mapping[str, Any]) -> Table:
    table = tomlkit.table()
    _merge(table, record, {}, values)
    return table


def table_of_defaults(slot: Slot) -> Mapping[str, Any]:
    """What a section that is missing in the file stands for."""
    return {} if slot.default is None else table_of(slot.default)


def _put(into: Any, key: str, slot: Slot, value: Any) -> None:
    """A value in the file's own way of writing it (a mark such as "1/125"), its comment kept."""
    exact = tuple(value) if isinstance(value, list) else value
    item = tomlkit.parse(f"x = {value_to_toml(exact, slot)}")["x"]
    if key in into:
        item.trivia.comment_ws = into[key].trivia.comment_ws
        item.trivia.comment = into[key].trivia.comment
    into[key] = item
