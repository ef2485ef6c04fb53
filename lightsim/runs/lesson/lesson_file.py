"""Lesson files: TOML with a title, scenes by name, and steps that show one of them."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from importlib.resources import files
from pathlib import Path
from typing import Any

from lightsim.errors import LightsimError, SceneError
from lightsim.report.handout.handout_records import HandoutFrame, HandoutSet
from lightsim.runs.handout.handout_set import NUMBERS
from lightsim.scene.file.read import load_scene, scene_from_dict
from lightsim.scene.records import Scene
from lightsim.scene.settings.quantities import QUANTITIES

LARGEST_BYTES = 1_000_000
LESSON_KEYS = ("title", "about", "credit", "width_px", "scenes", "step")
STEP_KEYS = ("heading", "text", "scene", "vary", "light", "question", "answer", "numbers")
LEAST_PX, MOST_PX = 120, 1440
SHIPPED = "lessons"


@dataclass(frozen=True)
class Step:
    """One step. text, question, answer : Markdown, which may name numbers (see `with_numbers`).

    vary : lists of values by the name of a quantity, as text; one value of a quantity sets it.
    light : the light that moves, the key when None.
    numbers : names of the measures that stand under the photographs with the answer.
    """

    heading: str
    text: str
    scene: str
    vary: Mapping[str, str]
    light: str | None = None
    question: str = ""
    answer: str = ""
    numbers: tuple[str, ...] = ("petal contrast", "highlight")


@dataclass(frozen=True)
class Lesson:
    """A lesson as its file gives it. scenes : by name.  width_px : of the photographs."""

    title: str
    about: str
    credit: str
    width_px: int
    scenes: Mapping[str, Scene]
    steps: tuple[Step, ...]
    path: Path


def shipped_lessons() -> dict[str, Path]:
    """The lessons that come with the program, by name."""
    folder = files("lightsim") / SHIPPED
    return {path.stem: path for path in sorted(Path(str(folder)).glob("*.toml"))}


def find_lesson(name: str | Path) -> Path:
    """A lesson's file: one that is there, or the one of that name that comes with the program.

    LightsimError, with the names that there are, for neither.
    """
    path = Path(name)
    if path.exists():
        return path
    shipped = shipped_lessons()
    if str(name) in shipped:
        return shipped[str(name)]
    raise LightsimError(
        f"{name}: found no such file, allowed a lesson file (TOML) or one of {', '.join(shipped)}"
    )


def load_lesson(path: Path) -> Lesson:
    """Read a lesson and its scenes. LightsimError or SceneError, in one sentence, for what is wrong in it."""
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise LightsimError(f"{path}: found more than {LARGEST_BYTES:,} bytes, allowed a lesson file")
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "not UTF-8 text"
        raise LightsimError(f"{path}: cannot be read ({reason}), allowed a lesson file (TOML)") from None
    except tomllib.TOMLDecodeError as error:
        raise LightsimError(f"{path}: found broken TOML ({error}), allowed a lesson file") from None
    _known(path, "", data, LESSON_KEYS)
    scenes = _scenes(path, data.get("scenes"))
    steps = data.get("step")
    if not isinstance(steps, list) or not steps or not all(isinstance(step, dict) for step in steps):
        raise _wrong(path, "step", steps, "tables headed [[step]]")
    return Lesson(
        title=_text(path, "", data, "title", needed=True),
        about=_text(path, "", data, "about"),
        credit=_text(path, "", data, "credit"),
        width_px=_width(path, data.get("width_px", 480)),
        scenes=scenes,
        steps=tuple(_step(path, f"step[{i}]", step, scenes) for i, step in enumerate(steps)),
        path=path,
    )


def _known(path: Path, where: str, table: Mapping[str, Any], known: tuple[str, ...]) -> None:
    for key in table:
        if key not in known:
            near = get_close_matches(key, known, 1)
            allowed = f'"{near[0]}"' if near else ", ".join(known)
            raise LightsimError(f"{path}: {_inside(where, key)}: found an unknown key, allowed {allowed}")


def _text(path: Path, where: str, table: Mapping[str, Any], key: str, needed: bool = False) -> str:
    value = table.get(key, "")
    if not isinstance(value, str) or (needed and not value.strip()):
        raise _wrong(path, _inside(where, key), table.get(key), "text in quotes")
    return value.strip()


def _width(path: Path, value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not LEAST_PX <= value <= MOST_PX:
        raise _wrong(path, "width_px", value, f"a whole number from {LEAST_PX} to {MOST_PX}")
    return value


def _inside(where: str, key: str) -> str:
    return f"{where}.{key}" if where else key


def _wrong(path: Path, place: str, value: Any, allowed: str) -> LightsimError:
    found = "nothing" if value is None else str(value)[:60]
    return LightsimError(f"{path}: {place}: found {found}, allowed {allowed}")


def _scenes(path: Path, table: Any) -> dict[str, Scene]:
    if not isinstance(table, dict) or not table:
        raise _wrong(path, "scenes", table, "tables headed [scenes.NAME]")
    found = {}
    for name, entry in table.items():
        if isinstance(entry, str):
            found[name] = load_scene(path.parent / entry)
            continue
        try:
            found[name] = replace(scene_from_dict(entry), path=path)
        except SceneError as error:
            raise SceneError([f"scenes.{name}.{problem}" for problem in error.problems], path) from None
    return found


def _step(path: Path, where: str, table: Mapping[str, Any], scenes: Mapping[str, Scene]) -> Step:
    _known(path, where, table, STEP_KEYS)
    name = table.get("scene", next(iter(scenes)))
    if name not in scenes:
        raise _wrong(path, f"{where}.scene", name, ", ".join(scenes))
    vary = table.get("vary", {})
    if not isinstance(vary, dict):
        raise _wrong(path, f"{where}.vary", vary, "{angle = 75}")
    _known(path, f"{where}.vary", vary, tuple(QUANTITIES))
    return Step(
        heading=_text(path, where, table, "heading", needed=True),
        text=_text(path, where, table, "text"),
        scene=name,
        vary={key: str(value) for key, value in vary.items()},
        light=table.get("light"),
        question=_text(path, where, table, "question"),
        answer=_text(path, where, table, "answer"),
        numbers=_numbers(path, where, table),
    )


def _numbers(path: Path, where: str, table: Mapping[str, Any]) -> tuple[str, ...]:
    wanted = table.get("numbers", list(Step.numbers))
    if not isinstance(wanted, list) or not all(name in NUMBERS for name in wanted):
        raise _wrong(path, f"{where}.numbers", wanted, f"a list of {', '.join(NUMBERS)}")
    return tuple(wanted)


_PLACE = re.compile(r"\{([^{}]*)\}")


def with_numbers(text: str, shown: HandoutSet, where: str) -> str:
    """The text with each {NAME at VALUE} replaced by the measure's words in the frame of that value.

    NAME : one of `NUMBERS`.  VALUE : as it stands under the frame, such as 75° or f/16; a step with a single
    frame needs none. where : the step, for messages.
    Raises LightsimError for a name, or a value, that there is not.
    """

    def measured(found: re.Match[str]) -> str:
        name, _, value = (part.strip() for part in found[1].partition(" at "))
        if name not in NUMBERS:
            raise LightsimError(f"{where}: found {{{found[1]}}}, allowed {', '.join(NUMBERS)}")
        return _frame(shown, value, where, found[1]).said.get(name, "no number here")

    return _PLACE.sub(measured, text)


def _frame(shown: HandoutSet, value: str, where: str, placeholder: str) -> HandoutFrame:
    headings = [frame.heading for frame in shown.frames]
    if not value and len(headings) == 1:
        return shown.frames[0]
    wanted = {value, f"{value}°", f"f/{value}", f"{value} mm", f"{value} lx"}
    for frame, heading in zip(shown.frames, headings, strict=True):
        if heading in wanted:
            return frame
    raise LightsimError(f"{where}: found {{{placeholder}}}, allowed a number at {', '.join(headings)}")
