"""What is kept of traced light on disk, listed and emptied."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from lightsim.report.words import plain, significant
from lightsim.runs.layer_store import BYTES_PER_GB, LIMIT_VARIABLE, LayerStore

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
        from rich.markup import escape
        from rich.table import Table

        table = Table(box=None, pad_edge=False, header_style="bold")
        for heading in ("scene", "picture", "samples", "layers", "size", "last used"):
            table.add_column(heading, justify="left" if heading in ("scene", "last used") else "right")
        for each in self.pictures:
            width, height = each.pixels
            moment = f"{_moment(each.used_s).astimezone():%Y-%m-%d %H:%M}"
            cells = (f"{width} × {height}", str(each.samples), str(each.lights), _megabytes(each.size_bytes))
            table.add_row(escape(each.scene), *cells, moment)
        return table

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


def _moment(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)


def _megabytes(size: int) -> str:
    return f"{significant(size / BYTES_PER_MB)} MB" if size else "0 MB"
