"""The panels of a chart: what each of them draws, and their look."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import ceil, isnan, nan
from typing import TYPE_CHECKING

import numpy as np

from lightsim.measures.records import FrameMeasures
from lightsim.optics.highlight import highlight_place
from lightsim.report.drawing.grey_card import (
    ACCENT,
    INK,
    LABEL,
    PLATE,
    PLATE_LABEL,
    PLATE_LINE,
    PLATE_TEXT,
    RGB8,
    hex_colour,
)
from lightsim.report.frames import Varied
from lightsim.report.words import folded_angle, percent

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_NAMED_TICKS = 16
_ANGLE_STEPS = (5, 10, 15, 30, 45, 90)
_LEAST_TICK_SHARE = 0.045  # of the axis; nearer to one another, named ticks would run together


def _values(measures: Sequence[FrameMeasures], key: str) -> list[float]:
    """A measure over the frames, NaN where it is empty."""
    return [nan if getattr(each, key) is None else float(getattr(each, key)) for each in measures]


def contrast_panel(panel: Axes, xs: list[float], measures: Sequence[FrameMeasures]) -> None:
    """Contrast in stops, as a ratio at the right."""
    draw_line(panel, xs, _values(measures, "petal_contrast_stops"), ACCENT, "petal contrast")
    depths = _values(measures, "shadow_depth_stops")
    draw_line(panel, xs, depths, PLATE_LABEL, "shadow depth", style="--")
    panel.set_ylabel("contrast (stops)")
    low, top = roomy(panel)
    panel.axhline(0.0, color=hex_colour(PLATE_LINE), linewidth=1.2, zorder=1)
    ratios = panel.secondary_yaxis("right")
    step = 1 if top - low <= 7.0 else 2
    stops = range(ceil(low / step) * step, int(top) + 1, step)
    panel.set_yticks(list(stops))
    ratios.set_yticks(list(stops), [_ratio(stop) for stop in stops])
    ratios.tick_params(colors=hex_colour(LABEL), labelsize=12, length=0)
    ratios.spines["right"].set_visible(False)


def _ratio(stop: int) -> str:
    """A whole number of stops as a ratio: 3 is 8 : 1, -1 is 1 : 2."""
    return f"{2**stop} : 1" if stop >= 0 else f"1 : {2**-stop}"


def size_panel(panel: Axes, xs: list[float], measures: Sequence[FrameMeasures]) -> None:
    """The highlight's axes, with their spread over the drops."""
    for key, colour, label in (
        ("highlight_long_mm", ACCENT, "long axis"),
        ("highlight_short_mm", PLATE_TEXT, "short axis"),
    ):
        middle = _values(measures, f"{key}_median")
        draw_line(panel, xs, middle, colour, label)
        _spread(panel, xs, middle, _values(measures, f"{key}_spread"), colour)
    panel.set_ylabel("highlight (mm)")
    roomy(panel)


def roomy(panel: Axes) -> tuple[float, float]:
    """Let the panel show nought and all its values, with room above and below them; returns its limits."""
    found = panel.dataLim.y0 <= panel.dataLim.y1  # not so where nothing is drawn
    high = max(float(panel.dataLim.y1), 0.0) if found else 0.0
    low = min(float(panel.dataLim.y0), 0.0) if found else 0.0
    room = 0.15 * (high - low) or 1.0
    limits = (low - room if low < 0.0 else 0.0, high + room)
    panel.set_ylim(*limits)
    return limits


def place_panel(panel: Axes, xs: list[float], measures: Sequence[FrameMeasures], against_angle: bool) -> None:
    """Place of the highlight; against the light's angle also where a small distant light's would lie."""
    if against_angle:
        fine = np.linspace(xs[0], xs[-1], 91)
        where = highlight_place([folded_angle(x) for x in fine])
        label = "small distant light: sin(angle / 2)"
        panel.plot(fine, where, ":", color=hex_colour(PLATE_LABEL), label=label, linewidth=2.0)
    middle = _values(measures, "highlight_place_share_median")
    draw_line(panel, xs, middle, ACCENT, "median over the drops")
    _spread(panel, xs, middle, _values(measures, "highlight_place_share_spread"), ACCENT)
    panel.set_ylabel("its place (1 is the rim)")
    panel.set_ylim(0.0, 1.1)


