"""Layers of light kept on disk, so that no light is traced twice: in this process or a later one.

They lie in the user's cache (LIGHTSIM_CACHE moves it). All of them together take at most 2 GB, or what
LIGHTSIM_LAYERS_GB says; those not used for longest go first, and 0 keeps none. A file is named by a digest of
all that its layer depends on, so nothing stale is ever read.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

from lightsim.errors import LightsimError, OutputError
from lightsim.report.words import plain, significant
from lightsim.runs.layer_encoding import Arrays, NotALayerFile, read_about, read_arrays, write_arrays
from lightsim.whole_file import replacing

FOLDER_VARIABLE, LIMIT_VARIABLE = "LIGHTSIM_CACHE", "LIGHTSIM_LAYERS_GB"
USUAL_LIMIT_GB = 2.0
BYTES_PER_GB = 1_000_000_000
SUFFIX = ".layer"


@dataclass(frozen=True)
class StoredFile:
    """One file of the store. used_s : when it was last used, seconds since 1970."""

    path: Path
    size_bytes: int
    used_s: float


def layers_folder() -> Path:
    """Where layers are kept."""
    home = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return Path(os.environ.get(FOLDER_VARIABLE) or home / "lightsim") / "layers"


def limit_bytes() -> int:
    """The most that all layers together may take. LightsimError for a limit that is no number."""
    text = os.environ.get(LIMIT_VARIABLE, "")
    try:
        limit = float(text) if text.strip() else USUAL_LIMIT_GB
    except ValueError:
        limit = -1.0
    if not 0.0 <= limit < float("inf"):
        raise LightsimError(
            f"{LIMIT_VARIABLE}: found {text!r}, allowed a number of gigabytes, 0 to keep none"
        )
    return int(limit * BYTES_PER_GB)


class LayerStore:
    """A folder of layers, each under a key of letters and digits.

    limit : bytes that all files together may take.
    """

    def __init__(self, folder: Path | None = None, limit: int | None = None):
        self.folder = layers_folder() if folder is None else folder
        self.limit = limit_bytes() if limit is None else limit

    def load(self, key: str) -> Arrays | None:
        """The arrays under a key; None where there are none. A damaged file is removed."""
        path = self._path(key)
        try:
            arrays = read_arrays(path)
        except NotALayerFile:
            _remove(path)
            return None
        except OSError:
            return None
        with suppress(OSError):
            os.utime(path)
        return arrays

    def holds(self, key: str) -> bool:
        """Whether there is a file under a key."""
        return self._path(key).is_file()

    def save(
        self, key: str, arrays: Mapping[str, NDArray], about: Mapping[str, Any], *, halves: bool
    ) -> None:
        """Keep arrays under a key, whole or not at all, and let the oldest files go.

        Where nothing can be written (a full disk, a folder that is read-only) nothing is kept, and the work
        goes on.
        """
        if self.limit <= 0:
            return
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            with replacing(self._path(key)) as part:
                write_arrays(part, arrays, about, halves=halves)
        except (OSError, OutputError):
            return
        self.trim()

    def files(self) -> list[StoredFile]:
        """All files, those used last first."""
        found = []
        for path in self.folder.glob(f"*{SUFFIX}") if self.folder.is_dir() else ():
            with suppress(OSError):
                status = path.stat()
                found.append(StoredFile(path, status.st_size, status.st_mtime))
        return sorted(found, key=lambda file: -file.used_s)

    def about(self) -> Iterator[tuple[StoredFile, dict[str, Any]]]:
        """Each file with what it says of itself; those that are damaged are left out."""
        for file in self.files():
            with suppress(NotALayerFile, OSError):
                yield file, read_about(file.path)

    def trim(self) -> list[Path]:
        """Remove the files that were not used for longest until the rest fits; returns what was removed."""
        removed, total = [], 0
        for file in self.files():
            total += file.size_bytes
            if total > self.limit:
                _remove(file.path)
                removed.append(file.path)
        return removed

    def empty(self) -> list[StoredFile]:
        """Remove all files; returns what they were."""
        files = self.files()
        for file in files:
            _remove(file.path)
        return files

    def _path(self, key: str) -> Path:
        return self.folder / f"{key}{SUFFIX}"


def open_store() -> LayerStore | None:
    """The user's store of layers; None where the limit is nought."""
    store = LayerStore()
    return store if store.limit > 0 else None


