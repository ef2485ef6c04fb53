"""A chart of contrast and highlight against what a sweep varies."""

from __future__ import annotations

from collections.abc import Sequence
from math import log2
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING

from lightsim.report.chart.grid import grid_panels, groups_of, level_stops, name_groups
from lightsim.report.chart.panels import contrast_panel, dress, level_panel, place_panel, size_panel, x_axis
from lightsim.report.drawing.figures import drawn
from lightsim.report.drawing.grey_card import INK, LABEL, PAGE, hex_colour
from lightsim.report.files.formats import write_image
from lightsim.report.footnotes import brief, ended, reason_for
from lightsim.report.frames import IN_STOPS, SheetFrame, Varied, checked_frames
from lightsim.report.words import sentence, trade_bands

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from PIL.Image import Image

SIZE_INCHES = (10.0, 8.4)
DPI = 160
_LETTERS_A_LINE = 125

# Measures whose absence is told under the chart.
_CHARTED = (
    "petal_contrast_stops",
    "highlight_long_mm_median",
    "highlight_short_mm_median",
    "highlight_place_share_median",
)


def save_chart(path: str | Path, frames: Sequence[SheetFrame], *, title: str = "") -> Path:
    """Write the chart as PNG or JPEG. Errors as `chart` and `write_image`."""
    return write_image(path, chart(frames, title=title), dpi=DPI)


def chart(frames: Sequence[SheetFrame], *, title: str = "") -> Image:
    """Contrast in stops, highlight's axes in mm and its place in the drop, against the varied quantity.

    Where settings of the exposure vary the petal's level takes the place of the last, and where two
    quantities vary there is a line for each value of the second.
    Bands carry the trade's names where the light's angle is varied. A measure that is missing leaves a gap,
    and its reason stands under the chart. Raises PictureError where there is no frame.
    """
    return drawn(draw_chart(checked_frames(frames), title), DPI)


def draw_chart(frames: list[SheetFrame], title: str) -> Figure:
    """The chart as a matplotlib figure, made without its global state."""
    from matplotlib.figure import Figure
    from matplotlib.layout_engine import ConstrainedLayoutEngine

    groups = {name: _along_axis(group) for name, group in groups_of(frames).items()}
    xs, shown, varied = next(iter(groups.values()))
    spaced = ConstrainedLayoutEngine(h_pad=0.08, w_pad=0.12, hspace=0.02)
    figure = Figure(figsize=SIZE_INCHES, facecolor=hex_colour(PAGE), layout=spaced)
    panels = list(figure.subplots(3, 1, sharex=True))
    if len(groups) > 1:
        grid_panels(panels, {n: g[0] for n, g in groups.items()}, {n: g[1] for n, g in groups.items()})
    else:
        _single_panels(panels, xs, shown, varied[0])
    x_axis(panels[2], xs, varied)
    for panel in panels:
        dress(panel)
    if len(groups) > 1:
        name_groups(figure, panels[2])
    if varied[0].is_angle:
        _draw_bands(panels, *panels[0].get_xlim())
    look = {"x": 0.012, "ha": "left", "color": hex_colour(INK), "fontsize": 17, "fontweight": "bold"}
    figure.suptitle(sentence(title), parse_math=False, **look)  # a dollar sign is no formula
    _draw_reasons(figure, frames)
    return figure


def _along_axis(frames: list[SheetFrame]) -> tuple[list[float], list[SheetFrame], list[Varied]]:
    """Places along the axis, and the frames and what they vary, in their order."""
    varied = [frame.varied[0] if frame.varied else _angle_of(frame) for frame in frames]
    places = x_places(varied)
    order = sorted(range(len(frames)), key=lambda index: places[index])
    return [places[i] for i in order], [frames[i] for i in order], [varied[i] for i in order]


def _single_panels(panels: list[Axes], xs: list[float], frames: list[SheetFrame], first: Varied) -> None:
    """The three panels where one quantity varies."""
    measures = [frame.measures for frame in frames]
    contrast_panel(panels[0], xs, measures)
    size_panel(panels[1], xs, measures)
    if first.unit in IN_STOPS:
        levels = [level_stops(frame) for frame in frames]
        level_panel(panels[2], xs, levels, [each.clipped_share or 0.0 for each in measures])
    else:
        place_panel(panels[2], xs, measures, first.is_angle)


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


def _draw_bands(panels: list[Axes], low: float, high: float) -> None:
    """The trade's names of the light's angle, over bands that alternate."""
    bands = list(trade_bands(max(low, 0.0), min(high, 360.0)))
    for number, (start, end, name) in enumerate(bands):
        for panel in panels:
            if number % 2:
                panel.axvspan(start, end, color=hex_colour(INK), alpha=0.055, linewidth=0, zorder=0)
        if (end - start) / (high - low) > 0.09:
            panels[0].annotate(
                name,
                ((start + end) / 2, 1.0),
                xycoords=("data", "axes fraction"),
                xytext=(0, 6),
                textcoords="offset points",
                ha="center",
                color=hex_colour(INK),
                fontsize=12,
            )


def _draw_reasons(figure: Figure, frames: list[SheetFrame]) -> None:
    """Why there are gaps: each reason with the frames that it concerns."""
    reasons: dict[str, list[str]] = {}
    for frame in frames:
        for key in _CHARTED:
            if getattr(frame.measures, key) is None:
                headings = reasons.setdefault(brief(reason_for(frame.measures.missing, key)), [])
                name = " ".join(each.words for each in frame.varied) or frame.heading
                if name not in headings:
                    headings.append(name)
    lines = [f"{', '.join(headings)}: {ended(reason)}" for reason, headings in reasons.items()]
    lines.append("Highlight: median over the drops that could be measured.")
    spread = any(frame.measures.highlight_long_mm_spread is not None for frame in frames)
    if spread and len(groups_of(frames)) == 1:
        lines[-1] += " About two thirds of them lie in the shaded band."
    wide = [part for line in lines for part in wrap(line, _LETTERS_A_LINE)]
    figure.supxlabel("\n".join(wide), x=0.012, ha="left", color=hex_colour(LABEL), fontsize=10)
