"""Sweeping a light or a setting: one call from a scene and values to frames."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import Any

from lightsim.report.page_options import PageOptions
from lightsim.runs.limits import require_memory
from lightsim.runs.progress import JobProgress, Report
from lightsim.runs.quality import samples_of
from lightsim.runs.sweep.execution import SweepStopped, Work, whole_weight
from lightsim.runs.sweep.result import Sweep
from lightsim.runs.sweep.save import folder_for
from lightsim.runs.sweep.schedule import SweepPlan, plan_sweep
from lightsim.scene.file.read import as_scene
from lightsim.scene.records import Scene
from lightsim.scene.settings.value_list import Values

# Share of the whole that the frames take; sheet, chart and animation take the rest.
SWEEP_SHARE = 0.8


def sweep(
    scene: Scene | str | Path,
    *,
    exposure: str = "set",
    light: str | None = None,
    quality: str = "normal",
    width_px: int | None = None,
    folder: str | Path | None = None,
    force: bool = False,
    photographs: bool = False,
    progress: Report | None = None,
    **varied: Values,
) -> Sweep:
    """Photograph a scene along a list of values: a light moved, a setting changed, or both as a grid.

    Parameters
    ----------
    scene : a scene or its file.
    varied : values by the quantity's name (`scene.settings.quantities`): angles, clock, distance, size,
        power, diffuser, f_number, shutter, iso, extension, close_up, card, room, drops, contact_angle ...
        Numbers, or text such as "0:180:15" or "10,45,80"; a range of settings marked in stops steps in
        stops. One of them may have several values, or two, which makes a grid; a single value sets it for
        all frames.
    exposure : "set": as the scene says, and where settings of the exposure vary, as these say; "auto": one
        automatic exposure for all; "own": each frame's own; "hold": what is varied is made up for by the
        power of the flash, then by ISO (`held`).
    light : the light that moves; the key when None.
    quality : "draft", "normal" or "final".
    folder : where frames are kept and taken from when they still hold; None keeps them in memory only.
    force : make all frames anew.
    photographs : keep each frame's linear picture too.
    progress : called with the share done (0..1) and what is being done.

    Raises
    ------
    SceneError, PictureError, OutputError, LightsimError before anything is traced; SweepStopped on an
    interruption.

    Examples
    --------
    Side light against frontal light: the petal's contrast rises.

    >>> frontal, side = sweep(Scene(), angles="15,75", quality="draft", width_px=48)
    >>> frontal.measures.petal_contrast_stops < side.measures.petal_contrast_stops
    True
    """
    read = as_scene(scene)
    plan = plan_sweep(
        read, varied, light=light, samples=samples_of(quality), width_px=width_px, exposure=exposure
    )
    place = None if folder is None else Path(folder)
    return run_sweep(plan, place, force=force, photographs=photographs, progress=progress)


def sweep_to_folder(
    scene: Scene | str | Path,
    folder: str | Path | None = None,
    *,
    progress: Report | None = None,
    page: PageOptions | None = None,
    quality: str = "normal",
    force: bool = False,
    **options: Any,
) -> tuple[Sweep, list[Path]]:
    """`sweep`, with all its files written; returns the sweep and the files.

    folder : None makes one beside, named after the scene.  page : how its pages look.
    options : exposure, light, width_px, and what varies.
    """
    if page is not None:
        page.checked()
    choices = {name: options.pop(name) for name in ("exposure", "light", "width_px") if name in options}
    read = as_scene(scene)
    plan = plan_sweep(read, options, samples=samples_of(quality), **choices)
    place = default_folder(plan) if folder is None else Path(folder)
    split = SWEEP_SHARE
    first = None if progress is None else (lambda share, words: progress(split * share, words))
    then = None if progress is None else (lambda share, words: progress(split + (1 - split) * share, words))
    require_memory(plan.scene, plan.width_px, plan.samples, len(plan.steps))
    with folder_for(plan, place):
        done = run_sweep(plan, place, force=force, progress=first)
        try:
            return done, done.save(place, then, page)
        except KeyboardInterrupt:
            raise SweepStopped(len(done), len(done), place) from None


def default_folder(plan: SweepPlan) -> Path:
    """out-SCENE; out-SCENE-clock, out-SCENE-angle-by-f-number and so on when not the angle alone varies."""
    stem = plan.scene.path.stem if plan.scene.path is not None else "scene"
    along = "-by-".join(plan.names).replace("_", "-")
    return Path(f"out-{stem}" if along == "angle" else f"out-{stem}-{along}")


def run_sweep(
    plan: SweepPlan,
    folder: Path | None = None,
    *,
    force: bool = False,
    photographs: bool = False,
    progress: Report | None = None,
) -> Sweep:
    """Make the frames of a plan that are not kept already; parameters as for `sweep`."""
    require_memory(plan.scene, plan.width_px, plan.samples, len(plan.steps))
    with nullcontext() if folder is None else folder_for(plan, folder):
        return _run(plan, folder, force, photographs, progress)


def _run(
    plan: SweepPlan, folder: Path | None, force: bool, photographs: bool, progress: Report | None
) -> Sweep:
    trials = plan.scene.exposure.auto and not plan.own_exposure
    job = JobProgress(progress, whole_weight(plan, trials))
    work = Work(plan, folder, force, photographs, job)
    with work.stopping():
        gain = work.common_gain_stops() if trials else 0.0
        work.make_all(gain)
    return Sweep(plan, work.frames, gain, len(work.found))
