"""Frames kept on disk: a picture and a small file of numbers for each, good as long as their digest agrees.

A frame's digest covers all that it depends on: the built set, the settings, the options and the code. A
frame whose digest is another, or whose picture is missing or was changed since, is made anew.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.report.files.formats import write_image, write_json
from lightsim.runs.digest import file_digest
from lightsim.runs.frame import Frame, frame_from_dict, frame_to_dict
from lightsim.scene.records import Light

KIND = "lightsim frame"
SCHEMA_VERSION = 2


class KeptFrames:
    """The frames of a folder.

    folder : where they are; made by the first `save`.
    family : digest of all that the frames of one sweep share.
    """

    def __init__(self, folder: Path, family: str):
        self.folder = folder
        self.family = family

    def picture_path(self, stem: str) -> Path:
        """Where a frame's picture is."""
        return self.folder / f"{stem}.png"

    def holds(self, stem: str, digest: str) -> bool:
        """Whether the frame of that name and digest is there, unchanged."""
        kept = read_kept(self.folder / f"{stem}.json")
        if kept is None or kept.get("digest") != digest:
            return False
        return _unchanged(self.picture_path(stem), kept)

    def load(self, stem: str, digest: str, light: Light | None) -> Frame | None:
        """The frame of that name, None when there is none with that digest."""
        if not self.holds(stem, digest):
            return None
        kept = read_kept(self.folder / f"{stem}.json") or {}
        try:
            return frame_from_dict(kept, read_picture(self.picture_path(stem)), light)
        except (KeyError, TypeError, ValueError, OSError):
            return None

    def save(self, stem: str, digest: str, frame: Frame) -> Path:
        """Write a frame: its picture first, then the numbers that vouch for it."""
        self.folder.mkdir(parents=True, exist_ok=True)
        picture = self.picture_path(stem)
        write_image(picture, frame.image, photograph=True)
        numbers = {
            "kind": KIND,
            "schema_version": SCHEMA_VERSION,
            "digest": digest,
            "family": self.family,
            "picture_sha256": file_digest(picture),
            **frame_to_dict(frame),
        }
        write_json(self.folder / f"{stem}.json", numbers, indented=False)
        return picture

    def clear_stale(self, stem_words: tuple[str, ...]) -> list[Path]:
        """Remove the frames that an earlier set-up left along the same quantities; returns their pictures.

        Pictures that were changed since they were written are left alone.
        """
        removed = []
        for numbers in sorted(self.folder.glob("*.json")):
            if words_of(numbers.stem) != stem_words:
                continue
            kept = read_kept(numbers)
            picture = numbers.with_suffix(".png")
            if kept is None or kept.get("family") == self.family or not _unchanged(picture, kept):
                continue
            numbers.unlink()
            picture.unlink()
            removed.append(picture)
        return removed


def words_of(stem: str) -> tuple[str, ...]:
    """The words of the quantities in a frame's name: angle-075_f-08 has angle and f."""
    return tuple(part.partition("-")[0] for part in stem.split("_"))


def read_kept(path: Path) -> dict[str, Any] | None:
    """A frame's file of numbers, None when it is missing or something else."""
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    ours = isinstance(found, dict) and found.get("kind") == KIND
    return found if ours and found.get("schema_version") == SCHEMA_VERSION else None


def _unchanged(picture: Path, kept: dict[str, Any]) -> bool:
    try:
        return file_digest(picture) == kept.get("picture_sha256")
    except OSError:
        return False


def read_picture(path: Path) -> NDArray[np.uint8]:
    """A picture file as (h, w, 3) uint8."""
    from PIL import Image

    with Image.open(path) as picture:
        return np.asarray(picture.convert("RGB")).copy()