def _remove(path: Path) -> None:
    with suppress(OSError):
        path.unlink(missing_ok=True)


BYTES_PER_MB = 1_000_000


@dataclass(frozen=True)
class KeptPicture:
    """The layers of one scene at one size and quality.

    scene : name of its file.  pixels : width and height.  lights : how many layers of light.
    used_s : when the last of them was used, seconds since 1970.
    """

    scene: str
    pixels: tuple[int, int]
    samples: int
    lights: int
    size_bytes: int
    used_s: float


@dataclass(frozen=True)
class KeptLayers:
    """All that is kept, used last first.

    removed : whether it was removed.
    """

    folder: Path
    limit_bytes: int
    pictures: tuple[KeptPicture, ...]
    files: int
    size_bytes: int
    removed: bool = False

    def as_dict(self) -> dict[str, Any]:
        """All numbers, units in the keys."""
        return {
            "folder": str(self.folder),
            "limit_bytes": self.limit_bytes,
            "size_bytes": self.size_bytes,
            "files": self.files,
            "removed": self.removed,
            "pictures": [
                {
                    "scene": each.scene,
                    "width_px": each.pixels[0],
                    "height_px": each.pixels[1],
                    "samples": each.samples,
                    "layers": each.lights,
                    "size_bytes": each.size_bytes,
                    "last_used": _moment(each.used_s).isoformat(timespec="seconds"),
                }
                for each in self.pictures
            ],
        }

    def table(self) -> Any:
        """What is kept of each scene, for the terminal."""
        from lightsim.report.tables.measures_table import open_table

        headings = ("scene", "picture", "samples", "layers", "size", "last used")
        return open_table(headings, map(_cells, self.pictures), right=(1, 2, 3, 4))

    def notes(self) -> list[str]:
        """Where it lies, how much it is, and what bounds it."""
        if self.removed:
            count = f"{self.files} file{'' if self.files == 1 else 's'}"
            return [f"Removed {count} of {_megabytes(self.size_bytes)} from {self.folder}."]
        limit = plain(self.limit_bytes / BYTES_PER_GB)
        return [
            f"{_megabytes(self.size_bytes)} of at most {limit} GB in {self.folder}.",
            "Beyond that those not used for longest go first; "
            f"{LIMIT_VARIABLE} sets another limit, 0 keeps none.",
        ]


def list_layers(*, empty: bool = False) -> KeptLayers:
    """What is kept; empty : remove it all."""
    store = LayerStore()
    pictures = tuple(_pictures(store))
    files = store.empty() if empty else store.files()
    size = sum(file.size_bytes for file in files)
    return KeptLayers(store.folder, store.limit, pictures, len(files), size, removed=empty)


def _pictures(store: LayerStore) -> Iterator[KeptPicture]:
    groups: dict[tuple[str, tuple[int, int], int], list[tuple[float, int, bool]]] = {}
    for file, about in store.about():
        width, height = about["pixels"]
        key = (str(about["scene"]), (int(width), int(height)), int(about["samples"]))
        groups.setdefault(key, []).append((file.used_s, file.size_bytes, about["what"] != "maps"))
    for (scene, pixels, samples), files in groups.items():
        used, sizes, lights = zip(*files, strict=True)
        yield KeptPicture(scene, pixels, samples, sum(lights), sum(sizes), max(used))


def _cells(kept: KeptPicture) -> tuple[str, ...]:
    width, height = kept.pixels
    moment = f"{_moment(kept.used_s).astimezone():%Y-%m-%d %H:%M}"
    numbers = (f"{width} × {height}", str(kept.samples), str(kept.lights), _megabytes(kept.size_bytes))
    return (kept.scene, *numbers, moment)


def _moment(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)


def _megabytes(size: int) -> str:
    return f"{significant(size / BYTES_PER_MB)} MB" if size else "0 MB"
