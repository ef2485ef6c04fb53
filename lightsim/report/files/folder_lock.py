"""One folder, one writer: a second run in it is refused, whoever began it."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from lightsim.errors import OutputError, named
from lightsim.whole_file import clear_abandoned

if TYPE_CHECKING:
    from filelock import FileLock

_held = threading.local()


def _mine() -> set[Path]:
    """The folders that this thread holds: what it does inside one is its own."""
    if not hasattr(_held, "folders"):
        _held.folders = set()
    return _held.folders


TRIES = 10  # when another run removes the lock's file at the same moment
LOCK, HOLDER = ".lightsim-lock", ".lightsim-holder"


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """The folder for this block alone, cleared of what killed runs left in it and in its folders.

    The lock is the system's: it ends with the process that holds it, however that ends.
    OutputError, which names the process, where another run holds it.
    """
    place = folder.resolve()
    if place in _mine():
        yield
        return
    lock, holder = _acquired(folder), folder / HOLDER
    try:
        _mine().add(place)
        holder.write_text(str(os.getpid()), encoding="ascii")
        for each in (folder, *(inner for inner in folder.iterdir() if inner.is_dir())):
            clear_abandoned(each)
        yield
    finally:
        _mine().discard(place)
        for file in (holder, folder / LOCK):
            with suppress(OSError):
                file.unlink()
        lock.release()


def _acquired(folder: Path) -> FileLock:
    """The lock, held. Its file is removed before it is let go, so it counts only while it is in its place."""
    from filelock import FileLock, Timeout

    path = folder / LOCK
    for _ in range(TRIES):
        held: list[int] = []
        lock = FileLock(path, on_acquired=held.append)
        try:
            lock.acquire(timeout=0)
        except Timeout:
            break
        with suppress(OSError):
            if os.path.samestat(os.fstat(held[0]), path.stat()):
                return lock
        lock.release()
    found = f"{named(folder)}: found {_words(folder / HOLDER)} writing there"
    raise OutputError(f"{found}, allowed another folder, or this one when that has ended")


def _words(holder: Path) -> str:
    """The process that holds the lock."""
    try:
        text = holder.read_text(encoding="ascii")
    except (OSError, ValueError):
        return "another process"
    return f"process {text}" if text.isdecimal() else "another process"
