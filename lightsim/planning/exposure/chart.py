"""The chart of `lightsim exposure`: finer steps between the table's f-numbers."""

from __future__ import annotations

from math import isfinite, log2
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from lightsim.optics.lens_figures import about_second_lens
from lightsim.optics.marks import F_NUMBERS
from lightsim.planning.equivalents import ISO_RANGE, LEAST_POWER, NEAREST_MM, SERIES, SHUTTER_RANGE_S
from lightsim.planning.exposure.sentences import PARTS_IN_WORDS, THINGS
from lightsim.report.chart.exposure_chart import StopCurve, stop_chart_page
from lightsim.report.drawing.page_files import write_pages
from lightsim.report.page_options import PageOptions, options_for

if TYPE_CHECKING:
    from lightsim.planning.exposure.exposure import Exposure, StopRow

STEPS = 61
_REACH = {"power": (LEAST_POWER, 1.0), "iso": ISO_RANGE, "shutter": SHUTTER_RANGE_S}


def save_chart(path: str | Path, found: Exposure, options: PageOptions | None = None) -> list[Path]:
    """Write the chart as a page (.png, .jpg, .pdf, .svg); returns the files."""
    title = f"{found.plan.scene.shown_title}: exposure and sharpness"
    page = stop_chart_page(curve_of(found), title, _note(found), options_for(options, found.plan.stage))
    return write_pages(path, [page])


def _note(found: Exposure) -> str:
    aim = "The petal is brought to the mid-tone" if found.to_mid_tone else _held(found)
    return (
        f"{aim} by {THINGS[found.solved]}. Wanted depth: {found.plan.depth_from}; blur is taken at its ends, "
        "the focus on its middle. Defocus and Airy disc (550 nm) add as squares. Frames: a focus stack "
        "over the wanted depth, neighbours sharing a fifth of their depth of field."
        + "".join(f" {words}" for words in about_second_lens(found.plan.train))
    )


def _held(found: Exposure) -> str:
    return f"{PARTS_IN_WORDS[found.held].capitalize()} is held"


def curve_of(found: Exposure) -> StopCurve:
    """The chart's numbers, at the table's f-numbers and finely between them."""
    low, high = found.rows[0].at.f_number, found.rows[-1].at.f_number
    rows = found.rows_at(np.geomspace(low, high, STEPS).tolist()) if high > low else found.rows
    plan = found.plan
    return StopCurve(
        f_numbers=[row.at.f_number for row in rows],
        ticks=[(row.at.f_number, row.label.removeprefix("f/")) for row in found.rows],
        needed_name=THINGS[found.solved],
        needed_stops=[_stops(row) for row in rows],
        needed_marks=_marks(found.solved),
        room_below_stops=_room_below(rows),
        reach_stops=_reach(found.solved),
        diffraction_um=[row.at.diffraction_um for row in rows],
        defocus_um=[row.at.defocus_um for row in rows],
        blur_um=[row.at.edge_blur_um for row in rows],
        pixel_um=1000.0 * plan.train.sensor_mm[0] / plan.train.sensor_px[0] / plan.train.magnification,
        depth_mm=[row.at.depth_of_field_mm for row in rows],
        wanted_mm=plan.depth_mm,
        best=found.best_f_number,
        best_mark=F_NUMBERS.nearest(found.best_f_number).label,
        own=plan.train.exact_f_number,
        frames=[(row.at.f_number, row.at.stack_frames) for row in found.rows],
    )


def _room_below(rows: tuple[StopRow, ...]) -> list[float] | None:
    below = [row.room_stops_below_flash for row in rows]
    return below if all(map(isfinite, below)) else None


def _stops(row: StopRow) -> float:
    return float("nan") if row.needed.value is None else log2(row.needed.value)


def _reach(name: str) -> tuple[float, float]:
    low, high = _REACH.get(name, (NEAREST_MM, float("inf")))
    return log2(low), log2(high)


def _marks(name: str) -> list[tuple[float, str]]:
    """Marks a stop apart along the axis of what is solved for; round lengths for a distance."""
    if name in SERIES:
        found = [(log2(mark.exact), mark.label) for mark in SERIES[name].full_stops()]
        return sorted(found)
    return [(log2(length), f"{length} mm") for length in (10, 20, 50, 100, 200, 500, 1000, 2000, 5000)]
