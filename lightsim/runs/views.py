"""Layers of several scenes, tracing only what is neither known from the scene before nor kept on disk."""

from __future__ import annotations

from functools import partial
from types import TracebackType
from typing import Any

from lightsim.picture import Layer, Layers, Maps
from lightsim.runs.layer_encoding import arrays_of, decode_maps, maps_arrays, round_to_halves
from lightsim.runs.layer_store import LayerStore
from lightsim.runs.progress import PartProgress
from lightsim.runs.wanted_layers import WantedLayers, wanted_layers
from lightsim.runs.worker import Worker
from lightsim.scene.records import Scene

# Weights in the progress, about as long as the work takes: finding the camera's paths, tracing one frame's
# light, reading its layers from disk.
PATHS_WEIGHT, FRAME_WEIGHT, READ_WEIGHT = 3.0, 1.0, 0.1


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
                found[name] = layer if layer.light == name else wanted.layer(name, arrays_of(layer))
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
            store.save(wanted.layers[name], arrays_of(layer), wanted.about(name, height), halves=True)
