"""The scene as the page changes it: nested tables as a scene file has them, with undo and redo."""

from __future__ import annotations

import re
from collections.abc import Mapping
from copy import deepcopy
from pathlib import Path
from typing import Any

from lightsim.errors import LightsimError
from lightsim.scene.file.check import scene_from_table
from lightsim.scene.file.values import table_from_record
from lightsim.scene.records import Scene

MOST_STEPS = 500
_STEP = re.compile(r"([a-z_0-9]+)(?:\[(\d{1,6})\])?")

Table = dict[str, Any]


def table_of(scene: Scene) -> Table:
    """A scene's nested tables, plain values for JSON."""
    return _plain(table_from_record(scene))


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(entry) for entry in value]
    return str(value) if isinstance(value, Path) else value


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
