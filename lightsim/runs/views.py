"""Layers of several scenes, tracing only what is neither known from the scene before nor kept on disk."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial
from types import TracebackType
from typing import Any

from lightsim.picture import Layer, Layers, Maps
from lightsim.runs.digest import code_version, digest
from lightsim.runs.job import JobProgress, PartProgress, Worker
from lightsim.runs.layer_encoding import Arrays, decode_maps, maps_arrays, round_to_halves
from lightsim.runs.layer_store import LayerStore, open_store
from lightsim.runs.photographing import common_gain_stops
from lightsim.scene.build import build
from lightsim.scene.records import Scene
from lightsim.scene.stage import PetalMesh, Stage, StagedLight
from lightsim.tracer.layer_keys import AMBIENT, light_key, view_key

TRACED_ROOMS = ("tracer", "optics", "scene")
KEY_LENGTH = 24  # of a digest in hexadecimal: 96 bits
UNITS = {"flash": "cd s", "continuous": "cd"}


@dataclass(frozen=True)
class WantedLayers:
    """What a picture needs: the keys of its maps and, by the light's name, of its layers.

    scene : name of its file.  width_px, samples : of the picture.  mm_per_px : size of a pixel.
    """

    scene: str
    stage: Stage
    width_px: int
    samples: int
    maps: str
    layers: dict[str, str]

    @property
    def mm_per_px(self) -> float:
        """Size of one pixel at the plane of sharp focus."""
        return self.stage.camera.field_width_mm / self.width_px

    def light(self, name: str) -> StagedLight | None:
        """The light of a layer; None for the dome."""
        return next((light for light in self.stage.lights if light.name == name), None)

    def layer(self, name: str, arrays: Arrays) -> Layer:
        """A layer of these arrays, under the light's name of now."""
        light = self.light(name)
        return Layer(name, "lx" if light is None else UNITS[light.kind], **arrays)

    def about(self, what: str, height_px: int) -> dict[str, Any]:
        """What a file of the store says of itself."""
        pixels = [self.width_px, height_px]
        return {"scene": self.scene, "samples": self.samples, "pixels": pixels, "what": what}


def wanted_layers(scene: Scene, width_px: int | None, samples: int) -> WantedLayers:
    """What a picture of the scene needs. width_px : None takes the scene's."""
    stage = build(scene)
    width = scene.camera.width_px if width_px is None else width_px
    seen = digest(_petal_digest(stage.petal), view_key(stage, width, samples), code_version(TRACED_ROOMS))
    start = seen[:KEY_LENGTH]
    lights: list[tuple[str, StagedLight | None]] = [(light.name, light) for light in stage.lights]
    layers = {
        name: f"{start}-{digest(light_key(stage, light))[:KEY_LENGTH]}"
        for name, light in [*lights, (AMBIENT, None)]
    }
    name = "scene" if scene.path is None else scene.path.stem
    return WantedLayers(name, stage, width, samples, f"{start}-maps", layers)


# The last petal and its digest: `build` gives the same arrays as long as the petal is the same.
_known: list[tuple[PetalMesh, str]] = []


def _petal_digest(petal: PetalMesh) -> str:
    if not _known or _known[0][0] is not petal:
        _known[:] = [(petal, digest(petal))]
    return _known[0][1]


# Weights in the progress, about as long as the work takes: finding the camera's paths, tracing one frame's
# light, reading its layers from disk.
PATHS_WEIGHT, FRAME_WEIGHT, READ_WEIGHT = 3.0, 1.0, 0.1
# Automatic exposure over several frames is found on small pictures of them all, before the frames themselves.
TRIAL_WIDTH_PX, TRIAL_SAMPLES, TRIAL_WEIGHT = 192, 4, 0.05


