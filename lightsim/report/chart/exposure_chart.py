"""A chart over f-numbers: what the exposure takes, blur at the subject, depth of field."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, floor, log2, nan
from typing import TYPE_CHECKING, Any

from lightsim.report.chart.chart_page import SPREAD, ChartPage, Pen, annotate_words, draw_curve, font_of, pens
from lightsim.report.drawing.sheet_of_paper import HAIRLINE_MM, Sheet, width_mm
from lightsim.report.page_options import PageOptions
from lightsim.report.theme import POINT_MM, SIZES, Theme, hex_colour

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LEAST_TICK_STOPS = 0.6  # nearer to one another, f-numbers would run together
_MOST_ROOM_TICKS = 3  # in the third of a panel that the room light has


@dataclass(frozen=True)
class StopCurve:
    """Numbers for the chart, one of each for every f-number, in ascending order.

    ticks : exact f-number and its mark, those to be named along the axis.
    needed_stops : what the exposure takes, in stops; needed_marks : stops and marks to name along that axis.
    reach_stops : least and most that can be set.  needed_name : what it is.
    diffraction_um, defocus_um, blur_um : at the subject, the latter two at the ends of the wanted depth.
    pixel_um : one pixel of the sensor, at the subject.
    depth_mm : of field.  wanted_mm : depth that is to be sharp.
    best, own : exact f-numbers, the sharpest for that depth and the one in the file.  best_mark : its mark.
    """

    f_numbers: Sequence[float]
    ticks: Sequence[tuple[float, str]]
    needed_name: str
    needed_stops: Sequence[float]
    needed_marks: Sequence[tuple[float, str]]
    reach_stops: tuple[float, float]
    room_below_stops: Sequence[float] | None
    diffraction_um: Sequence[float]
    defocus_um: Sequence[float]
    blur_um: Sequence[float]
    pixel_um: float
    depth_mm: Sequence[float]
    wanted_mm: float
    best: float
    best_mark: str
    own: float
    frames: Sequence[tuple[float, int]]


def stop_chart_page(
    curve: StopCurve, title: str = "", note: str = "", options: PageOptions | None = None
) -> Sheet:
    """The chart on a page. note : what stands at the foot."""
    options = PageOptions() if options is None else options
    page = ChartPage.blank(title, "", [note] if note else [], (1.0, 1.25, 1.0), options)
    xs = [_stops(value) for value in curve.f_numbers]
    _f_number_axis(page.panels[2], xs, curve)
    _needed_panel(page.panels[0], xs, curve, page.theme)
    _blur_panel(page.panels[1], xs, curve, page.theme)
    _depth_panel(page.panels[2], xs, curve, page.theme)
    for panel in page.panels:
        look: dict[str, Any] = {"color": hex_colour(page.theme.accent), "linewidth": 0.25 / POINT_MM}
        panel.axvline(_stops(curve.best), linestyle=(0, (6.0, 4.0)), zorder=1, **look)
    page.dress()
    _name_best(page, curve)
    return page.sheet


def _name_best(page: ChartPage, curve: StopCurve) -> None:
    """The sharpest f-number over its line, kept over the panels."""
    words, points = f"sharpest for the depth: {curve.best_mark}", SIZES["caption"]
    left, top, right, _ = page.boxes[0]
    low, high = page.panels[0].get_xlim()
    x = left + (_stops(curve.best) - low) / (high - low) * (right - left)
    half = 0.5 * width_mm(words, points)
    x = min(max(x, left + half), right - half)
    page.sheet.text(x, top - 1.8, words, points, page.theme.accent, anchor="middle")


def _stops(f_number: float) -> float:
    return 2.0 * log2(f_number)


def _without_markers(pen: Pen) -> Pen:
    return replace(pen, marker="")


def _needed_panel(panel: Axes, xs: Sequence[float], curve: StopCurve, theme: Theme) -> None:
    """What the exposure takes, with what cannot be set shaded."""
    first, second, _ = map(_without_markers, pens(theme))
    low, high = curve.reach_stops
    bottom, top = min(curve.needed_stops), max(curve.needed_stops)
    bottom, top = min(bottom, top - 2.0) - 0.7, max(top, bottom + 2.0) + 0.7
    shade: dict[str, Any] = {"color": hex_colour(theme.tint), "linewidth": 0, "zorder": 0}
    draw_curve(panel, xs, curve.needed_stops, first, f"{curve.needed_name} for the same exposure")
    if high < top:
        panel.axhspan(high, top, label="out of reach", **shade)
    if low > bottom:
        panel.axhspan(bottom, low, label=SPREAD if high < top else "out of reach", **shade)
    named = [(stops, mark) for stops, mark in curve.needed_marks if bottom <= stops <= top]
    step = 1 if len(named) <= 8 else 2
    panel.set_yticks([stops for stops, _ in named[::step]], [mark for _, mark in named[::step]])
    panel.set_ylim(bottom, top)
    panel.set_ylabel(curve.needed_name)
    _own(panel, curve.needed_stops, curve, theme)
    if curve.room_below_stops is not None:
        _room_line(panel, xs, curve.room_below_stops, second, theme)


def _room_line(panel: Axes, xs: Sequence[float], below: Sequence[float], pen: Pen, theme: Theme) -> None:
    """The room light's part below the flash's, against an axis of its own at the right."""
    other = panel.twinx()
    other.patch.set_alpha(0.0)
    draw_curve(other, xs, below, pen)
    draw_curve(panel, [nan, 0.0], [0.0, nan], pen, "room light, stops below the flash (right)")
    span = max(max(below) - min(below), 1.0)
    other.set_ylim(min(below) - 2.2 * span, max(below) + 0.15 * span)  # in the upper part, off the other line
    ticks = range(ceil(min(below)), int(max(below)) + 1)
    other.set_yticks(ticks[:: max(1, ceil(len(ticks) / _MOST_ROOM_TICKS))])
    other.tick_params(length=0, labelcolor=hex_colour(theme.quiet), pad=2)
    for label in other.get_yticklabels():
        label.set_fontproperties(font_of(SIZES["smallest"]))
    for spine in other.spines.values():
        spine.set_visible(False)


def _blur_panel(panel: Axes, xs: Sequence[float], curve: StopCurve, theme: Theme) -> None:
    """Blur at the subject: by defocus, by diffraction, by both."""
    first, second, known = map(_without_markers, pens(theme))
    draw_curve(panel, xs, curve.blur_um, first, f"both, at the ends of {_mm(curve.wanted_mm)}")
    draw_curve(panel, xs, curve.defocus_um, second, "defocus alone")
    draw_curve(panel, xs, curve.diffraction_um, known, "diffraction (Airy disc)")
    two = 2.0 * curve.pixel_um
    panel.axhline(two, color=hex_colour(theme.hairline), linewidth=HAIRLINE_MM / POINT_MM, label="two pixels")
    panel.set_yscale("log", base=2)
    _plain_log(panel.yaxis, [*curve.blur_um, *curve.diffraction_um, two])
    panel.set_ylim(0.7 * min(*curve.diffraction_um, two), 1.4 * max(*curve.blur_um, *curve.diffraction_um))
    panel.set_ylabel("blur at subject (µm)")
    _own(panel, curve.blur_um, curve, theme)


def _depth_panel(panel: Axes, xs: Sequence[float], curve: StopCurve, theme: Theme) -> None:
    """Depth of field against the depth that is wanted, with the frames of a stack."""
    first, second, _ = map(_without_markers, pens(theme))
    draw_curve(panel, xs, curve.depth_mm, first, "depth of field; in figures the frames of a stack")
    wanted = [curve.wanted_mm] * len(xs)
    draw_curve(panel, xs, wanted, second, f"wanted: {_mm(curve.wanted_mm)}")
    for f_number, count in curve.frames:
        depth = _between(curve.f_numbers, curve.depth_mm, f_number)
        at = (_stops(f_number), depth)
        off: dict[str, Any] = {"xytext": (-6, 5), "textcoords": "offset points", "ha": "center"}
        off["bbox"] = {"facecolor": hex_colour(theme.paper), "edgecolor": "none", "pad": 0.5}
        annotate_words(panel, str(count), at, theme, **off)
        dot = 1.4 / POINT_MM
        panel.plot([at[0]], [depth], "o", color=hex_colour(theme.accent), markersize=dot, label=SPREAD)
    panel.set_yscale("log", base=2)
    values = [*curve.depth_mm, curve.wanted_mm]
    _plain_log(panel.yaxis, values)
    panel.set_ylim(0.55 * min(values), 1.5 * max(values))
    panel.set_ylabel("depth of field (mm)")


def _own(panel: Axes, ys: Sequence[float], curve: StopCurve, theme: Theme) -> None:
    """The scene's own f-number on a line."""
    if curve.f_numbers[0] <= curve.own <= curve.f_numbers[-1]:
        at = _between(curve.f_numbers, ys, curve.own)
        look: dict[str, Any] = {"color": hex_colour(theme.ink), "markersize": 2.2 / POINT_MM}
        panel.plot([_stops(curve.own)], [at], "D", linestyle="None", label="in the file", zorder=5, **look)


def _between(f_numbers: Sequence[float], values: Sequence[float], f_number: float) -> float:
    import numpy as np

    return float(np.interp(_stops(f_number), [_stops(each) for each in f_numbers], values))


def _mm(value: float) -> str:
    return f"{value:.3g} mm"


def _plain_log(axis: Any, values: Sequence[float]) -> None:
    """Ticks at powers of two with plain numbers."""
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

    low, high = floor(log2(min(values))) - 1, floor(log2(max(values))) + 2
    axis.set_major_locator(FixedLocator([2.0**power for power in range(low, high)]))
    axis.set_minor_locator(NullLocator())
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))


def _f_number_axis(panel: Axes, xs: Sequence[float], curve: StopCurve) -> None:
    """f-numbers along the axis, a stop apart by the same length."""
    kept: list[tuple[float, str]] = []
    for f_number, mark in curve.ticks:
        if not kept or _stops(f_number) - kept[-1][0] >= _LEAST_TICK_STOPS:
            kept.append((_stops(f_number), mark))
    panel.set_xticks([place for place, _ in kept], [mark for _, mark in kept])
    panel.set_xlim(xs[0] - 0.25, xs[-1] + 0.25)
    panel.set_xlabel("f-number on the lens")
