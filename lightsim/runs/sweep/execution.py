"""A sweep carried out: each frame with as little tracing as it needs, kept as soon as it is done.

While one frame's light is traced, a second thread exposes, measures and keeps the frame before.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from importlib import import_module
from pathlib import Path

from lightsim.picture import Layers
from lightsim.runs.frame import Frame, make_frame
from lightsim.runs.layer_store import open_store
from lightsim.runs.photographing import TRIAL_SAMPLES, TRIAL_WIDTH_PX, common_gain_stops, petal_mean
from lightsim.runs.progress import JobProgress
from lightsim.runs.sweep.frame_store import KeptFrames
from lightsim.runs.sweep.schedule import Step, SweepPlan
from lightsim.runs.views import FRAME_WEIGHT, PATHS_WEIGHT, Views
from lightsim.runs.worker import Worker
from lightsim.scene.build import build
from lightsim.scene.records import Scene

# Asked for by the first frame, and by the chart of a sweep that is written.
OF_FRAMES = ("scipy.fft", "scipy.special", "scipy.ndimage", "skimage.measure", "PIL.PngImagePlugin")
OF_CHART = ("matplotlib.figure", "matplotlib.backends.backend_agg")
TRIAL_WEIGHT = 0.05  # a small trial of a frame in the progress


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
        """The one automatic exposure for all frames, found on small pictures of them."""
        means = []
        with Views(TRIAL_WIDTH_PX, TRIAL_SAMPLES, open_store(), reads=not self.force) as views:
            for step in self.plan.traced_in_order():
                part = self.job.part(TRIAL_WEIGHT, "finding the common exposure")
                scene = self.plan.scene_at(step)
                means.append(petal_mean(views.trace(scene, part), scene, build(scene)))
        return round(common_gain_stops(means), 6)

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