class Views:
    """Traces scenes one after the other; used in a `with` block, at whose end all is on disk.

    The camera's paths are found anew only where the set or the camera is another; a light is traced anew only
    where it stands elsewhere or is of another size; and nothing is traced whose layers are kept on disk.

    width_px : None takes each scene's.  samples : per pixel.
    store : where layers are kept; None keeps none.  reads : False traces all anew, and keeps it.
    """

    def __init__(
        self, width_px: int | None, samples: int, store: LayerStore | None = None, *, reads: bool = True
    ):
        self.width_px, self.samples = width_px, samples
        self.store, self.reads = store, reads
        self._view: Any = None
        self._view_maps = ""
        self._maps: tuple[str, Maps] | None = None
        self._layers: dict[str, Layer] = {}
        self._writer = Worker()

    def __enter__(self) -> Views:
        self._writer.__enter__()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._writer.__exit__(kind, error, trace)

    def knows(self, scene: Scene) -> bool:
        """Whether this scene's layers are there, in memory or on disk."""
        return self._is_known(self._wanted(scene))

    def weight(self, scene: Scene) -> float:
        """How long this scene's layers will take, for a progress bar."""
        wanted = self._wanted(scene)
        if self._is_known(wanted):
            return READ_WEIGHT
        return FRAME_WEIGHT + (PATHS_WEIGHT if wanted.maps != self._view_maps else 0.0)

    def trace(self, scene: Scene, progress: PartProgress) -> Layers:
        """Layers of a scene."""
        wanted = self._wanted(scene)
        maps = self._known_maps(wanted)
        known = self._known_layers(wanted) if maps is not None else {}
        if maps is None or len(known) < len(wanted.layers):
            maps, known = self._traced(scene, wanted, known, progress)
        self._maps = (wanted.maps, maps)
        self._layers = {wanted.layers[name]: layer for name, layer in known.items()}
        return Layers({name: known[name] for name in wanted.layers}, maps, wanted.mm_per_px)

    def _wanted(self, scene: Scene) -> WantedLayers:
        return wanted_layers(scene, self.width_px, self.samples)

    def _traced(
        self, scene: Scene, wanted: WantedLayers, known: dict[str, Layer], progress: PartProgress
    ) -> tuple[Maps, dict[str, Layer]]:
        before = 0.0
        if wanted.maps != self._view_maps:
            before = PATHS_WEIGHT / (PATHS_WEIGHT + FRAME_WEIGHT)
            self._find_paths(scene, wanted, lambda share: progress(before * share))
        for name, layer in known.items():
            self._view.know(wanted.stage, wanted.light(name), layer)
        traced = self._view.trace(scene, progress=lambda share: progress(before + (1 - before) * share))
        if self.store is None:
            return traced.maps, dict(traced.by_light)
        new = {name: round_to_halves(traced.by_light[name]) for name in wanted.layers if name not in known}
        self._writer.give(partial(self._keep, self.store, wanted, traced.maps, new))
        return traced.maps, {**known, **new}

    def _find_paths(self, scene: Scene, wanted: WantedLayers, progress: PartProgress) -> None:
        from lightsim.tracer import View

        self._view = None  # one view at a time is large enough
        self._view = View(scene, width_px=self.width_px, samples=self.samples, progress=progress)
        self._view_maps = wanted.maps

    def _is_known(self, wanted: WantedLayers) -> bool:
        keys = [key for key in wanted.layers.values() if key not in self._layers]
        if self._maps is None or self._maps[0] != wanted.maps:
            keys.append(wanted.maps)
        return all(self.store is not None and self.reads and self.store.holds(key) for key in keys)

    def _known_maps(self, wanted: WantedLayers) -> Maps | None:
        if self._maps is not None and self._maps[0] == wanted.maps:
            return self._maps[1]
        if self.store is None or not self.reads:
            return None
        arrays = self.store.load(wanted.maps)
        return None if arrays is None else decode_maps(arrays)

    def _known_layers(self, wanted: WantedLayers) -> dict[str, Layer]:
        """The layers that are in memory or on disk, each under its light's name."""
        found = {}
        for name, key in wanted.layers.items():
            layer = self._layers.get(key)
            if layer is not None:
                found[name] = layer if layer.light == name else wanted.layer(name, layer.arrays())
            elif self.store is not None and self.reads:
                arrays = self.store.load(key)
                if arrays is not None:
                    found[name] = wanted.layer(name, arrays)
        return found

    def _keep(self, store: LayerStore, wanted: WantedLayers, maps: Maps, new: dict[str, Layer]) -> None:
        """Write the new layers, and the maps where they are not there."""
        height = maps.drop_index.shape[0]
        if not (self.reads and store.holds(wanted.maps)):
            store.save(wanted.maps, maps_arrays(maps), wanted.about("maps", height), halves=False)
        for name, layer in new.items():
            store.save(wanted.layers[name], layer.arrays(), wanted.about(name, height), halves=True)


def trial_gain_stops(scenes: Iterable[Scene], job: JobProgress, *, reads: bool = True) -> float:
    """One automatic exposure for all scenes, found on small pictures of them; reads : as for `Views`."""
    with Views(TRIAL_WIDTH_PX, TRIAL_SAMPLES, open_store(), reads=reads) as views:
        return common_gain_stops(
            (scene, views.trace(scene, job.part(TRIAL_WEIGHT, "finding the common exposure")))
            for scene in scenes
        )
