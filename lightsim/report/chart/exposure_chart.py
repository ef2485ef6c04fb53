"""A chart over f-numbers: what the exposure takes, blur at the subject, depth of field."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log2
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any, Literal

from lightsim.report.chart.panels import dress
from lightsim.report.drawing.figures import drawn
from lightsim.report.drawing.grey_card import (
    ACCENT,
    INK,
    LABEL,
    PAGE,
    PLATE,
    PLATE_LABEL,
    PLATE_LINE,
    PLATE_TEXT,
    RGB8,
    hex_colour,
)
from lightsim.report.files.formats import write_image
from lightsim.report.words import sentence

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from PIL.Image import Image

SIZE_INCHES = (10.0, 8.8)
DPI = 160
_LETTERS_A_LINE = 125
_LEAST_TICK_STOPS = 0.6  # nearer to one another, f-numbers would run together


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


def save_stop_chart(path: str | Path, curve: StopCurve, *, title: str = "", note: str = "") -> Path:
    """Write the chart as PNG or JPEG. Errors as `write_image`."""
    return write_image(path, stop_chart(curve, title=title, note=note), dpi=DPI)


def stop_chart(curve: StopCurve, *, title: str = "", note: str = "") -> Image:
    """The chart as a picture. note : what stands under it."""
    return drawn(draw_stop_chart(curve, title, note), DPI)


def draw_stop_chart(curve: StopCurve, title: str, note: str) -> Figure:
    """The chart as a matplotlib figure, made without its global state."""
    from matplotlib.figure import Figure
    from matplotlib.layout_engine import ConstrainedLayoutEngine

    spaced = ConstrainedLayoutEngine(h_pad=0.08, w_pad=0.12, hspace=0.02)
    figure = Figure(figsize=SIZE_INCHES, facecolor=hex_colour(PAGE), layout=spaced)
    panels = list(figure.subplots(3, 1, sharex=True, height_ratios=(1.0, 1.25, 1.0)))
    xs = [_stops(value) for value in curve.f_numbers]
    _needed_panel(panels[0], xs, curve)
    _blur_panel(panels[1], xs, curve)
    _depth_panel(panels[2], xs, curve)
    _f_number_axis(panels[2], xs, curve)
    for panel in panels:
        dress(panel)
        panel.axvline(_stops(curve.best), color=hex_colour(ACCENT), linewidth=1.4, linestyle=":", zorder=1)
    falls = curve.needed_stops[-1] < curve.needed_stops[0]
    places = (("lower left" if falls else "lower right", 1), ("upper center", 3), ("upper left", 2))
    for panel, (place, columns) in zip(panels, places, strict=True):
        _legend(panel, place, columns)
    panels[0].annotate(
        f"sharpest for the depth: {curve.best_mark}",
        (_stops(curve.best), 1.0),
        xycoords=("data", "axes fraction"),
        xytext=(0, 6),
        textcoords="offset points",
        ha=_side(xs, _stops(curve.best)),
        color=hex_colour(INK),
        fontsize=12,
    )
    look = {"x": 0.012, "ha": "left", "color": hex_colour(INK), "fontsize": 17, "fontweight": "bold"}
    figure.suptitle(sentence(title), parse_math=False, **look)  # a dollar sign is no formula
    under = "\n".join(wrap(note, _LETTERS_A_LINE))
    figure.supxlabel(under, x=0.012, ha="left", color=hex_colour(LABEL), fontsize=10)
    return figure


def _side(xs: Sequence[float], at: float) -> Literal["left", "center", "right"]:
    """To which side of a place a label is set, so that it stays on the panel."""
    share = (at - xs[0]) / max(xs[-1] - xs[0], 1e-9)
    return "left" if share < 0.2 else "right" if share > 0.8 else "center"


def _legend(panel: Axes, place: str, columns: int) -> None:
    """The legend again, in our own look, where no line runs."""
    look: dict[str, Any] = {"loc": place, "ncols": columns, "fontsize": 11, "columnspacing": 1.6}
    look |= {"labelcolor": hex_colour(PLATE_TEXT), "facecolor": hex_colour(PLATE), "edgecolor": "none"}
    panel.legend(framealpha=0.8, **look)


def _stops(f_number: float) -> float:
    return 2.0 * log2(f_number)


def _line(panel: Axes, xs: Sequence[float], ys: Sequence[float], colour: RGB8, **look: Any) -> None:
    panel.plot(xs, ys, **{"color": hex_colour(colour), "linewidth": 2.2, **look})


def _needed_panel(panel: Axes, xs: Sequence[float], curve: StopCurve) -> None:
    """What the exposure takes, with what cannot be set shaded."""
    low, high = curve.reach_stops
    bottom, top = min(curve.needed_stops), max(curve.needed_stops)
    bottom, top = min(bottom, top - 2.0) - 0.7, max(top, bottom + 2.0) + 0.7
    shade: dict[str, Any] = {"color": hex_colour(PLATE_LINE), "alpha": 0.45, "linewidth": 0, "zorder": 0}
    if high < top:
        panel.axhspan(high, top, label="out of reach", **shade)
    if low > bottom:
        panel.axhspan(bottom, low, label=None if high < top else "out of reach", **shade)
    _line(panel, xs, curve.needed_stops, ACCENT, label=f"{curve.needed_name} for the same exposure")
    named = [(stops, mark) for stops, mark in curve.needed_marks if bottom <= stops <= top]
    step = 1 if len(named) <= 9 else 2
    panel.set_yticks([stops for stops, _ in named[::step]], [mark for _, mark in named[::step]])
    panel.set_ylim(bottom, top)
    panel.set_ylabel(curve.needed_name)
    _own(panel, xs, curve.needed_stops, curve)
    if curve.room_below_stops is not None:
        _room_line(panel, xs, curve.room_below_stops)


def _room_line(panel: Axes, xs: Sequence[float], below: Sequence[float]) -> None:
    """The room light's part below the flash's, against an axis of its own at the right."""
    other = panel.twinx()
    _line(other, xs, below, PLATE_LABEL, linestyle="--", linewidth=1.8)
    panel.plot(
        [], [], "--", color=hex_colour(PLATE_LABEL), linewidth=1.8, label="room light below flash (right)"
    )
    span = max(max(below) - min(below), 1.0)
    other.set_ylim(min(below) - 2.2 * span, max(below) + 0.15 * span)  # in the upper part, off the other line
    ticks = range(ceil(min(below)), int(max(below)) + 1)
    other.set_yticks(list(ticks)[:: 1 + len(ticks) // 5])
    other.set_ylabel("stops below flash", color=hex_colour(INK), fontsize=13)
    other.tick_params(colors=hex_colour(LABEL), labelsize=12, length=0)
    for spine in other.spines.values():
        spine.set_visible(False)


def _blur_panel(panel: Axes, xs: Sequence[float], curve: StopCurve) -> None:
    """Blur at the subject: by defocus, by diffraction, by both."""
    _line(panel, xs, curve.defocus_um, PLATE_LABEL, linestyle="--", linewidth=1.8, label="defocus alone")
    _line(panel, xs, curve.diffraction_um, PLATE_TEXT, linestyle=":", label="diffraction (Airy disc)")
    _line(panel, xs, curve.blur_um, ACCENT, label=f"both, at the ends of {_mm(curve.wanted_mm)}")
    two = 2.0 * curve.pixel_um
    panel.axhline(two, color=hex_colour(PLATE_LINE), linewidth=1.6, zorder=1, label="two pixels")
    panel.set_yscale("log", base=2)
    _plain_log(panel.yaxis, [*curve.blur_um, *curve.diffraction_um, two])
    panel.set_ylim(0.7 * min(*curve.diffraction_um, two), 4.5 * max(curve.blur_um))
    panel.set_ylabel("blur at subject (µm)")
    _own(panel, xs, curve.blur_um, curve)


def _depth_panel(panel: Axes, xs: Sequence[float], curve: StopCurve) -> None:
    """Depth of field against the depth that is wanted, with the frames of a stack."""
    _line(panel, xs, curve.depth_mm, ACCENT, label="depth of field, with a stack’s frames")
    panel.axhline(
        curve.wanted_mm,
        color=hex_colour(PLATE_TEXT),
        linewidth=1.6,
        linestyle="--",
        label=f"wanted: {_mm(curve.wanted_mm)}",
    )
    for f_number, count in curve.frames:
        depth = _between(curve.f_numbers, curve.depth_mm, f_number)
        _at(panel, str(count), _stops(f_number), depth, (9, -13), 11)
        panel.plot([_stops(f_number)], [depth], "o", color=hex_colour(ACCENT), markersize=5)
    panel.set_yscale("log", base=2)
    values = [*curve.depth_mm, curve.wanted_mm]
    _plain_log(panel.yaxis, values)
    panel.set_ylim(0.6 * min(values), 3.2 * max(values))
    panel.set_ylabel("depth of field (mm)")


def _at(panel: Axes, text: str, x: float, y: float, off: tuple[float, float], size: int) -> None:
    """A few words beside a point."""
    look: dict[str, Any] = {"ha": "center", "color": hex_colour(PLATE_TEXT), "fontsize": size}
    panel.annotate(text, (x, y), xytext=off, textcoords="offset points", **look)


def _own(panel: Axes, xs: Sequence[float], ys: Sequence[float], curve: StopCurve) -> None:
    """The scene's own f-number on a line."""
    if curve.f_numbers[0] <= curve.own <= curve.f_numbers[-1]:
        at = _between(curve.f_numbers, ys, curve.own)
        panel.plot([_stops(curve.own)], [at], "o", color=hex_colour(INK), markersize=8, label="in the file")


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
