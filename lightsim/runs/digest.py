"""Fingerprints: equal content has an equal digest, whatever its file is called or how it is commented."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

FRAME_ROOMS = ("tracer", "photograph", "measures", "optics", "scene")


def digest(*things: object) -> str:
    """Digest of records, arrays, numbers, text and their tuples, lists and mappings, in hexadecimal."""
    found = hashlib.sha256()
    for thing in things:
        _feed(found, thing)
    return found.hexdigest()


def _feed(found: Any, thing: object) -> None:
    """Add one thing to the digest, its type first, so that 1 and "1" differ."""
    found.update(type(thing).__name__.encode() + b":")
    if isinstance(thing, np.ndarray):
        found.update(f"{thing.dtype.str}{thing.shape}".encode())
        found.update(np.ascontiguousarray(thing).tobytes())
    elif is_dataclass(thing) and not isinstance(thing, type):
        _feed_all(found, [(item.name, getattr(thing, item.name)) for item in fields(thing) if item.compare])
    elif isinstance(thing, Mapping):
        _feed_all(found, sorted(thing.items()))
    elif isinstance(thing, tuple | list):
        _feed_all(found, list(enumerate(thing)))
    else:
        found.update(repr(thing).encode())
    found.update(b";")


def _feed_all(found: Any, pairs: list[tuple[Any, Any]]) -> None:
    for name, value in pairs:
        found.update(f"{name}=".encode())
        _feed(found, value)


def file_digest(path: Path) -> str:
    """Digest of a file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@cache
def code_version(rooms: tuple[str, ...] = FRAME_ROOMS) -> str:
    """Digest of the code that something kept depends on, by default a traced and measured frame: what older
    code made is not used."""
    package = Path(__file__).parents[1]
    found = hashlib.sha256()
    for room in (*rooms, "."):
        sources = package.glob("*.py") if room == "." else (package / room).rglob("*.py")
        for path in sorted(sources):
            found.update(path.relative_to(package).as_posix().encode() + b"\0" + path.read_bytes())
    return found.hexdigest()
