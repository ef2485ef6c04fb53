"""Sweeping a light or a setting: one call from a scene and values to frames.

Each frame is made with as little tracing as it needs and kept as soon as it is done: while one frame's light
is traced, a second thread exposes, measures and keeps the frame before.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import Any

from lightsim.picture import Layers
from lightsim.report.page_options import PageOptions
from lightsim.runs.frame import Frame, make_frame
from lightsim.runs.job import JobProgress, Report, Worker
from lightsim.runs.layer_store import open_store
from lightsim.runs.limits import require_memory, samples_of
from lightsim.runs.sweep.result import Sweep
from lightsim.runs.sweep.save import KeptFrames, folder_for
from lightsim.runs.sweep.schedule import Step, SweepPlan, plan_sweep
from lightsim.runs.views import FRAME_WEIGHT, PATHS_WEIGHT, TRIAL_WEIGHT, Views, trial_gain_stops
from lightsim.scene.build import build
from lightsim.scene.file.read import as_scene
from lightsim.scene.records import Scene
from lightsim.scene.settings.value_list import Values

# Asked for by the first frame, and by the chart of a sweep that is written.
OF_FRAMES = ("scipy.fft", "scipy.special", "scipy.ndimage", "skimage.measure", "PIL.PngImagePlugin")
OF_CHART = ("matplotlib.figure", "matplotlib.backends.backend_agg")


class SweepStopped(KeyboardInterrupt):
    """A sweep was interrupted; the frames done so far are kept.

    done, whole : frames that are there and that are wanted.
    folder : where they are, None when only in memory.
    """

    def __init__(self, done: int, whole: int, folder: Path | None):
        super().__init__(f"stopped after {done} of {whole} frames")
        self.done, self.whole, self.folder = done, whole, folder


def whole_weight(plan: SweepPlan, trials: bool) -> float:
    """Weight of all that a sweep may have to do."""
    frames = len(plan.steps)
    return PATHS_WEIGHT * plan.views + FRAME_WEIGHT * frames + (TRIAL_WEIGHT * frames if trials else 0.0)


class Work:
    """A sweep that is being carried out."""

    def __init__(
        self, plan: SweepPlan, folder: Path | None, force: bool, photographs: bool, job: JobProgress
    ):
        self.plan, self.folder, self.force = plan, folder, force
        self.photographs, self.job = photographs, job
        self.made: dict[Step, Frame] = {}
        self.found: dict[Step, Frame] = {}

    @property
    def frames(self) -> tuple[Frame, ...]:
        """All frames in the order of the sheet."""
        there = {**self.found, **self.made}
        return tuple(there[step] for step in self.plan.steps)

    @contextmanager
    def stopping(self) -> Iterator[None]:
        """An interruption says how far the sweep had come."""
        try:
            yield
        except KeyboardInterrupt:
            done = len(self.found) + len(self.made)
            raise SweepStopped(done, len(self.plan.steps), self.folder) from None

    def common_gain_stops(self) -> float:
        """The one automatic exposure for all frames."""
        scenes = map(self.plan.scene_at, self.plan.traced_in_order())
        return round(trial_gain_stops(scenes, self.job, reads=not self.force), 6)

    def make_all(self, gain_stops: float) -> None:
        """All frames: those kept from before, and those made now."""
        family = self.plan.family(gain_stops) if self.folder is not None else ""
        kept = None if self.folder is None else KeptFrames(self.folder / "frames", family)
        self.found = self._kept_frames(kept)
        if kept is not None:
            kept.clear_stale(self.plan.stem_words)

        def finish(step: Step, scene: Scene, layers: Layers) -> None:
            frame = self._frame(step, scene, layers, gain_stops)
            if kept is not None:
                kept.save(self.plan.stem(step), self.plan.frame_digest(step, family), frame)
            self.made[step] = frame

        views = Views(self.plan.width_px, self.plan.samples, open_store(), reads=not self.force)
        with views, Worker(self._workers(views)) as worker:
            if len(self.found) < len(self.plan.steps):
                worker.give(partial(fetch, OF_FRAMES if kept is None else OF_FRAMES + OF_CHART))
            for step in self.plan.traced_in_order():
                if step in self.found:
                    self.job.part(FRAME_WEIGHT, self.plan.words(step))(1.0)
                    continue
                scene, layers = self._traced(views, step, worker)
                worker.give(partial(finish, step, scene, layers))
                del layers  # the worker's alone now
        self.job.finish()

    def _workers(self, views: Views) -> int:
        """Two where nothing is traced: the memory is there that the camera's paths take otherwise."""
        missing = (step for step in self.plan.steps if step not in self.found)
        return 2 if all(views.knows(self.plan.scene_at(step)) for step in missing) else 1

    def _kept_frames(self, kept: KeptFrames | None) -> dict[Step, Frame]:
        if kept is None or self.force or self.photographs:
            return {}
        found = {}
        for step in self.plan.steps:
            digest = self.plan.frame_digest(step, kept.family)
            frame = kept.load(self.plan.stem(step), digest, self.plan.light_at(step))
            if frame is not None:
                found[step] = frame
        return found

    def _traced(self, views: Views, step: Step, worker: Worker) -> tuple[Scene, Layers]:
        """A frame's scene and layers; stops at once where the frame before cannot be finished."""
        scene = self.plan.scene_at(step)
        part = self.job.part(views.weight(scene), self.plan.words(step))

        def progress(share: float) -> None:
            worker.check()
            part(share)

        layers = views.trace(scene, progress)
        part(1.0)
        return scene, layers

    def _frame(self, step: Step, scene: Scene, layers: Layers, gain_stops: float) -> Frame:
        return make_frame(
            layers,
            scene,
            build(scene),
            light=self.plan.light_name,
            values=step,
            gain_stops=gain_stops,
            auto=self.plan.own_exposure,
            with_photograph=self.photographs,
        )


def fetch(libraries: tuple[str, ...]) -> None:
    """Import what will be needed, about half a second in all, while the camera's paths are found."""
    for name in libraries:
        import_module(name)


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
    trials = plan.scene.exposure.auto and not plan.own_exposure
    job = JobProgress(progress, whole_weight(plan, trials))
    work = Work(plan, folder, force, photographs, job)
    with nullcontext() if folder is None else folder_for(plan, folder), work.stopping():
        gain = work.common_gain_stops() if trials else 0.0
        work.make_all(gain)
    return Sweep(plan, work.frames, gain, len(work.found))
