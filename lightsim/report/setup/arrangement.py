"""Where everything goes on a plan of the set-up: the arrangement that lets its drawings be largest."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import log2

from numpy.typing import NDArray

from lightsim.report.drawing.grey_card import A4_LONG_MM, SMALLEST_PT
from lightsim.report.setup.cautions_block import cautions_height_mm
from lightsim.report.setup.paper import WIDTH_MM, Box, line_mm, lines_of
from lightsim.report.setup.places_table import table_height_mm
from lightsim.report.setup.plan_records import SetupPlan
from lightsim.report.setup.scale import ratio_for, view_from_above, view_from_the_side
from lightsim.report.setup.settings_block import settings_height_mm
from lightsim.report.setup.solid import Solids

MARGIN_MM = 9.0
GAP_MM = 3.0
INNER_MM = WIDTH_MM - 2.0 * MARGIN_MM
SIDE_MM = 62.0  # width of the column with picture and settings
INSET_MM = 34.0  # width of a picture in the corner of the 3-D view
LEAST_MM = 62.0  # height of a drawing
LEAST_TALL_MM = 78.0  # height of the 3-D view beside the drawing from the side
TITLE_MM = 9.5
MOST_ABOUT_LINES = 2
_TOO_TALL_MM = 20.0  # so much beyond A4 weighs as much as a drawing half as large
_INSET_COSTS = 0.6  # of a picture in a corner, which is small


@dataclass(frozen=True)
class Layout:
    """Boxes on the page, mm; None for what is not on it.

    about : lines under the title.  inset : whether the picture stands in a corner of the 3-D view.
    ratios : mm of the set for one mm of the page, from above and from the side.
    """

    height: float
    about: tuple[str, ...]
    picture: Box | None
    inset: bool
    settings: Box
    solid: Box | None
    above: Box
    side: Box
    ratios: tuple[float, float]
    table: Box
    cautions: Box

    @property
    def cost(self) -> float:
        """How small the drawings are, and how much the page is too long for A4."""
        small = log2(self.ratios[0]) + log2(self.ratios[1])
        return (
            small + max(self.height - A4_LONG_MM, 0.0) / _TOO_TALL_MM + (_INSET_COSTS if self.inset else 0.0)
        )


def layout(plan: SetupPlan, solids: Solids, picture: NDArray | None, with_3d: bool) -> Layout:
    """The best layout; its page is longer than A4 only where there is too much for it."""
    return min(_tried(_Planner(plan, solids, picture), with_3d), key=lambda each: each.cost)


def _tried(planner: _Planner, with_3d: bool) -> Iterator[Layout]:
    if with_3d:
        yield planner.wide(inset=False)
        yield planner.wide(inset=planner.aspect is not None)
        yield planner.tall()
    else:
        yield planner.flat(beside=True)
        yield planner.flat(beside=False)


class _Planner:
    """The arrangements there are; all measures in mm."""

    def __init__(self, plan: SetupPlan, solids: Solids, picture: NDArray | None):
        self.plan, self.solids = plan, solids
        self.about = _cut(lines_of(plan.about, SMALLEST_PT, INNER_MM)) if plan.about else ()
        self.aspect = None if picture is None else picture.shape[0] / picture.shape[1]
        self.top = MARGIN_MM + TITLE_MM + len(self.about) * line_mm(SMALLEST_PT)
        self.table, self.cautions = table_height_mm(plan, INNER_MM), cautions_height_mm(plan, INNER_MM)
        caution = self.cautions + GAP_MM if self.cautions else 0.0
        self.free = A4_LONG_MM - MARGIN_MM - self.top - self.table - caution - 2.0 * GAP_MM
        self.left, self.right = MARGIN_MM, MARGIN_MM + INNER_MM

    def wide(self, inset: bool) -> Layout:
        """3-D view with picture and settings at its right; below it the drawings side by side.

        inset : the picture goes into the 3-D view instead.
        """
        side = self.right - SIDE_MM
        shown = 0.0 if self.aspect is None or inset else SIDE_MM * self.aspect
        settings = settings_height_mm(self.plan, SIDE_MM)
        row = max(0.48 * self.free, settings + (shown + GAP_MM if shown else 0.0))
        bottom = self.top + row
        below = max(self.free - row, LEAST_MM)
        words = self.top + (shown + GAP_MM if shown else 0.0)
        return self._made(
            end=bottom + GAP_MM + below,
            picture=(side, self.top, self.right, self.top + shown) if shown else None,
            inset=inset,
            settings=(side, words, self.right, bottom),
            solid=(self.left, self.top, side - GAP_MM, bottom),
            drawings=self._beside(bottom + GAP_MM, below),
        )

    def tall(self) -> Layout:
        """3-D view and the drawing from the side above, the drawing from above and the settings below."""
        half = 0.5 * (INNER_MM - GAP_MM)
        middle = self.left + half
        below = max(settings_height_mm(self.plan, half), LEAST_MM)
        row = max(self.free - below, LEAST_TALL_MM)
        bottom = self.top + row
        start = bottom + GAP_MM
        return self._made(
            end=start + below,
            picture=None,
            inset=self.aspect is not None,
            settings=(middle + GAP_MM, start, self.right, start + below),
            solid=(self.left, self.top, middle, bottom),
            drawings=(
                (self.left, start, middle, start + below),
                (middle + GAP_MM, self.top, self.right, bottom),
            ),
        )

    def flat(self, beside: bool) -> Layout:
        """Without a 3-D view: picture and settings above, the drawings below, beside or over one another."""
        shown = 0.0 if self.aspect is None else SIDE_MM * self.aspect
        words = self.left + SIDE_MM + GAP_MM if shown else self.left
        row = max(shown, settings_height_mm(self.plan, self.right - words))
        bottom = self.top + row
        below = max(self.free - row, LEAST_MM if beside else 2.0 * LEAST_MM + GAP_MM)
        start = bottom + GAP_MM
        half = 0.5 * (below - GAP_MM)
        over = (
            (self.left, start, self.right, start + half),
            (self.left, start + half + GAP_MM, self.right, start + below),
        )
        return self._made(
            end=start + below,
            picture=(self.left, self.top, self.left + SIDE_MM, self.top + shown) if shown else None,
            settings=(words, self.top, self.right, bottom),
            solid=None,
            drawings=self._beside(start, below) if beside else over,
        )

    def _beside(self, top: float, height: float) -> tuple[Box, Box]:
        half = 0.5 * (INNER_MM - GAP_MM)
        left = self.left, top, self.left + half, top + height
        return left, (self.left + half + GAP_MM, top, self.right, top + height)

    def _made(
        self,
        end: float,
        picture: Box | None,
        settings: Box,
        solid: Box | None,
        drawings: tuple[Box, Box],
        inset: bool = False,
    ) -> Layout:
        """The layout with table and cautions under what ends at `end`."""
        up, table = self.solids.up, end + GAP_MM
        views = view_from_above(up), view_from_the_side(up)
        ratios = [ratio_for(view, self.solids, box) for view, box in zip(views, drawings, strict=True)]
        cautions = table + self.table + GAP_MM
        foot = cautions + self.cautions if self.cautions else table + self.table
        return Layout(
            height=max(A4_LONG_MM, foot + MARGIN_MM) if foot + MARGIN_MM > A4_LONG_MM + 0.1 else A4_LONG_MM,
            about=self.about,
            picture=picture,
            inset=inset,
            settings=settings,
            solid=solid,
            above=drawings[0],
            side=drawings[1],
            ratios=(ratios[0], ratios[1]),
            table=(self.left, table, self.right, table + self.table),
            cautions=(self.left, cautions, self.right, cautions + self.cautions),
        )


def _cut(lines: list[str]) -> tuple[str, ...]:
    if len(lines) <= MOST_ABOUT_LINES:
        return tuple(lines)
    return (*lines[: MOST_ABOUT_LINES - 1], lines[MOST_ABOUT_LINES - 1].rstrip(".,;: ") + " …")
