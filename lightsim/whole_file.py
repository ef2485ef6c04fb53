"""Files that are there whole or not at all: written beside their place, then renamed into it."""

from __future__ import annotations

import errno
import hashlib
import os
import platform
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4

from lightsim.errors import OutputError, named

TEMPORARY = ".part-"
OLD_S = 86400.0  # from which on a temporary file is nobody's any more, whatever its name says


@contextmanager
def replacing(path: str | Path) -> Iterator[Path]:
    """A temporary file in the same folder, empty at first, that takes the place of `path` at the end.

    When the block ends with an error, or is interrupted, the temporary file is removed and `path` stays as
    it was. The temporary name has the ending of `path`; what is written is on the disk before it is renamed.
    Raises OutputError where the folder is missing or cannot be written, or a folder has that name.
    """
    path = Path(path)
    if path.is_dir():
        raise OutputError(f"{named(path)}: this is a folder; give the name of a file")
    part = path.with_name(f"{TEMPORARY}{_machine()}-{os.getpid()}-{uuid4().hex[:12]}{path.suffix}")
    try:
        part.open("xb").close()
        yield part
        _to_disk(part)
        os.replace(part, path)
    except OSError as error:
        raise OutputError(_sentence(path, error)) from error
    finally:
        _remove(part)


def _to_disk(part: Path) -> None:
    with part.open("rb+") as file:
        os.fsync(file.fileno())


def _machine() -> str:
    """The machine, or container, that a temporary file was made on."""
    return hashlib.sha256(platform.node().encode(errors="replace")).hexdigest()[:8]


def clear_abandoned(folder: Path) -> None:
    """Remove the temporary files that killed runs left in a folder; those of runs that go on stay."""
    for part in folder.glob(f"{TEMPORARY}*"):
        if _is_abandoned(part):
            _remove(part)


def _is_abandoned(part: Path) -> bool:
    """Whether nobody will rename a temporary file any more: its process has ended, or it is a day old."""
    try:
        old = time.time() - part.stat().st_mtime > OLD_S
    except OSError:
        return False
    machine, _, rest = part.name.removeprefix(TEMPORARY).partition("-")
    number = rest.partition("-")[0]
    return old or (machine == _machine() and number.isdecimal() and not _lives(int(number)))


def _lives(process: int) -> bool:
    if os.name != "posix":  # there a signal would end it; a file that is open cannot be removed anyway
        return False
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


def _remove(part: Path) -> None:
    """Remove what is left of a file; nothing is left after a rename, or where it could not be made."""
    try:
        part.unlink(missing_ok=True)
    except OSError:
        return


def _sentence(path: Path, error: OSError) -> str:
    """What is wrong with a place, in one sentence."""
    folder = named(path.parent)
    if error.errno == errno.ENOENT:
        return f"{named(path)}: there is no folder {folder}; make it first or choose another"
    if error.errno == errno.ENOTDIR:
        return f"{named(path)}: {folder} is not a folder; choose another place"
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        wrong = f"the folder {folder} may not be written"
        return f"{named(path)}: {wrong}; choose another or change its permissions"
    if error.errno == errno.ENOSPC:
        return f"{named(path)}: the disk is full; make room or choose another place"
    return f"{named(path)}: cannot be written ({error.strerror or error}); choose another place"


def require_suffix(path: str | Path, allowed: Sequence[str]) -> str:
    """The ending of a file name in small letters.

    Raises OutputError, naming what is allowed, for any other ending.
    """
    suffix = Path(path).suffix.lower()
    if suffix not in allowed:
        found = f"the ending {suffix!r}" if suffix else "no ending"
        raise OutputError(f"{named(path)}: found {found}, allowed {', '.join(allowed)}")
    return suffix
