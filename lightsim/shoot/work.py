"""A sweep under way: the camera's paths once, then each frame, kept as soon as it is done."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from lightsim.scene.build import build
from lightsim.shoot.frame import Frame, make_frame
from lightsim.shoot.kept import KeptFrames
from lightsim.shoot.meter import Meter, PartProgress
from lightsim.shoot.plan import SweepPlan
from lightsim.shoot.take import TRIAL_SAMPLES, TRIAL_WIDTH_PX, common_gain_stops, petal_mean

# Weights of the parts of a sweep in its progress: the camera's paths, one frame, a small trial of a frame.
PATHS_WEIGHT = 3.0
FRAME_WEIGHT = 1.0
TRIAL_WEIGHT = 0.05


class SweepStopped(KeyboardInterrupt):
    """A sweep was interrupted; the frames done so far are kept.

    done, whole : frames that are there and that are wanted.
    folder : where they are, None when only in memory.
    """

    def __init__(self, done: int, whole: int, folder: Path | None):
        super().__init__(f"stopped after {done} of {whole} frames")
        self.done, self.whole, self.folder = done, whole, folder


class Work:
    """A sweep under way."""

    def __init__(self, plan: SweepPlan, folder: Path | None, force: bool, photographs: bool, meter: Meter):
        self.plan, self.folder, self.force = plan, folder, force
        self.photographs, self.meter = photographs, meter
        self.frames: list[Frame] = []
        self.found: Mapping[float, Frame] = {}

    @property
    def ready(self) -> int:
        """How many frames are there, made now or kept from before."""
        return len(self.found.keys() | {frame.value for frame in self.frames})

    @contextmanager
    def stopping(self) -> Iterator[None]:
        """An interruption says how far the sweep had come."""
        try:
            yield
        except KeyboardInterrupt:
            raise SweepStopped(self.ready, len(self.plan.values), self.folder) from None

    def common_gain_stops(self) -> float:
        """The one automatic exposure for all frames, found on small pictures of them."""
        from lightsim.trace import View

        first = self.plan.scene_at(self.plan.values[0])
        view = View(first, width_px=TRIAL_WIDTH_PX, samples=TRIAL_SAMPLES)
        means = []
        for value in self.plan.values:
            part = self.meter.part(TRIAL_WEIGHT, "finding the common exposure")
            scene = self.plan.scene_at(value)
            means.append(petal_mean(view.trace(scene, progress=part), scene, build(scene)))
        return round(common_gain_stops(means), 6)

    def make_all(self, gain_stops: float) -> None:
        """All frames, in order: those kept from before, and those made now."""
        family = self.plan.family(gain_stops) if self.folder is not None else ""
        kept = None if self.folder is None else KeptFrames(self.folder / "frames", family)
        self.found = self._kept_frames(kept)
        if kept is not None:
            kept.clear_stale(self.plan.quantity.name)
        view = self._view()
        for value in self.plan.values:
            part = self.meter.part(FRAME_WEIGHT, f"{self.plan.quantity.label} {value:g}")
            frame = self.found.get(value)
            if frame is None:
                frame = self._make(view, value, gain_stops, part)
                if kept is not None:
                    kept.save(self.plan.stem(value), self.plan.frame_digest(value, family), frame)
            self.frames.append(frame)
            part(1.0)

    def _kept_frames(self, kept: KeptFrames | None) -> Mapping[float, Frame]:
        if kept is None or self.force or self.photographs:
            return {}
        found = {}
        for value in self.plan.values:
            digest = self.plan.frame_digest(value, kept.family)
            frame = kept.load(self.plan.stem(value), digest, self.plan.light_at(value))
            if frame is not None:
                found[value] = frame
        return found

    def _view(self) -> Any:
        """The camera's paths, where any frame is still to be made."""
        part = self.meter.part(PATHS_WEIGHT, "following the camera's view")
        if len(self.found) == len(self.plan.values):
            return None
        from lightsim.trace import View

        first = self.plan.scene_at(self.plan.values[0])
        return View(first, width_px=self.plan.width_px, samples=self.plan.samples, progress=part)

    def _make(self, view: Any, value: float, gain_stops: float, part: PartProgress) -> Frame:
        scene = self.plan.scene_at(value)
        layers = view.trace(scene, progress=part)
        return make_frame(
            layers,
            scene,
            build(scene),
            light=self.plan.light_name,
            value=value,
            gain_stops=gain_stops,
            auto=self.plan.own_exposure,
            with_photograph=self.photographs,
        )
