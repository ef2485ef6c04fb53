"""A chart of contrast and highlight against what a sweep varies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import log2
from typing import TYPE_CHECKING

from lightsim.measures.measure_records import FrameMeasures
from lightsim.report.chart.chart_page import SPREAD, ChartPage
from lightsim.report.chart.panels import (
    contrast_panel,
    grid_panels,
    groups_of,
    level_panel,
    level_stops,
    mark_unbuildable,
    place_panel,
    say_gaps,
    size_panel,
    x_axis,
)
from lightsim.report.drawing.sheet_of_paper import Sheet, width_mm
from lightsim.report.footnotes import focus_sentence, reason_for
from lightsim.report.frames import IN_STOPS, SheetFrame, Varied, checked_frames
from lightsim.report.page_options import PageOptions
from lightsim.report.sheet.caption_lines import first_reason
from lightsim.report.theme import SIZES, Theme, hex_colour
from lightsim.report.words import trade_bands

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_REASONS = 4

# Measures whose absence is noted under the chart.
_CHARTED = (
    "petal_contrast_stops",
    "highlight_long_mm_median",
    "highlight_short_mm_median",
    "highlight_place_share_median",
)


def chart_page(
    frames: Sequence[SheetFrame], title: str = "", about: str = "", options: PageOptions | None = None
) -> Sheet:
    """Contrast in stops, highlight's axes in mm and its place in the drop, against the varied quantity.

    Where settings of the exposure vary the petal's level takes the place of the last, and where two
    quantities vary there is a line for each value of the second.
    Bands carry the trade's names where the light's angle is varied. A measure that is missing leaves a gap,
    and its reason stands in it or under the chart. Raises PictureError where there is no frame.
    """
    shown = [_buildable(frame) for frame in checked_frames(frames)]
    options = PageOptions() if options is None else options
    groups = {name: _along_axis(group) for name, group in groups_of(shown).items()}
    xs, along, varied = next(iter(groups.values()))
    page = ChartPage.blank(title, about, _notes(shown), (1.0, 1.0, 1.0), options)
    x_axis(page.panels[2], xs, varied)
    if len(groups) > 1:
        ends = {n: g[0] for n, g in groups.items()}, {n: g[1] for n, g in groups.items()}
        grid_panels(page.panels, *ends, page.theme)
    else:
        _single_panels(page.panels, xs, along, varied[0], page.theme)
    places = [(x, each) for group in groups.values() for x, each in zip(group[0], group[1], strict=True)]
    unbuilt = sorted({x for x, each in places if each.not_buildable})
    for panel in page.panels if unbuilt else ():
        first = panel is page.panels[0]
        mark_unbuildable(panel, unbuilt, page.theme, "cannot be built" if first else SPREAD)
    page.dress()
    if varied[0].is_angle:
        _draw_bands(page)
    return page.sheet


def _buildable(frame: SheetFrame) -> SheetFrame:
    """The frame; without its numbers where the set cannot be built."""
    return replace(frame, measures=FrameMeasures()) if frame.not_buildable else frame


def _along_axis(frames: list[SheetFrame]) -> tuple[list[float], list[SheetFrame], list[Varied]]:
    """Places along the axis, and the frames and what they vary, in their order."""
    varied = [frame.varied[0] if frame.varied else _angle_of(frame) for frame in frames]
    places = x_places(varied)
    order = sorted(range(len(frames)), key=lambda index: places[index])
    return [places[i] for i in order], [frames[i] for i in order], [varied[i] for i in order]


def _single_panels(
    panels: list[Axes], xs: list[float], frames: list[SheetFrame], first: Varied, theme: Theme
) -> None:
    """The three panels where one quantity varies."""
    measures = [frame.measures for frame in frames]
    contrast_panel(panels[0], xs, measures, theme)
    size_panel(panels[1], xs, measures, theme)
    keys = [("petal_contrast_stops",), ("highlight_long_mm_median",), ("highlight_place_share_median",)]
    if first.unit in IN_STOPS:
        levels = [level_stops(frame) for frame in frames]
        level_panel(panels[2], xs, levels, [each.clipped_share or 0.0 for each in measures], theme)
    else:
        place_panel(panels[2], xs, measures, theme, first.is_angle)
    for panel, (key,) in zip(panels, keys, strict=True):
        if panel is not panels[2] or first.unit not in IN_STOPS:
            say_gaps(panel, xs, [_reason(frame, key) for frame in frames], theme)


def _reason(frame: SheetFrame, key: str) -> str | None:
    """Why a number is empty, in short; None where it is there."""
    if frame.not_buildable or getattr(frame.measures, key) is not None:
        return None
    return first_reason(reason_for(frame.measures.missing, key))


def _angle_of(frame: SheetFrame) -> Varied:
    return Varied("angle", 0.0 if frame.angle_deg is None else frame.angle_deg, "deg")


def x_places(varied: Sequence[Varied]) -> list[float]:
    """Where each frame stands along the axis: its value, words in their order.

    Settings that are marked in stops stand as far apart as they are in stops. Clock positions run on past
    12, so that 11, 12, 1 stand side by side.
    """
    if any(isinstance(each.value, str) for each in varied):
        return [float(index) for index in range(len(varied))]
    places = [float(each.value) for each in varied]
    if varied[0].unit in IN_STOPS and min(places) > 0.0:
        return [log2(place) for place in places]
    if varied[0].unit == "clock":
        for index in range(1, len(places)):
            while places[index] <= places[index - 1] - 6.0:
                places[index] += 12.0
    return places


def _draw_bands(page: ChartPage) -> None:
    """The trade's names of the light's angle, over bands that alternate."""
    low, high = page.panels[0].get_xlim()
    left, top, right, _ = page.boxes[0]
    points, tint = SIZES["caption"], hex_colour(page.theme.tint)
    for number, (start, end, name) in enumerate(trade_bands(max(low, 0.0), min(high, 360.0))):
        for panel in page.panels if number % 2 else ():
            panel.axvspan(start, end, color=tint, linewidth=0, zorder=0)
        if (end - start) / (high - low) * (right - left) > width_mm(name, points) + 2.0:
            middle = left + (0.5 * (start + end) - low) / (high - low) * (right - left)
            page.sheet.text(middle, top - 1.8, name, points, page.theme.quiet, anchor="middle")


def _notes(frames: list[SheetFrame]) -> list[str]:
    """Why there are gaps, each reason with the frames that it concerns; frames that cannot be built."""
    reasons: dict[str, list[str]] = {}
    for frame in frames:
        name = " ".join(each.words for each in frame.varied) or frame.heading
        if frame.not_buildable:
            reasons.setdefault(f"cannot be built, {frame.not_buildable}", []).append(name)
        for key in _CHARTED:
            reason = _reason(frame, key)
            if reason is not None and name not in reasons.setdefault(reason, []):
                reasons[reason].append(name)
    lines = [f"{', '.join(names)}: {reason}." for reason, names in reasons.items()]
    if len(lines) > MOST_REASONS:
        lines = [*lines[:MOST_REASONS], "The other reasons stand in the table."]
    return [" ".join([focus_sentence([frame.measures for frame in frames]), *lines])]
