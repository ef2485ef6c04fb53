"""A page of panels over one another that share their axis: title, panels with keys beside them, notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan
from typing import TYPE_CHECKING, Any

import numpy as np

from lightsim.report.drawing.sheet_of_paper import HAIRLINE_MM, Box, Sheet, break_lines, line_height_mm
from lightsim.report.page_options import PageOptions
from lightsim.report.sheet.page_furniture import MARGIN_MM, draw_footer, draw_header
from lightsim.report.theme import POINT_MM, RGB8, SIZES, Face, Theme, face_file, hex_colour

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.font_manager import FontProperties

LINE_MM = 0.5
MARKER_MM = 1.6
SPREAD = "_spread"  # label of what is no curve
_LEFT_MM, _RIGHT_MM = 20.0, 18.0  # room for the numbers beside the panels
_KEY_MM = 52.0
_SAMPLE_MM = 9.0
_AXIS_MM = 12.0  # under the last panel
_GAP_MM = 5.0
_NAMES_MM = 5.0  # over the first panel


@dataclass(frozen=True)
class Pen:
    """How a curve is drawn, so that it differs from its neighbours in grey as well.

    dashes : strokes and gaps, mm; none for a full line.  marker : matplotlib's, "" for none.
    filled : whether the marker is.
    """

    colour: RGB8
    dashes: tuple[float, ...] = ()
    marker: str = "o"
    filled: bool = True


def pens(theme: Theme) -> tuple[Pen, Pen, Pen]:
    """For what matters most, for what stands beside it, and for what is known beforehand."""
    return (
        Pen(theme.accent),
        Pen(theme.ink, (2.2, 1.0), "s", False),
        Pen(theme.quiet, (0.5, 0.8), ""),
    )


def draw_curve(panel: Axes, xs: Sequence[float], ys: Sequence[float], pen: Pen, label: str = "") -> None:
    """A line through what there is, broken where a number is not; nothing where none is."""
    if all(isnan(y) for y in ys):
        return
    colour = hex_colour(pen.colour)
    look: dict[str, Any] = {"color": colour, "linewidth": LINE_MM / POINT_MM, "label": label or SPREAD}
    (line,) = panel.plot(xs, ys, **look)
    if pen.dashes:
        line.set_linestyle((0, tuple(dash / LINE_MM for dash in pen.dashes)))
    if pen.marker:
        face = colour if pen.filled else panel.figure.get_facecolor()
        line.set(marker=pen.marker, markersize=MARKER_MM / POINT_MM, markerfacecolor=face)
        line.set(markeredgecolor=colour, markeredgewidth=0.35 / POINT_MM)


def font_of(points: float) -> FontProperties:
    """The typeface for words in a panel."""
    from matplotlib.font_manager import FontProperties

    return FontProperties(fname=str(face_file(Face.REGULAR)), size=points)


def annotate_words(panel: Axes, words: str, at: tuple[float, float], theme: Theme, **look: Any) -> None:
    """A few words in a panel, at the smallest size, quiet."""
    look = {"color": hex_colour(theme.quiet), "fontproperties": font_of(SIZES["smallest"]), **look}
    panel.annotate(words, at, parse_math=False, **look)


@dataclass
class ChartPage:
    """A page with its panels, from the top."""

    sheet: Sheet
    panels: list[Axes]
    boxes: list[Box]

    @classmethod
    def blank(
        cls, title: str, about: str, notes: Sequence[str], heights: Sequence[float], options: PageOptions
    ) -> ChartPage:
        """A lying page with title and foot. heights : of the panels, as shares of one another."""
        paper = options.paper_size
        title = title if options.title is None else options.title
        sheet = Sheet.blank(paper.long_mm, paper.short_mm, options.theme, title, options.dpi)
        left, right = MARGIN_MM, paper.long_mm - MARGIN_MM
        top = draw_header(sheet, title, about) + _NAMES_MM
        free = draw_footer(sheet, notes, options.credit) - _AXIS_MM - top - (len(heights) - 1) * _GAP_MM
        boxes: list[Box] = []
        for share in heights:
            high = free * share / sum(heights)
            boxes.append((left + _LEFT_MM, top, right - _KEY_MM - _RIGHT_MM, top + high))
            top += high + _GAP_MM
        panels = [sheet.panel(box) for box in boxes]
        for panel in panels[:-1]:
            panel.sharex(panels[-1])
        return cls(sheet, panels, boxes)

    @property
    def theme(self) -> Theme:
        """The page's colours."""
        return self.sheet.theme

    def dress(self) -> None:
        """Hairline axes and grid, our typeface, and the key of each panel beside it."""
        for panel, box in zip(self.panels, self.boxes, strict=True):
            dress_axes(panel, self.theme, last=panel is self.panels[-1])
            self._key(panel, box)

    def _key(self, panel: Axes, box: Box) -> None:
        """Samples of the panel's lines and areas with their names, in the column at the right."""
        points = SIZES["smallest"]
        x, y = box[2] + _RIGHT_MM, box[1] + 2.4
        handles, labels = panel.get_legend_handles_labels()
        for handle, label in zip(handles, labels, strict=True):
            _draw_sample(self.sheet, handle, x, y - 1.0)
            room = _KEY_MM - _SAMPLE_MM - 2.0
            for line in break_lines(label, points, room):
                self.sheet.text(x + _SAMPLE_MM + 2.0, y, line, points, self.theme.ink)
                y += line_height_mm(points)
            y += 0.9