def level_panel(panel: Axes, xs: list[float], levels: list[float], clipped: list[float]) -> None:
    """The petal's level from mid-tone in stops, with the clipped part of the picture in figures."""
    draw_line(panel, xs, levels, ACCENT, "petal from mid-tone; figures: clipped part")
    panel.set_ylabel("petal (stops)")
    roomy(panel)
    panel.axhline(0.0, color=hex_colour(PLATE_LINE), linewidth=1.2, zorder=1)
    if any(share > 0.0 for share in clipped):
        low, high = panel.get_ylim()
        for x, level, share in zip(xs, levels, clipped, strict=True):
            if share > 0.0 and not isnan(level):
                inward = -14 if level > 0.5 * (low + high) else 8
                panel.annotate(
                    percent(share),
                    (x, level),
                    xytext=(0, inward),
                    textcoords="offset points",
                    ha="center",
                    color=hex_colour(PLATE_TEXT),
                    fontsize=10,
                )


def draw_line(
    panel: Axes, xs: list[float], ys: list[float], colour: RGB8, label: str, style: str = "-"
) -> None:
    """A line through what there is; nothing at all where every value is empty."""
    if not all(isnan(y) for y in ys):
        panel.plot(
            xs, ys, style, color=hex_colour(colour), label=label, linewidth=2.2, marker="o", markersize=6
        )


def _spread(panel: Axes, xs: list[float], ys: list[float], half: list[float], colour: RGB8) -> None:
    """The spread over the drops as a band about the median."""
    if all(isnan(each) for each in half):
        return
    low = [max(y - each, 0.0) for y, each in zip(ys, half, strict=True)]
    high = [y + each for y, each in zip(ys, half, strict=True)]
    panel.fill_between(xs, low, high, color=hex_colour(colour), alpha=0.16, linewidth=0)


def dress(panel: Axes) -> None:
    """Our own look: a dark plate, quiet grid, dark names on the grey page."""
    panel.set_facecolor(hex_colour(PLATE))
    panel.grid(color=hex_colour(PLATE_LINE), alpha=0.45, linewidth=0.8)
    panel.set_axisbelow(True)
    panel.tick_params(colors=hex_colour(LABEL), labelsize=12, length=0)
    for label in (panel.yaxis.label, panel.xaxis.label):
        label.set(color=hex_colour(INK), fontsize=13)
    for spine in panel.spines.values():
        spine.set_visible(False)
    handles, labels = panel.get_legend_handles_labels()
    if handles:
        panel.legend(
            handles,
            labels,
            fontsize=11,
            labelcolor=hex_colour(PLATE_TEXT),
            facecolor=hex_colour(PLATE),
            edgecolor="none",
            framealpha=0.8,
        )
    elif not any(line.get_marker() == "o" for line in panel.lines):
        panel.text(0.5, 0.5, "–", transform=panel.transAxes, color=hex_colour(PLATE_TEXT), fontsize=14)


def x_axis(panel: Axes, xs: list[float], varied: list[Varied]) -> None:
    """Name, limits and ticks of the axis that the panels share."""
    panel.set_xlabel(varied[0].axis)
    margin = 0.03 * (xs[-1] - xs[0]) or 1.0
    panel.set_xlim(xs[0] - margin, xs[-1] + margin)
    if len(xs) <= MOST_NAMED_TICKS and _well_apart(xs):
        panel.set_xticks(xs, [each.tick for each in varied])
    elif varied[0].is_angle:
        steps = (step for step in _ANGLE_STEPS if (xs[-1] - xs[0]) / step <= MOST_NAMED_TICKS)
        step = next(steps, _ANGLE_STEPS[-1])
        panel.set_xticks(range(ceil(xs[0] / step) * step, int(xs[-1]) + 1, step))


def _well_apart(xs: list[float]) -> bool:
    """Whether the values can all be named along the axis."""
    gaps = [b - a for a, b in pairwise(xs)]
    return not gaps or min(gaps) >= _LEAST_TICK_SHARE * (xs[-1] - xs[0])
