"""The panels of a chart where two quantities vary: one line for each value of the second."""

from __future__ import annotations

from collections.abc import Sequence
from math import log2, nan
from typing import TYPE_CHECKING

from lightsim.report.chart.panels import draw_line, roomy
from lightsim.report.drawing.grey_card import ACCENT, PLATE, PLATE_LABEL, PLATE_TEXT, RGB8, hex_colour
from lightsim.report.frames import SheetFrame
from lightsim.report.level import MIDTONE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PANELS = ("contrast (stops)", "highlight (mm)", "petal (stops)")
_ENDS: tuple[RGB8, RGB8, RGB8] = (ACCENT, PLATE_TEXT, PLATE_LABEL)
_STYLES = ("-", "--", "-.", ":")


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
    panels: Sequence[Axes], xs: dict[str, list[float]], groups: dict[str, list[SheetFrame]]
) -> None:
    """Contrast, the highlight's long axis and the petal's level from mid-tone, a line for each group, named
    in the last."""
    for number, panel in enumerate(panels):
        for place, (name, frames) in enumerate(groups.items()):
            share = place / max(len(groups) - 1, 1)
            style = _STYLES[place % len(_STYLES)]
            draw_line(
                panel, xs[name], _numbers(number, frames), _between(share), name if number == 2 else "", style
            )
        panel.set_ylabel(PANELS[number])
        roomy(panel)


def name_groups(figure: Figure, panel: Axes) -> None:
    """The groups' names over the panels, at the right, instead of inside the one that has them."""
    handles, names = panel.get_legend_handles_labels()
    inside = panel.get_legend()
    if inside is not None:
        inside.remove()
    look = {"fontsize": 12, "labelcolor": hex_colour(PLATE_TEXT), "facecolor": hex_colour(PLATE)}
    figure.legend(handles, names, loc="upper right", ncols=len(names), edgecolor="none", **look)


def _between(share: float) -> RGB8:
    """A colour from the first to the last of the three ends."""
    first, second = (_ENDS[0], _ENDS[1]) if share <= 0.5 else (_ENDS[1], _ENDS[2])
    part = 2.0 * share if share <= 0.5 else 2.0 * share - 1.0
    mixed = [round(a + (b - a) * part) for a, b in zip(first, second, strict=True)]
    return mixed[0], mixed[1], mixed[2]
