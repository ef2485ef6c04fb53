"""A room imports only from rooms below it. The order is the one DEVELOPERS.md explains."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import lightsim

PACKAGE = Path(lightsim.__file__).parent

# Top first. Rooms on one line may not import one another.
ORDER = [
    {"__main__"},
    {"cli"},
    {"live"},
    {"runs"},
    {"planning"},
    {"report"},
    {"measures"},
    {"photograph"},
    {"tracer"},
    {"scene"},
    {"optics"},
    {"picture", "memory", "whole_file"},
    {"constants", "errors"},
]
LEVEL = {room: len(ORDER) - place for place, rooms in enumerate(ORDER) for room in rooms}

# Rooms that stay apart although the order alone would let them meet, each with the reason.
APART = {
    ("measures", "scene"): "measures must serve real photographs too",
    ("measures", "tracer"): "measures must serve real photographs too",
    ("photograph", "tracer"): "a photograph is arithmetic on layers, whoever traced them",
    ("report", "tracer"): "sheets are made of photographs and numbers",
}

# Imports against the order that are meant, each with the reason.
EXCEPTIONS = {
    ("picture.py", "photograph"): "a photograph shows itself in a notebook, as sRGB",
}

FILES = sorted(path for path in PACKAGE.rglob("*.py") if path != PACKAGE / "__init__.py")


def room_of(path: Path) -> str:
    """The room that a file of the package belongs to."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def rooms_imported(path: Path) -> set[tuple[str, int]]:
    """Rooms of the package that a file imports, anywhere in it, with the line."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        for name in names_of(node, path):
            parts = name.split(".")
            if parts[0] == "lightsim" and len(parts) > 1:
                found.add((parts[1], node.lineno))
    return found


def names_of(node: ast.AST, path: Path) -> list[str]:
    """Full dotted names that an import statement brings in."""
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if not isinstance(node, ast.ImportFrom):
        return []
    if node.level:
        package = ["lightsim", *path.relative_to(PACKAGE).parent.parts]
        base = package[: len(package) - node.level + 1] + ([node.module] if node.module else [])
    else:
        base = (node.module or "").split(".")
    return [".".join([*base, alias.name]) for alias in node.names]


def complaints(path: Path, room: str) -> list[str]:
    """What a file imports against the order, in words."""
    wrong = []
    for other, line in sorted(rooms_imported(path)):
        if other == room or (path.name, other) in EXCEPTIONS:
            continue
        if other not in LEVEL:
            wrong.append(f"{path.name}:{line} imports {other}, which has no place in the order")
        elif LEVEL[other] >= LEVEL[room]:
            wrong.append(f"{path.name}:{line} in {room} imports {other}, which does not lie below it")
        elif (room, other) in APART:
            wrong.append(f"{path.name}:{line} in {room} imports {other}: {APART[room, other]}")
    return wrong


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_a_file_imports_only_from_rooms_below_its_own(path):
    room = room_of(path)
    assert room in LEVEL, f"the room {room} has no place in the order"
    assert complaints(path, room) == []


def test_an_import_of_a_higher_room_would_be_noticed(tmp_path, monkeypatch):
    monkeypatch.setattr("tests.test_import_order.PACKAGE", tmp_path)
    (tmp_path / "optics").mkdir()
    file = tmp_path / "optics" / "water.py"
    file.write_text("from lightsim.tracer import View\nfrom ..runs import sweep\nimport lightsim.errors\n")
    assert len(complaints(file, "optics")) == 2


def test_kernels_are_reached_through_the_door_of_their_room_alone():
    for path in FILES:
        if room_of(path) == "tracer":
            continue
        text = path.read_text(encoding="utf-8")
        assert "lightsim.tracer.kernels" not in text, path
