"""Known before the work starts: whether a file or folder can be written."""

from __future__ import annotations

import tempfile
from collections.abc import Collection, Iterable
from pathlib import Path

from lightsim.errors import OutputError, named
from lightsim.whole_file import clear_abandoned


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