def _draw_sample(sheet: Sheet, handle: Any, x: float, y: float) -> None:
    """A short piece of a line, or of an area, as it is in the panel."""
    from matplotlib.lines import Line2D

    if not isinstance(handle, Line2D):
        sheet.bar((x, y - 1.2, x + _SAMPLE_MM, y + 1.2), _as_rgb8(handle.get_facecolor()), zorder=2.0)
        return
    sample = Line2D([x, x + _SAMPLE_MM], [y, y], zorder=4.0)
    sample.update_from(handle)
    sample.set_transform(sheet.axes.transData)
    sample.set_marker("None")
    sheet.axes.add_line(sample)
    if handle.get_marker() not in ("None", "", None):
        dot = Line2D([x + 0.5 * _SAMPLE_MM], [y], zorder=5.0)
        dot.update_from(handle)
        dot.set_transform(sheet.axes.transData)
        dot.set_linestyle("None")
        sheet.axes.add_line(dot)


def _as_rgb8(colour: Any) -> RGB8:
    from matplotlib.colors import to_rgb

    red, green, blue = to_rgb(tuple(np.asarray(colour).reshape(-1)[:3].tolist()))
    return round(255 * red), round(255 * green), round(255 * blue)


def dress_axes(panel: Axes, theme: Theme, last: bool) -> None:
    """Hairlines at the left and below, ticks outside, our typeface; last : with numbers along the axis."""
    thin = HAIRLINE_MM / POINT_MM
    grey, quiet = hex_colour(theme.hairline), hex_colour(theme.quiet)
    for side, spine in panel.spines.items():
        spine.set_visible(side in ("left", "bottom"))
        spine.set(color=grey, linewidth=thin)
    panel.tick_params(length=1.2 / POINT_MM, width=thin, color=grey, labelcolor=quiet, pad=2.5)
    panel.tick_params(axis="x", which="both", labelbottom=last)
    panel.minorticks_off()
    panel.set_axisbelow(True)
    for label in (*panel.get_xticklabels(), *panel.get_yticklabels()):
        label.set(fontproperties=font_of(SIZES["smallest"]), parse_math=False)
    for label in (panel.xaxis.label, panel.yaxis.label):
        label.set(color=hex_colour(theme.ink), fontproperties=font_of(SIZES["caption"]), parse_math=False)


def reference_line(panel: Axes, theme: Theme) -> None:
    """Draw a hairline across the panel at zero."""
    panel.axhline(0.0, color=hex_colour(theme.hairline), linewidth=HAIRLINE_MM / POINT_MM, zorder=1)
