"""A sweep's files: frames, sheet, measures, chart, animation.

A frame is a picture and a small file of numbers, good as long as their digest agrees. The digest covers all
that the frame depends on: the built set, the settings, the options and the code. A frame whose digest is
another, or whose picture is missing or was changed since, is made anew.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lightsim.report.files import formats as files
from lightsim.report.files.formats import write_image, write_json
from lightsim.report.files.writable import locked, require_folder, require_outputs
from lightsim.report.page_options import PageOptions
from lightsim.runs.digest import file_digest
from lightsim.runs.frame import Frame, frame_from_dict, frame_to_dict
from lightsim.runs.job import JobProgress, Report, Worker
from lightsim.runs.sweep.schedule import SweepPlan
from lightsim.scene.build import files_read
from lightsim.scene.file.write import save_scene
from lightsim.scene.records import Light

if TYPE_CHECKING:
    from lightsim.runs.sweep.result import Sweep

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


SCENE_FILE = "swept-scene.toml"  # the scene as it was swept, so that other pages can be made of the folder
FILES = (
    SCENE_FILE,
    "sheet.png", "sheet.pdf", "measures.csv", "drops.csv", "measures.json",
    "chart.png", "chart.pdf", "chart.svg",
    "sweep.webp", "sweep.mp4",
)  # fmt: skip

Maker = Callable[["Sweep", Path, PageOptions], list[Path]]

# Weights of the files in the progress, about as long as they take.
STEPS = 4


def save_sweep(
    sweep: Sweep, folder: Path, progress: Report | None = None, options: PageOptions | None = None
) -> list[Path]:
    """Write all of a sweep's files; those that exist are replaced. Returns them, frames first.

    OutputError when the folder cannot be written.
    """
    with folder_for(sweep.plan, folder):
        return _saved(sweep, folder, progress, sweep.page_options(options))


@contextmanager
def folder_for(plan: SweepPlan, folder: Path) -> Iterator[None]:
    """The sweep's folder, made where it is missing, for this block alone.

    OutputError, before anything is made, where a folder stands where a file must go or a file would be
    overwritten that the scene is read from; where it cannot be written; where another run writes there.
    """
    require_outputs(sweep_files(plan, folder), files_read(plan.scene))
    require_folder(folder)
    with locked(folder):
        yield


def sweep_files(plan: SweepPlan, folder: Path) -> list[Path]:
    """All files that a sweep may write."""
    stems = [folder / "frames" / plan.stem(step) for step in plan.steps]
    frames = [stem.with_name(stem.name + suffix) for stem in stems for suffix in (".png", ".json")]
    sheets = [f"sheet-{number}.png" for number in range(2, len(plan.steps) + 1)]
    return frames + [folder / name for name in (*FILES, *sheets)]


def _saved(sweep: Sweep, folder: Path, progress: Report | None, options: PageOptions) -> list[Path]:
    job = JobProgress(progress, STEPS)
    paths = save_frames(sweep, folder)
    later: list[Path] = []
    makers: list[Maker] = [_save_chart] if sweep.plan.is_grid else [_save_chart, _save_animation]

    def make_others() -> None:
        for maker in makers:
            later.extend(maker(sweep, folder, options))

    with Worker() as worker:
        worker.give(make_others)  # beside the sheet, which takes about as long
        job.part(1.0, "contact sheet")
        paths += _save_sheet(sweep, folder, options)
        job.part(1.0, "measures")
        paths += _save_measures(sweep, folder)
        job.part(2.0, "chart" if sweep.plan.is_grid else "chart and animation")
        worker.wait()
    job.finish()
    return paths + later


def save_frames(sweep: Sweep, folder: Path) -> list[Path]:
    """The frames' pictures and their numbers, those already there left as they are."""
    plan = sweep.plan
    family = plan.family(sweep.gain_stops)
    kept = KeptFrames(folder / "frames", family)
    paths = []
    for frame, step in zip(sweep.frames, plan.steps, strict=True):
        stem, digest = plan.stem(step), plan.frame_digest(step, family)
        paths.append(kept.picture_path(stem))
        if not kept.holds(stem, digest):
            kept.save(stem, digest, frame)
    return paths


def _save_sheet(sweep: Sweep, folder: Path, options: PageOptions) -> list[Path]:
    from lightsim.report.drawing.page_files import write_pages

    return write_pages([folder / "sheet.png", folder / "sheet.pdf"], sweep.pages(options))


def _save_measures(sweep: Sweep, folder: Path) -> list[Path]:
    paths = [folder / "measures.csv", folder / "drops.csv", folder / "measures.json"]
    scene_file = folder / SCENE_FILE
    if sweep.plan.scene.path is None or scene_file.resolve() != sweep.plan.scene.path.resolve():
        titled = replace(sweep.plan.scene, title=sweep.title)  # not by the name of this file
        paths.append(save_scene(titled, scene_file, force=True))
    files.write_csv(paths[0], sweep.rows())
    files.write_csv(paths[1], sweep.drop_rows())
    files.write_json(paths[2], sweep.as_dict())
    return paths


def _save_chart(sweep: Sweep, folder: Path, options: PageOptions) -> list[Path]:
    from lightsim.report.chart.sweep_chart import chart_page
    from lightsim.report.drawing.page_files import write_pages

    page = chart_page(sweep.sheet_frames(), sweep.title, sweep.exposure_note, options)
    names = ("chart.png", "chart.pdf", "chart.svg")
    return write_pages([folder / name for name in names], [page])


def _save_animation(sweep: Sweep, folder: Path, options: PageOptions) -> list[Path]:
    from lightsim.report.sheet.animation import films_possible, save_animations

    names = ("sweep.webp", "sweep.mp4") if films_possible() else ("sweep.webp",)
    return save_animations([folder / name for name in names], sweep.sheet_frames(), theme=options.theme)
