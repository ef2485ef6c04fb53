"""Known before the work starts: whether a file or folder can be written."""

from __future__ import annotations

import tempfile
from collections.abc import Collection
from pathlib import Path

from lightsim.errors import OutputError, named


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


def require_file(path: Path, suffixes: Collection[str] = ()) -> None:
    """Make sure that a file can be written there, with one of the suffixes; OutputError otherwise."""
    if suffixes and path.suffix.lower() not in suffixes:
        found = f"the ending {path.suffix!r}" if path.suffix else "no ending"
        raise OutputError(f"{named(path)}: found {found}, allowed {', '.join(suffixes)}")
    if path.is_dir():
        raise OutputError(f"{named(path)}: found a folder, allowed a file's name")
    if not path.parent.exists():
        raise OutputError(f"{named(path.parent)}: found no such folder, allowed one that exists")
    require_folder(path.parent)
