"""One large photograph, traced and exposed strip by strip, in memory that hardly grows with it.

Strips are read from disk where they are kept, traced and kept where they are not.
Measures, the camera's meter and automatic exposure come from the picture averaged down in linear light.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.measures import FrameMeasures
from lightsim.photograph.strips import Mixture, Reduction
from lightsim.photograph.tone import clipped_bits, to_srgb8
from lightsim.picture import Layers
from lightsim.report.frames import ReferenceDrop
from lightsim.runs.digest import digest
from lightsim.runs.frame import CHANNELS, Frame, make_frame
from lightsim.runs.job import JobProgress, PartProgress, Report, Worker
from lightsim.runs.layer_encoding import decode_maps, maps_arrays, round_to_halves
from lightsim.runs.layer_store import LayerStore, open_store
from lightsim.runs.photographing import exposure_settings_of
from lightsim.runs.views import KEY_LENGTH, WantedLayers, wanted_layers
from lightsim.scene.records import Scene
from lightsim.scene.stage import Stage

if TYPE_CHECKING:
    from lightsim.tracer.bands import Strip

MEASURED_PIXELS = 1_500_000  # a larger picture is averaged down to be measured
LARGEST_SIDE = 16  # of the squares averaged over: a block of rows has no fewer rows
TRACING, DEVELOPING = 20.0, 1.0  # weights of the parts in the progress


@dataclass(frozen=True)
class LargePicture:
    """A large photograph, shown and measured.

    frame : its image whole; its measures and its linear photograph are of the averaged picture, with places
    and areas in pixels of the whole.
    layers : averaged.
    side : of the squares of pixels averaged over.
    over : (h, w) uint8, a bit for each channel that the sensor clips: 1 red, 2 green, 4 blue.
    """

    frame: Frame
    layers: Layers
    side: int
    over: NDArray[np.uint8]


def averaged_side(height: int, width: int) -> int:
    """Side of the squares of pixels that a picture is averaged over before it is measured: a power of two."""
    side = 1
    while side < LARGEST_SIDE and height * width > MEASURED_PIXELS * side * side:
        side *= 2
    return side


def large_picture(
    scene: Scene,
    stage: Stage,
    *,
    light: str | None = None,
    width_px: int | None = None,
    samples: int = 16,
    progress: Report | None = None,
) -> LargePicture:
    """Trace, expose and measure one photograph strip by strip; parameters as for `preview`."""
    job = JobProgress(progress, TRACING + DEVELOPING)
    part = job.part(TRACING, "tracing the light, strip by strip")
    mixture, layers, side = _mixed(scene, stage, light, width_px, samples, part)
    part = job.part(DEVELOPING, "exposing, strip by strip")
    frame = make_frame(layers, scene, stage, light=light, with_photograph=True)
    height, width = mixture.shape
    image, over = np.empty((height, width, 3), np.uint8), np.empty((height, width), np.uint8)
    for first, photo in mixture.exposed(frame.notes.get("auto_stops", 0.0)):
        rows = slice(first, first + photo.shape[0])
        image[rows] = to_srgb8(photo)
        over[rows] = clipped_bits(photo)
        part(rows.stop / height)
    job.finish()
    return LargePicture(_whole_frame(frame, image, over, side, mixture.mm_per_px), layers, side, over)


def _mixed(
    scene: Scene, stage: Stage, light: str | None, width_px: int | None, samples: int, part: PartProgress
) -> tuple[Mixture, Layers, int]:
    """The lights of the whole picture mixed, and its layers averaged down by squares of that side."""
    mixture, reduction = None, None
    for strip in picture_strips(scene, width_px, samples, part, open_store()):
        if mixture is None or reduction is None:
            mixture = Mixture(exposure_settings_of(scene, stage, light, strip.layers.mm_per_px), strip.shape)
            reduction = Reduction(averaged_side(*strip.shape))
        mixture.add(strip.first_row, strip.layers)
        reduction.add(strip.layers)
    assert mixture is not None
    assert reduction is not None
    return mixture, reduction.layers(), reduction.side


def _whole_frame(
    frame: Frame, image: NDArray[np.uint8], over: NDArray[np.uint8], side: int, mm_per_px: float
) -> Frame:
    """The averaged picture's frame as the whole's: its image, clipping, and sizes in the whole's pixels."""
    shares = [np.count_nonzero(over & bit) / over.size for bit in (1, 2, 4)]
    clipped_share = np.count_nonzero(over) / over.size
    notes = {name: value * side if name.endswith("_px") else value for name, value in frame.notes.items()}
    notes |= {f"clipped_share_{name}": share for name, share in zip(CHANNELS, shares, strict=True)}
    notes["clipped_share"] = clipped_share
    return replace(
        frame,
        image=image,
        measures=replace(_in_pixels_of_whole(frame.measures, side), clipped_share=clipped_share),
        drop=None if frame.drop is None else _scaled(frame.drop, side),
        mm_per_px=mm_per_px,
        notes=notes,
    )


def _scaled(drop: ReferenceDrop, side: int) -> ReferenceDrop:
    column, row = drop.centre_px
    return ReferenceDrop((column * side, row * side), drop.radius_px * side)


def _in_pixels_of_whole(measures: FrameMeasures, side: int) -> FrameMeasures:
    drops = tuple(
        replace(
            drop,
            centre_px=(drop.centre_px[0] * side, drop.centre_px[1] * side),
            radius_px=drop.radius_px * side,
            highlight_area_px=None if drop.highlight_area_px is None else drop.highlight_area_px * side**2,
        )
        for drop in measures.drops
    )
    return replace(measures, drops=drops)


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
        store.save(_row_key(wanted.layers[name], first), layer.arrays(), about, halves=True)


def _row_key(key: str, first_row: int) -> str:
    return f"{key}-row-{first_row:05d}"


def _list_key(wanted: WantedLayers) -> str:
    return f"{wanted.maps}-{digest(sorted(wanted.layers.values()))[:KEY_LENGTH]}-rows"
