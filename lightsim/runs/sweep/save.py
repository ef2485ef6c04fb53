"""A sweep's files: frames, sheet, measures, chart, animation."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from lightsim.report.files import formats as files
from lightsim.report.files.writable import locked, require_folder, require_outputs
from lightsim.report.page_options import PageOptions
from lightsim.runs.job import JobProgress, Report, Worker
from lightsim.runs.sweep.frame_store import KeptFrames
from lightsim.runs.sweep.schedule import SweepPlan
from lightsim.scene.build import files_read
from lightsim.scene.file.write import save_scene

if TYPE_CHECKING:  # a sweep saves itself by way of this file
    from lightsim.runs.sweep.result import Sweep

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
        paths.append(save_scene(sweep.plan.scene, scene_file, force=True))
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
