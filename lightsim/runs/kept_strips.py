"""Strips of a large picture, read from disk where they are kept, traced and kept where they are not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from lightsim.picture import Layers
from lightsim.runs.digest import digest
from lightsim.runs.layer_encoding import arrays_of, decode_maps, maps_arrays, round_to_halves
from lightsim.runs.layer_store import LayerStore
from lightsim.runs.progress import PartProgress
from lightsim.runs.wanted_layers import KEY_LENGTH, WantedLayers, wanted_layers
from lightsim.runs.worker import Worker
from lightsim.scene.records import Scene

if TYPE_CHECKING:
    from lightsim.tracer.bands import Strip


def picture_strips(
    scene: Scene, width_px: int | None, samples: int, progress: PartProgress, store: LayerStore | None
) -> Iterator[Strip]:
    """The layers of a scene from the top down, strip by strip; store : None keeps nothing."""
    from lightsim.tracer import trace_strips

    if store is None:
        yield from trace_strips(scene, width_px=width_px, samples=samples, progress=progress)
        return
    wanted = wanted_layers(scene, width_px, samples)
    done = 0
    for strip in _read(store, wanted):
        done = strip.first_row + strip.layers.shape[0]
        progress(done / strip.shape[0])
        yield strip
        if done == strip.shape[0]:
            return
    rows = []
    with Worker() as worker:
        for traced in trace_strips(scene, width_px=width_px, samples=samples, progress=progress):
            strip = _as_kept(traced)
            rows.append(strip.first_row)
            worker.give(partial(_keep, store, wanted, strip))
            if strip.first_row >= done:
                yield strip
        worker.wait()
        first_rows = {"first_rows": np.array(rows), "shape": np.array(strip.shape)}
        store.save(_list_key(wanted), first_rows, wanted.about("maps", strip.shape[0]), halves=False)


def _read(store: LayerStore, wanted: WantedLayers) -> Iterator[Strip]:
    """The strips that are kept, from the top down to the first one that is not."""
    from lightsim.tracer.bands import Strip

    listed = store.load(_list_key(wanted))
    if listed is None:
        return
    height, width = (int(side) for side in listed["shape"])
    for first in (int(row) for row in listed["first_rows"]):
        maps = store.load(_row_key(wanted.maps, first))
        layers = {name: store.load(_row_key(key, first)) for name, key in wanted.layers.items()}
        if maps is None or None in layers.values():
            return
        by_light = {name: wanted.layer(name, arrays) for name, arrays in layers.items() if arrays is not None}
        yield Strip(first, Layers(by_light, decode_maps(maps), wanted.mm_per_px), (height, width))


def _as_kept(strip: Strip) -> Strip:
    """The strip as it comes back from disk, so that a picture is the same whether traced or read."""
    by_light = {name: round_to_halves(layer) for name, layer in strip.layers.by_light.items()}
    return replace(strip, layers=replace(strip.layers, by_light=by_light))


def _keep(store: LayerStore, wanted: WantedLayers, strip: Strip) -> None:
    first, height = strip.first_row, strip.shape[0]
    about = wanted.about("maps", height)
    store.save(_row_key(wanted.maps, first), maps_arrays(strip.layers.maps), about, halves=False)
    for name, layer in strip.layers.by_light.items():
        about = wanted.about(name if first == 0 else "maps", height)  # a layer is counted once
        store.save(_row_key(wanted.layers[name], first), arrays_of(layer), about, halves=True)


def _row_key(key: str, first_row: int) -> str:
    return f"{key}-row-{first_row:05d}"


def _list_key(wanted: WantedLayers) -> str:
    return f"{wanted.maps}-{digest(sorted(wanted.layers.values()))[:KEY_LENGTH]}-rows"
