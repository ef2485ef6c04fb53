"""Reading scene files (TOML), all problems reported at once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from lightsim.errors import SceneError
from lightsim.scene.file.check import check_scene, scene_from_table
from lightsim.scene.records import Scene

CURLY = "“”„‟«»‘’‚"
STRAIGHT = str.maketrans(dict.fromkeys(CURLY, '"'))
MOST_BYTES = 1_000_000
MOST_PARTS = 100  # of a dotted key: the parser's time grows with their square
_PART = r"""(?:[\w-]+|"[^"\n]*"|'[^'\n]*')"""
_MANY_PARTS = re.compile(rf"(?<![\w.-]){_PART}(?:[ \t]*\.[ \t]*{_PART}){{{MOST_PARTS}}}")


def load_scene(path: str | Path) -> Scene:
    """Read a scene file (TOML). A mesh file that it names is looked for beside it.

    Raises
    ------
    SceneError, with one sentence for each problem.

    Examples
    --------
    >>> from lightsim.scene.file.write import save_scene
    >>> path = save_scene(Scene(title="Wet petal"), "wet-petal.toml")
    >>> load_scene(path).title
    'Wet petal'
    """
    path = Path(path)
    scene = scene_from_dict(_parsed(_text(path), path), path)
    file = scene.petal.file
    if file is None:
        return scene
    return replace(scene, petal=replace(scene.petal, file=path.parent / file))


def as_scene(scene: Scene | str | Path) -> Scene:
    """The scene that is given, checked as a file is, or the scene of a file.

    Raises SceneError, with one sentence for each problem.
    """
    return check_scene(scene) if isinstance(scene, Scene) else load_scene(scene)


def scene_from_dict(data: Mapping[str, Any], path: str | Path | None = None) -> Scene:
    """A scene from nested tables as TOML gives them; file names stay as they are.

    Raises SceneError, with one sentence for each problem and `path` for its file.
    """
    if not isinstance(data, Mapping):
        raise SceneError(f"found {type(data).__name__}, allowed a mapping of sections", path)
    return scene_from_table(dict(data), path)


def _text(path: Path) -> str:
    try:
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except IsADirectoryError:
        raise SceneError("found a folder, allowed a scene file (TOML)", path) from None
    except FileNotFoundError:
        raise SceneError("found no such file, allowed a scene file (TOML)", path) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise SceneError(
            f"found a file that cannot be read ({reason}), allowed a scene file (TOML)", path
        ) from None
    if len(raw) > MOST_BYTES:
        found = f"found more than {MOST_BYTES:,} bytes"
        raise SceneError(f"{found}, allowed a scene file (TOML) of at most that size", path)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise SceneError(
            f"line {line}: found bytes that are not UTF-8 text, allowed a scene file (TOML) in UTF-8", path
        ) from None


def _parsed(text: str, path: Path) -> dict[str, Any]:
    dotted = _MANY_PARTS.search(text)
    if dotted is not None:
        row = text.count("\n", 0, dotted.start()) + 1
        found = f"line {row}: found a key of more than {MOST_PARTS} parts"
        raise SceneError(f"{found}, allowed one such as camera.f_number", path)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        place, reason = _where_broken(str(error), text)
        line = text.split("\n")[int(place.split()[1].rstrip(",")) - 1]
        raise SceneError(
            f"{place}: found broken TOML ({reason}), allowed is TOML such as key = 1.5{_meant(line)}", path
        ) from None
    except ValueError:  # the one fault that the parser reports by Python's own error
        found = "found a whole number of thousands of digits"
        raise SceneError(f"{found}, allowed numbers within the limits of their keys", path) from None
    except RecursionError:
        raise SceneError("found TOML nested too deeply, allowed is a scene file", path) from None


def _where_broken(message: str, text: str) -> tuple[str, str]:
    """Line and column, and the reason, of a message such as 'Invalid value (at line 3, column 5)'."""
    found = re.fullmatch(r"(.*?)\s*\(at (?:line (\d+), column (\d+)|end of document)\)", message, re.DOTALL)
    if found is None:
        return "line 1, column 1", message
    reason, line, column = found.groups()
    if line is None:
        lines = text.split("\n")
        line, column = str(len(lines)), str(len(lines[-1]) + 1)
    return f"line {line}, column {column}", reason[:1].lower() + reason[1:]


def _meant(line: str) -> str:
    """What was probably meant by a line that is no TOML: curly quotes, a decimal comma, a bare word."""
    key, equals, value = (part.strip() for part in line.partition("="))
    value = value.partition("#")[0].strip()
    if not equals or not _broken(line):
        return ""
    if any(quote in value for quote in CURLY):
        return f" (meant is {key} = {value.translate(STRAIGHT)}, with straight quotes)"
    if re.fullmatch(r"[+-]?\d+,\d+", value):
        return f" (meant is {key} = {value.replace(',', '.')}, with a point as the decimal sign)"
    if re.fullmatch(r"[+-]?[\w./]+( ?[\w./°%]+)*", value):
        return f' (meant is {key} = "{value}", in quotes)'
    return ""


def _broken(line: str) -> bool:
    """Whether a line is no TOML by itself."""
    try:
        tomllib.loads(line)
    except tomllib.TOMLDecodeError:
        return True
    return False
