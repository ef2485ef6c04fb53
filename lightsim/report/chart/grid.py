"""The panels of a chart where two quantities vary: one line for each value of the second."""

from __future__ import annotations

from collections.abc import Sequence
from math import log2, nan
from typing import TYPE_CHECKING

from lightsim.report.chart.chart_page import Pen, draw_curve
from lightsim.report.chart.panels import roomy
from lightsim.report.frames import SheetFrame
from lightsim.report.level import MIDTONE
from lightsim.report.theme import Theme
from lightsim.report.theme.legible import mixed

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PANELS = ("contrast (stops)", "highlight (mm)", "petal (stops)")
_DASHES: tuple[tuple[float, ...], ...] = ((), (2.2, 1.0), (2.2, 0.8, 0.5, 0.8), (0.6, 0.8))
_MARKERS = ("o", "s", "^", "D", "v")


def groups_of(frames: Sequence[SheetFrame]) -> dict[str, list[SheetFrame]]:
    """The frames by the second quantity in words, in order; all in one where a single one varies."""
    groups: dict[str, list[SheetFrame]] = {}
    for frame in frames:
        name = frame.varied[1].words if len(frame.varied) > 1 else ""
        groups.setdefault(name, []).append(frame)
    return groups


def level_stops(frame: SheetFrame) -> float:
    """How far the petal comes out above the mid-tone; NaN where it is not known."""
    mean = frame.measures.petal_linear
    return log2(mean / MIDTONE) if mean is not None and mean > 0 else nan


def _numbers(panel: int, frames: Sequence[SheetFrame]) -> list[float]:
    if panel == 2:
        return [level_stops(frame) for frame in frames]
    key = ("petal_contrast_stops", "highlight_long_mm_median")[panel]
    values = [getattr(frame.measures, key) for frame in frames]
    return [nan if value is None else float(value) for value in values]


def grid_panels(
    panels: Sequence[Axes], xs: dict[str, list[float]], groups: dict[str, list[SheetFrame]], theme: Theme
) -> None:
    """Contrast, the highlight's long axis and the petal's level from mid-tone, a line for each group, named
    in the first."""
    for number, panel in enumerate(panels):
        for place, (name, frames) in enumerate(groups.items()):
            pen = group_pen(place, len(groups), theme)
            draw_curve(panel, xs[name], _numbers(number, frames), pen, name if number == 0 else "")
        panel.set_ylabel(PANELS[number])
        roomy(panel)


def group_pen(place: int, count: int, theme: Theme) -> Pen:
    """A line of its own for each group: colour from the accent to ink, with dashes and markers by turns."""
    share = place / max(count - 1, 1)
    dashes = _DASHES[place % len(_DASHES)]
    marker = _MARKERS[place % len(_MARKERS)]
    return Pen(mixed(theme.ink, theme.accent, share), dashes, marker, place % 2 == 0)
