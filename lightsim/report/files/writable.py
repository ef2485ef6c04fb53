"""Whether a file or folder can be written, known before the work starts; one folder, one writer at a time."""

from __future__ import annotations

import os
import tempfile
import threading
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from lightsim.errors import OutputError, named
from lightsim.whole_file import clear_abandoned

if TYPE_CHECKING:
    from filelock import FileLock


def require_folder(folder: Path) -> None:
    """Make the folder where it is missing and make sure that it can be written; OutputError otherwise."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except FileExistsError:
        raise OutputError(f"{named(folder)}: found a file, allowed a folder that can be written") from None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise OutputError(
            f"{named(folder)}: cannot be written ({reason}), allowed a folder that can be"
        ) from None


def require_file(path: Path, suffixes: Collection[str] = (), inputs: Iterable[Path] = ()) -> None:
    """Make sure that a file can be written there, with one of the suffixes; OutputError otherwise.

    inputs : files that the command reads, none of which it may overwrite.
    What killed runs left in the folder is removed.
    """
    if suffixes and path.suffix.lower() not in suffixes:
        found = f"the ending {path.suffix!r}" if path.suffix else "no ending"
        raise OutputError(f"{named(path)}: found {found}, allowed {', '.join(suffixes)}")
    require_outputs([path], inputs)
    if not path.parent.exists():
        raise OutputError(f"{named(path.parent)}: found no such folder, allowed one that exists")
    require_folder(path.parent)
    clear_abandoned(path.parent)


def require_outputs(paths: Iterable[Path], inputs: Iterable[Path] = ()) -> None:
    """Make sure that no folder stands where a file must go, no file where a folder must, and that no file
    that the command reads would be overwritten; OutputError otherwise. Makes nothing."""
    known = {_identity(path): path for path in inputs}
    known.pop(None, None)
    for path in paths:
        if path.is_dir():
            raise OutputError(f"{named(path)}: found a folder, allowed a file's name")
        there = next(parent for parent in path.parents if parent.exists())
        if not there.is_dir():
            raise OutputError(f"{named(there)}: found a file, allowed a folder that can be written")
        if _identity(path) in known:
            read = named(known[_identity(path)])
            raise OutputError(f"{named(path)}: found {read}, which is read, allowed a file that is not")


def _identity(path: Path) -> tuple[int, int] | None:
    """What two names of one file have in common; None where there is no such file."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_dev, found.st_ino


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
