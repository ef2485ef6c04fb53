"""Layers of several scenes, tracing only what differs from one to the next."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from lightsim.picture import Layers
from lightsim.runs.progress import PartProgress
from lightsim.scene.records import Exposure, Scene

PATHS_WEIGHT = 3.0  # finding the camera's paths against tracing one frame's light, about
FRAME_WEIGHT = 1.0


class Views:
    """The camera's paths, found anew only where more than lights and exposure differs from the scene before;
    the layers, traced anew only where a light stands elsewhere or is of another size.

    width_px : None takes each scene's.  samples : per pixel.
    """

    def __init__(self, width_px: int | None, samples: int):
        self.width_px, self.samples = width_px, samples
        self._view: Any = None
        self._set: object = None
        self._lights: object = None
        self._layers: Layers | None = None

    def weight(self, scene: Scene) -> float:
        """How long this scene's layers will take, for a progress meter."""
        return FRAME_WEIGHT + (PATHS_WEIGHT if self._is_new(scene) else 0.0)

    def trace(self, scene: Scene, progress: PartProgress) -> Layers:
        """Layers of a scene."""
        before = 0.0
        if self._is_new(scene):
            before = PATHS_WEIGHT / (PATHS_WEIGHT + FRAME_WEIGHT)
            self._look(scene, lambda share: progress(before * share))
        lights = tuple(replace(light, power=1.0) for light in scene.lights)
        if self._layers is None or lights != self._lights:
            self._layers = self._view.trace(
                scene, progress=lambda share: progress(before + (1 - before) * share)
            )
            self._lights = lights
        return self._layers

    def _is_new(self, scene: Scene) -> bool:
        return self._view is None or _seen(scene) != self._set

    def _look(self, scene: Scene, progress: PartProgress) -> None:
        from lightsim.tracer import View

        self._view = self._layers = None  # one view at a time is large enough
        self._view = View(scene, width_px=self.width_px, samples=self.samples, progress=progress)
        self._set = _seen(scene)


def _seen(scene: Scene) -> Scene:
    """All that the camera's paths depend on."""
    return replace(scene, lights=(), exposure=Exposure(), about="", path=None)
