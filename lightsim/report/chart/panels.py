"""The panels of a sweep's chart: what each of them draws."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import ceil, isnan, log2, nan
from typing import TYPE_CHECKING, Any

import numpy as np

from lightsim.measures.measure_records import FrameMeasures
from lightsim.optics.exposure_values import MID_TONE
from lightsim.optics.fresnel import highlight_place
from lightsim.report.chart.chart_page import Pen, annotate_words, draw_curve, font_of, pens, reference_line
from lightsim.report.frames import SheetFrame, Varied
from lightsim.report.theme import POINT_MM, SIZES, Theme, hex_colour, mixed
from lightsim.report.words import folded_angle, percent

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_NAMED_TICKS = 16
_ANGLE_STEPS = (5, 10, 15, 30, 45, 90)
_LEAST_TICK_SHARE = 0.045  # of the axis; nearer to one another, named ticks would run together


def measure_values(measures: Sequence[FrameMeasures], key: str) -> list[float]:
    """A measure over the frames, NaN where it is empty."""
    return [nan if getattr(each, key) is None else float(getattr(each, key)) for each in measures]


def contrast_panel(panel: Axes, xs: list[float], measures: Sequence[FrameMeasures], theme: Theme) -> None:
    """Petal contrast and shadow depth in stops, as a ratio at the right."""
    first, second, _ = pens(theme)
    draw_curve(panel, xs, measure_values(measures, "petal_contrast_stops"), first, "petal contrast")
    draw_curve(panel, xs, measure_values(measures, "shadow_depth_stops"), second, "shadow depth")
    panel.set_ylabel("contrast (stops)")
    ratio_axis(panel, theme)


def ratio_axis(panel: Axes, theme: Theme) -> None:
    """Whole stops at the left, the ratios that they are at the right."""
    low, top = roomy(panel)
    reference_line(panel, theme)
    ratios = panel.secondary_yaxis("right")
    step = 1 if top - low <= 5.0 else 2
    stops = range(ceil(low / step) * step, int(top) + 1, step)
    panel.set_yticks(list(stops))
    ratios.set_yticks(list(stops), [_ratio(stop) for stop in stops])
    ratios.tick_params(labelcolor=hex_colour(theme.quiet), length=0, pad=2)
    for label in ratios.get_yticklabels():
        label.set_fontproperties(font_of(SIZES["smallest"]))
    ratios.spines["right"].set_visible(False)


def _ratio(stop: int) -> str:
    """A whole number of stops as a ratio: 3 is 8 : 1, -1 is 1 : 2."""
    return f"{2**stop} : 1" if stop >= 0 else f"1 : {2**-stop}"


def size_panel(panel: Axes, xs: list[float], measures: Sequence[FrameMeasures], theme: Theme) -> None:
    """The highlight's axes, with their spread over the drops."""
    first, second, _ = pens(theme)
    for key, pen, label in (
        ("highlight_long_mm", first, "long axis of the highlight"),
        ("highlight_short_mm", second, "short axis"),
    ):
        middle = measure_values(measures, f"{key}_median")
        draw_curve(panel, xs, middle, pen, label)
        if key == "highlight_long_mm":
            _spread(panel, xs, middle, measure_values(measures, f"{key}_spread"), theme)
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


def place_panel(
    panel: Axes, xs: list[float], measures: Sequence[FrameMeasures], theme: Theme, against_angle: bool
) -> None:
    """Place of the highlight; against the light's angle also where a small distant light's would lie."""
    first, _, known = pens(theme)
    middle = measure_values(measures, "highlight_place_share_median")
    draw_curve(panel, xs, middle, first, "highlight, from the drop’s centre")
    _spread(panel, xs, middle, measure_values(measures, "highlight_place_share_spread"), theme)
    if against_angle:
        fine = np.linspace(xs[0], xs[-1], 91)
        where = highlight_place([folded_angle(x) for x in fine])
        draw_curve(panel, list(fine), list(where), known, "that of a small distant light")
    panel.set_ylabel("place in the drop")
    panel.set_ylim(0.0, 1.1)
    panel.set_yticks([0.0, 0.5, 1.0], ["centre", "50 %", "rim"])


def level_panel(
    panel: Axes, xs: list[float], levels: list[float], clipped: list[float], theme: Theme
) -> None:
    """The petal's level from mid-tone in stops, with the clipped part of the picture in figures."""
    first, _, _ = pens(theme)
    some = any(share > 0.0 for share in clipped)
    draw_curve(panel, xs, levels, first, "petal" + ("; in figures what is burnt out" if some else ""))
    panel.set_ylabel("from mid-tone (stops)")
    low, high = roomy(panel)
    more = max(0.0, 0.5 * (1.0 - (high - low)))  # a stop at least: less is no difference to the eye
    low, high = low - more, high + more
    panel.set_ylim(low, high)
    reference_line(panel, theme)
    for x, level, share in zip(xs, levels, clipped, strict=True):
        if share > 0.0 and not isnan(level):
            inward = -12 if level > 0.5 * (low + high) else 7
            off = {"xytext": (0, inward), "textcoords": "offset points", "ha": "center"}
            annotate_words(panel, percent(share), (x, level), theme, **off)


def _spread(panel: Axes, xs: list[float], ys: list[float], half: list[float], theme: Theme) -> None:
    """The spread over the drops as an area about the median."""
    if not any(each > 0.0 for each in half):
        return
    low = [max(y - each, 0.0) for y, each in zip(ys, half, strict=True)]
    high = [y + each for y, each in zip(ys, half, strict=True)]
    area = hex_colour(theme.wash)
    panel.fill_between(xs, low, high, color=area, linewidth=0, zorder=0.5, label="two thirds of the drops")


def say_gaps(panel: Axes, xs: list[float], reasons: Sequence[str | None], theme: Theme) -> None:
    """In each stretch without a number the reason for it, where there is room. reasons : None where there is
    a number."""
    low, high = panel.get_xlim()
    start = 0
    while start < len(xs):
        reason, end = reasons[start], start
        while end + 1 < len(xs) and reasons[end + 1] is not None and reason is not None:
            end += 1
        if reason is not None and (xs[end] - xs[start]) / (high - low) > 0.2:
            at = (0.5 * (xs[start] + xs[end]), 0.5)
            middle = {"xycoords": ("data", "axes fraction"), "ha": "center", "va": "center"}
            annotate_words(panel, f"none: {reason}", at, theme, **middle)
        start = end + 1


def mark_unbuildable(panel: Axes, xs: list[float], theme: Theme, label: str) -> None:
    """Crosses at the foot of a panel where the set cannot be built."""
    look: dict[str, Any] = {"color": hex_colour(theme.warning), "markersize": 2.0 / POINT_MM}
    look["markeredgewidth"] = 0.35 / POINT_MM
    foot = panel.get_xaxis_transform()
    panel.plot(xs, [0.045] * len(xs), "x", linestyle="None", transform=foot, label=label, **look)


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
    return log2(mean / MID_TONE) if mean is not None and mean > 0 else nan


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
