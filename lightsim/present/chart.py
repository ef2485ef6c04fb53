"""A chart of contrast and highlight against what a sweep varies."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING

from lightsim.present.captions import brief, ended, reason_for
from lightsim.present.chart_panels import contrast_panel, dress, place_panel, size_panel, x_axis
from lightsim.present.files import write_image
from lightsim.present.frames import SheetFrame, Varied, checked_frames
from lightsim.present.theme import INK, LABEL, PAGE, hex_colour
from lightsim.present.words import sentence, trade_bands

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from PIL.Image import Image

SIZE_INCHES = (10.0, 8.4)
DPI = 160
_LETTERS_A_LINE = 125

# Measures whose absence is told under the chart.
_CHARTED = (
    "contrast_stops",
    "highlight_long_mm_median",
    "highlight_short_mm_median",
    "highlight_place_share_median",
)


def save_chart(path: str | Path, frames: Sequence[SheetFrame], *, title: str = "") -> Path:
    """Write the chart as PNG or JPEG. Errors as `chart` and `write_image`."""
    return write_image(path, chart(frames, title=title), dpi=DPI)


def chart(frames: Sequence[SheetFrame], *, title: str = "") -> Image:
    """Contrast in stops, highlight's axes in mm and its place in the drop, against the varied quantity.

    Bands carry the trade's names where the light's angle is varied. A measure that is missing leaves a gap,
    and its reason stands under the chart. Raises PictureError where there is no frame.
    """
    from PIL import Image

    figure = draw_chart(checked_frames(frames), title)
    file = BytesIO()
    figure.savefig(file, format="png", dpi=DPI)
    with Image.open(file) as image:
        return image.convert("RGB")


def draw_chart(frames: list[SheetFrame], title: str) -> Figure:
    """The chart as a matplotlib figure, made without its global state."""
    from matplotlib.figure import Figure
    from matplotlib.layout_engine import ConstrainedLayoutEngine

    varied = [frame.varied[0] if frame.varied else _angle_of(frame) for frame in frames]
    places = x_places(varied)
    order = sorted(range(len(frames)), key=lambda index: places[index])
    measures = [frames[index].measures for index in order]
    xs = [places[index] for index in order]
    spaced = ConstrainedLayoutEngine(h_pad=0.08, w_pad=0.12, hspace=0.02)
    figure = Figure(figsize=SIZE_INCHES, facecolor=hex_colour(PAGE), layout=spaced)
    panels = list(figure.subplots(3, 1, sharex=True))
    contrast_panel(panels[0], xs, measures)
    size_panel(panels[1], xs, measures)
    place_panel(panels[2], xs, measures, varied[0].is_angle)
    x_axis(panels[2], xs, [varied[index] for index in order])
    for panel in panels:
        dress(panel)
    if varied[0].is_angle:
        _draw_bands(panels, *panels[0].get_xlim())
    look = {"x": 0.012, "ha": "left", "color": hex_colour(INK), "fontsize": 17, "fontweight": "bold"}
    figure.suptitle(sentence(title), **look)
    _draw_reasons(figure, frames)
    return figure


def _angle_of(frame: SheetFrame) -> Varied:
    return Varied("angle", 0.0 if frame.angle_deg is None else frame.angle_deg, "deg")


def x_places(varied: Sequence[Varied]) -> list[float]:
    """Where each frame stands along the axis: its value, words in their order.

    Clock positions run on past 12, so that 11, 12, 1 stand side by side.
    """
    if any(isinstance(each.value, str) for each in varied):
        return [float(index) for index in range(len(varied))]
    places = [float(each.value) for each in varied]
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
                if frame.heading not in headings:
                    headings.append(frame.heading)
    lines = [f"{', '.join(headings)}: {ended(reason)}" for reason, headings in reasons.items()]
    lines.append("Highlight: median over the drops that could be measured.")
    if any(frame.measures.highlight_long_mm_spread is not None for frame in frames):
        lines[-1] += " About two thirds of them lie in the shaded band."
    wide = [part for line in lines for part in wrap(line, _LETTERS_A_LINE)]
    figure.supxlabel("\n".join(wide), x=0.012, ha="left", color=hex_colour(LABEL), fontsize=10)
