"""One large photograph, traced and exposed strip by strip, in memory that hardly grows with it.

Measures, the camera's meter and automatic exposure come from the picture averaged down in linear light.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lightsim.measures import FrameMeasures
from lightsim.photograph.strips import Mixture, Reduction
from lightsim.photograph.tone import clipped_bits, to_srgb8
from lightsim.picture import Layers
from lightsim.report.frames import ReferenceDrop
from lightsim.runs.frame import CHANNELS, Frame, make_frame
from lightsim.runs.kept_strips import picture_strips
from lightsim.runs.layer_store import open_store
from lightsim.runs.photographing import exposure_settings_of
from lightsim.runs.progress import JobProgress, PartProgress, Report
from lightsim.scene.records import Scene
from lightsim.scene.stage import Stage

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
