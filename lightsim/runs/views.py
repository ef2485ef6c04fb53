"""Layers of several scenes, tracing only what is neither known from the scene before nor kept on disk."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial
from types import TracebackType
from typing import Any

from lightsim.picture import Layer, Layers, Maps
from lightsim.runs.digest import code_version, digest
from lightsim.runs.layer_encoding import arrays_of, layer_of, maps_arrays, maps_of, rounded
from lightsim.runs.layer_store import LayerStore
from lightsim.runs.progress import PartProgress
from lightsim.runs.worker import Worker
from lightsim.scene.build import build
from lightsim.scene.records import Scene
from lightsim.scene.stage import PetalMesh, Stage, StagedLight
from lightsim.tracer.layer_keys import AMBIENT, light_key, view_key

# Weights in the progress, about as long as the work takes: finding the camera's paths, tracing one frame's
# light, reading its layers from disk.
PATHS_WEIGHT, FRAME_WEIGHT, READ_WEIGHT = 3.0, 1.0, 0.1
TRACED_ROOMS = ("tracer", "optics", "scene")
KEY_LENGTH = 24  # of a digest in hexadecimal: 96 bits
UNITS = {"flash": "cd s", "continuous": "cd"}


@dataclass(frozen=True)
class Wanted:
    """A scene's layers by name, each with its key; and the key of its maps."""

    stage: Stage
    maps: str
    layers: dict[str, str]
    mm_per_px: float

    def light(self, name: str) -> StagedLight | None:
        """The light of a layer; None for the dome."""
        return next((light for light in self.stage.lights if light.name == name), None)


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
        self._petal: tuple[PetalMesh, str] | None = None
        self._writer = Worker()

    def __enter__(self) -> Views:
        self._writer.__enter__()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._writer.__exit__(kind, error, trace)

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

    def _traced(
        self, scene: Scene, wanted: Wanted, known: dict[str, Layer], progress: PartProgress
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
        new = [name for name in wanted.layers if name not in known]
        layers = {
            name: rounded(traced.by_light[name]) if name in new else known[name] for name in wanted.layers
        }
        self._writer.give(partial(self._keep, self.store, scene, wanted, traced.maps, layers, new))
        return traced.maps, layers

    def _find_paths(self, scene: Scene, wanted: Wanted, progress: PartProgress) -> None:
        from lightsim.tracer import View

        self._view = None  # one view at a time is large enough
        self._view = View(scene, width_px=self.width_px, samples=self.samples, progress=progress)
        self._view_maps = wanted.maps

    def _wanted(self, scene: Scene) -> Wanted:
        stage = build(scene)
        width = scene.camera.width_px if self.width_px is None else self.width_px
        seen = digest(
            self._petal_digest(stage.petal), view_key(stage, width, self.samples), code_version(TRACED_ROOMS)
        )[:KEY_LENGTH]
        lights: Iterable[tuple[str, StagedLight | None]] = [(light.name, light) for light in stage.lights]
        layers = {
            name: f"{seen}-{digest(light_key(stage, light))[:KEY_LENGTH]}"
            for name, light in [*lights, (AMBIENT, None)]
        }
        return Wanted(stage, f"{seen}-maps", layers, stage.camera.field_width_mm / width)

    def _petal_digest(self, petal: PetalMesh) -> str:
        if self._petal is None or self._petal[0] is not petal:
            self._petal = (petal, digest(petal))
        return self._petal[1]

    def _is_known(self, wanted: Wanted) -> bool:
        keys = [key for key in wanted.layers.values() if key not in self._layers]
        if self._maps is None or self._maps[0] != wanted.maps:
            keys.append(wanted.maps)
        return all(self.store is not None and self.reads and self.store.holds(key) for key in keys)

    def _known_maps(self, wanted: Wanted) -> Maps | None:
        if self._maps is not None and self._maps[0] == wanted.maps:
            return self._maps[1]
        if self.store is None or not self.reads:
            return None
        arrays = self.store.load(wanted.maps)
        return None if arrays is None else maps_of(arrays)

    def _known_layers(self, wanted: Wanted) -> dict[str, Layer]:
        """The layers that are in memory or on disk, each with its light's name."""
        found = {}
        for name, key in wanted.layers.items():
            light = wanted.light(name)
            unit = "lx" if light is None else UNITS[light.kind]
            layer = self._layers.get(key)
            if layer is not None:
                found[name] = layer if layer.light == name else layer_of(name, unit, arrays_of(layer))
            elif self.store is not None and self.reads:
                arrays = self.store.load(key)
                if arrays is not None:
                    found[name] = layer_of(name, unit, arrays)
        return found

    def _keep(
        self,
        store: LayerStore,
        scene: Scene,
        wanted: Wanted,
        maps: Maps,
        layers: dict[str, Layer],
        new: list[str],
    ) -> None:
        """Write the new layers, and the maps where they are not there."""
        about = {"scene": "scene" if scene.path is None else scene.path.stem, "samples": self.samples}
        about["pixels"] = list(reversed(maps.drop_index.shape))
        if not (self.reads and store.holds(wanted.maps)):
            store.save(wanted.maps, maps_arrays(maps), {**about, "what": "maps"}, halves=False)
        for name in new:
            store.save(wanted.layers[name], arrays_of(layers[name]), {**about, "what": name}, halves=True)


def open_store() -> LayerStore | None:
    """The user's store of layers; None where the limit is nought."""
    store = LayerStore()
    return store if store.limit > 0 else None
