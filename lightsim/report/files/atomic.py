"""Files that are there whole or not at all: written beside their place, then renamed into it."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4

from lightsim.errors import OutputError, named


@contextmanager
def replacing(path: str | Path) -> Iterator[Path]:
    """A temporary file in the same folder, empty at first, that takes the place of `path` at the end.

    When the block ends with an error, or is interrupted, the temporary file is removed and `path` stays as
    it was. The temporary name has the ending of `path`.
    Raises OutputError where the folder is missing or cannot be written, or a folder has that name.
    """
    path = Path(path)
    if path.is_dir():
        raise OutputError(f"{named(path)}: this is a folder; give the name of a file")
    part = path.with_name(f".part-{uuid4().hex[:12]}{path.suffix}")
    try:
        part.open("xb").close()
        yield part
        os.replace(part, path)
    except OSError as error:
        raise OutputError(_sentence(path, error)) from error
    finally:
        _remove(part)


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
        return (
            f"{named(path)}: the folder {folder} may not be written; choose another or change its permissions"
        )
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
