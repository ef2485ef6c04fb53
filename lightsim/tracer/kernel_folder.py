"""The folder of compiled kernels: machine code, so it must be ours alone, whole, and unchanged.

Code is loaded only from a folder that belongs to the current user or to root and that nobody else may write,
up to the cache's root; else kernels are kept in a private folder that goes with the process. Each file begins
with the SHA-256 of the rest, which is compared before anything is made of it.
"""

from __future__ import annotations

import atexit
import hashlib
import os
import shutil
import stat
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from lightsim.errors import OutputError, named
from lightsim.whole_file import clear_abandoned, replacing

VARIABLE = "LIGHTSIM_CACHE"
COMPLETE = "complete"  # marks a folder in which all kernels are


class FolderRules(NamedTuple):
    """How the folder of kernels is kept."""

    old_days: float = 60.0  # from which on kernels of other sources are taken to be of no use any more
    most_old_bytes: int = 500_000_000  # of kernels of other sources together
    digest_bytes: int = hashlib.sha256().digest_size
    private: int = 0o700


RULES = FolderRules()


def say(sentence: str) -> None:
    """A line on standard error."""
    if sys.stderr is not None:
        print(f"lightsim: {sentence}", file=sys.stderr)


def kernel_folder(name: str) -> Path:
    """The folder of that name in the first cache that may be used, made where it is missing.

    LIGHTSIM_CACHE names the cache; the user's own comes after it, and last a private folder. A cache that may
    not be written serves where it is complete.
    """
    given = os.environ.get(VARIABLE)
    if given:
        root = Path(given)
        wrong = distrust(root, root / name)
        if wrong:
            say(f"{VARIABLE}: found {wrong}; kernels are compiled for this run alone")
            return _private(name)
        if _serves(root, name):
            return root / name
    home = os.environ.get("XDG_CACHE_HOME")
    try:
        root = (Path(home) if home else Path.home() / ".cache") / "lightsim"
    except RuntimeError:  # no home is known
        return _private(name)
    wrong = distrust(root, root / name)
    if wrong:
        say(f"cache: found {wrong}; kernels are compiled for this run alone")
        return _private(name)
    return root / name if _serves(root, name) else _private(name)


def distrust(root: Path, folder: Path) -> str:
    """Why code may not be loaded from a folder of a cache, in words that say what would help; "" where it
    may, or where there is nothing yet."""
    if not hasattr(os, "geteuid"):  # no owners here
        return ""
    for place in (root, *[root / part for part in _between(root, folder)]):
        try:
            found = place.stat()
        except OSError:
            return ""
        if found.st_uid not in (os.geteuid(), 0):
            return f"{named(place)} owned by someone else, allowed a folder of your own"
        if found.st_mode & (stat.S_IWGRP | stat.S_IWOTH):
            return f"{named(place)} open to writing by others, allowed one closed to them (chmod go-w)"
    return ""


def _between(root: Path, folder: Path) -> list[Path]:
    """The folders from the root, which is left out, down to the folder."""
    parts = folder.relative_to(root).parts
    return [Path(*parts[: count + 1]) for count in range(len(parts))]


def _serves(root: Path, name: str) -> bool:
    """Whether kernels can be kept in a cache, or are all there."""
    folder = root / name
    if (folder / COMPLETE).exists() and os.access(folder, os.R_OK | os.X_OK):
        return True
    try:
        root.parent.mkdir(parents=True, exist_ok=True)
        for place in (root, folder):
            place.mkdir(mode=RULES.private, exist_ok=True)
    except OSError:
        return False
    return os.access(folder, os.W_OK) and not distrust(root, folder)


def _private(name: str) -> Path:
    """A folder of this process alone, removed at its end."""
    root = Path(tempfile.mkdtemp(prefix="lightsim-"))  # with mode 0700
    maker = os.getpid()

    def remove() -> None:
        if os.getpid() == maker:
            shutil.rmtree(root, ignore_errors=True)

    atexit.register(remove)
    folder = root / name
    folder.mkdir(mode=RULES.private)
    return folder


def forget_old(folder: Path) -> None:
    """Remove the kernels of other sources, kept beside this folder, that were compiled long ago, and the
    oldest of them where they take much room; of its own what killed processes left."""
    clear_abandoned(folder)
    ages = []
    for other in folder.parent.glob("kernels-*"):
        if other != folder and not other.is_symlink() and other.is_dir():
            ages.append((time.time() - other.stat().st_mtime, other))
    room = RULES.most_old_bytes
    for age_s, other in sorted(ages):
        room -= sum(file.stat().st_size for file in other.rglob("*") if file.is_file())
        if age_s > RULES.old_days * 86400.0 or room < 0:
            shutil.rmtree(other, ignore_errors=True)


def read_sealed(path: Path) -> bytes | None:
    """What `write_sealed` wrote; None where there is nothing, or where it was damaged or is not ours.

    A damaged file is told of once and removed, with the mark that all is there.
    """
    try:
        with path.open("rb") as file:
            owner = os.fstat(file.fileno())
            data = file.read()
    except OSError:
        return None
    if hasattr(os, "geteuid") and owner.st_uid not in (os.geteuid(), 0):
        return None
    seal, content = data[: RULES.digest_bytes], data[RULES.digest_bytes :]
    if hashlib.sha256(content).digest() == seal:
        return content
    _tell_of_damage(path)
    return None


_told: set[Path] = set()


def _tell_of_damage(path: Path) -> None:
    folder = path.parent
    if folder not in _told:
        _told.add(folder)
        say(f"{named(folder)}: found damaged kernels; they are compiled anew")
    for file in (path, folder / COMPLETE):
        try:
            file.unlink(missing_ok=True)
        except OSError:
            continue


def write_sealed(path: Path, content: bytes) -> None:
    """Write bytes with their checksum, whole or not at all; where that cannot be, nothing is kept."""
    try:
        with replacing(path) as part:
            part.write_bytes(hashlib.sha256(content).digest() + content)
    except OutputError:
        return


def mark_complete(folder: Path) -> None:
    """Remember that all kernels are in a folder."""
    try:
        (folder / COMPLETE).touch()
    except OSError:
        return
