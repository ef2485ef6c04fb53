"""The scene as the page changes it: nested tables as a scene file has them, with undo and redo, and saved.

Into a file that a person wrote only what changed is written; comments and order stay."""

from __future__ import annotations

import re
from collections.abc import Mapping
from copy import deepcopy
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT

from lightsim.errors import LightsimError, SceneError
from lightsim.report.files.formats import plain_value
from lightsim.report.files.writable import require_file
from lightsim.scene.file.check import scene_from_table
from lightsim.scene.file.layout import Slot, slots
from lightsim.scene.file.read import load_scene
from lightsim.scene.file.values import table_from_record
from lightsim.scene.file.write import scene_to_toml, value_to_toml
from lightsim.scene.records import Scene
from lightsim.whole_file import replacing

MOST_STEPS = 500
_STEP = re.compile(r"([a-z_0-9]+)(?:\[(\d{1,6})\])?")

Table = dict[str, Any]


def table_of(scene: Scene) -> Table:
    """A scene's nested tables, plain values for JSON."""
    return dict(plain_value(table_from_record(scene)))


def path_steps(path: str) -> list[str | int]:
    """The steps of a place such as "light[0].diffuser.width_mm". LightsimError for anything else."""
    steps: list[str | int] = []
    for part in path.split("."):
        found = _STEP.fullmatch(part)
        if found is None or len(steps) > 8:
            raise LightsimError(f"found the place {path[:60]!r}, allowed a key such as light[0].angle_deg")
        steps.append(found[1])
        if found[2] is not None:
            steps.append(int(found[2]))
    return steps


def with_value(table: Table, path: str, value: Any) -> Table:
    """A table with one value changed, None taking the key away; sections that are missing are made.

    A value at one past the end of a list is added to it. LightsimError for a place that cannot be.
    """
    made = deepcopy(table)
    place: Any = made
    steps = path_steps(path)
    for step, following in zip(steps, [*steps[1:], None], strict=True):
        last = following is None
        if isinstance(step, int):
            if not isinstance(place, list) or step > len(place) or (value is None and step == len(place)):
                raise LightsimError(f"{path}: found no such place, allowed one that the scene has")
            if step == len(place):
                place.append({})
        elif not isinstance(place, dict):
            raise LightsimError(f"{path}: found no such place, allowed one that the scene has")
        if last:
            _put(place, step, value)
            break
        if isinstance(place, dict) and place.get(step) is None:
            place[step] = [] if isinstance(following, int) else {}
        place = place[step]
    return made


def _put(place: Any, step: str | int, value: Any) -> None:
    if value is not None:
        place[step] = value
    elif isinstance(step, int):
        del place[step]
    else:
        place.pop(step, None)


class SceneDraft:
    """One scene with the history of its changes.

    path : its file, None before it has one.  `saved` is the table that stands in the file.
    """

    def __init__(self, scene: Scene):
        self.path = scene.path
        self.folder = Path.cwd() if scene.path is None else scene.path.parent
        self._past: list[Table] = []
        self._future: list[Table] = []
        self._gesture: str | None = None
        self.scene = scene
        self.table = table_of(scene)
        self.saved: Table | None = None if scene.path is None else self.table

    @property
    def can_undo(self) -> bool:
        """Whether there is a step back."""
        return bool(self._past)

    @property
    def can_redo(self) -> bool:
        """Whether there is a step forward."""
        return bool(self._future)

    @property
    def is_saved(self) -> bool:
        """Whether the file holds what stands here."""
        return self.saved == self.table

    def scene_of(self, table: Table) -> Scene:
        """A table as a scene, checked as a scene file is. SceneError says everything that is wrong."""
        return scene_from_table(deepcopy(table), self.path)

    def take(self, scene: Scene, gesture: str | None = None) -> None:
        """Make a scene the present one. Changes of one gesture are one step of the history."""
        table = table_of(scene)
        if table == self.table:
            return
        if gesture is None or gesture != self._gesture:
            self._past = [*self._past[-MOST_STEPS + 1 :], self.table]
        self._gesture, self._future = gesture, []
        self.scene, self.table = scene, table

    def step(self, back: bool) -> bool:
        """Undo or redo one step; False where there is none."""
        come, go = (self._past, self._future) if back else (self._future, self._past)
        if not come:
            return False
        go.append(self.table)
        self.table = come.pop()
        self.scene, self._gesture = self.scene_of(self.table), None
        return True

    def reopened(self, scene: Scene) -> None:
        """Take in what the file holds now, as one step."""
        self.path = scene.path
        self.take(scene)
        self.saved = self.table


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
            _write_value(into, key, slot, new)


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


def _new_table(record: type, values: Mapping[str, Any]) -> tomlkit.items.Table:
    table = tomlkit.table()
    _merge(table, record, {}, values)
    return table


def table_of_defaults(slot: Slot) -> Mapping[str, Any]:
    """What a section that is missing in the file stands for."""
    return {} if slot.default is None else table_of(slot.default)


def _write_value(into: Any, key: str, slot: Slot, value: Any) -> None:
    """A value in the file's own way of writing it (a mark such as "1/125"), its comment kept."""
    exact = tuple(value) if isinstance(value, list) else value
    item = tomlkit.parse(f"x = {value_to_toml(exact, slot)}")["x"]
    if key in into:
        item.trivia.comment_ws = into[key].trivia.comment_ws
        item.trivia.comment = into[key].trivia.comment
    into[key] = item
