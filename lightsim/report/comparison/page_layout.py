"""Where everything on a comparison goes: pictures in a row or two, a table under each row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lightsim.report.comparison.rows import CompareRow
from lightsim.report.drawing.font import text_width_px, wrapped
from lightsim.report.drawing.grey_card import A4_RATIO
from lightsim.report.drawing.plan_icon import ASPECT
from lightsim.report.frames import SheetFrame
from lightsim.report.sheet.sheet_layout import Sizes
from lightsim.report.words import glued

_LARGER = (1.7, 1.5, 1.35, 1.2, 1.1, 1.0)
_SIDE_BY_SIDE = 4  # more pictures than that are shown in two rows
_INSET_SHARE = 0.28


@dataclass(frozen=True)
class ComparePlan:
    """Geometry of a comparison, pixels.

    names, column : widths of the words at the left and of a picture.
    values : width of the values in a column of the table; the differences follow.
    """

    sizes: Sizes
    per_row: int
    names: int
    column: int
    values: int
    picture_height: int
    inset: int
    table_height: int
    margin: int
    width: int
    foot: list[str]

    @property
    def content(self) -> int:
        return self.width - 2 * self.margin

    def column_x(self, place: int) -> int:
        """Left edge of a column of the table and of its picture."""
        return self.margin + self.names + self.sizes.gap + place * (self.column + self.sizes.gap)

    @property
    def block_height(self) -> int:
        """One row of pictures with its table."""
        sizes = self.sizes
        return sizes.icon + self.picture_height + self.inset + 3 * sizes.pad + self.table_height

    def height(self, blocks: int) -> int:
        """Height of the whole."""
        sizes = self.sizes
        foot = len(self.foot) * sizes.line + sizes.pad
        return 2 * self.margin + blocks * (self.block_height + sizes.gap) + foot


def blocks_of(count: int, per_row: int) -> list[range]:
    """The pictures of each row of pictures."""
    return [range(start, min(start + per_row, count)) for start in range(0, count, per_row)]


def planned(
    frames: list[SheetFrame],
    rows: Sequence[CompareRow],
    lights: Sequence[str],
    foot: Sequence[str],
    width_px: int,
) -> ComparePlan:
    """The largest words with which the sheet fits a lying A4 page, or the smallest allowed."""
    blocks = 1 if len(frames) <= _SIDE_BY_SIDE else 2
    plans = [_plan(frames, rows, lights, foot, width_px, blocks, scale) for scale in _LARGER]
    fitting = [
        plan for plan in plans if plan.width <= width_px and plan.height(blocks) <= width_px / A4_RATIO
    ]
    return fitting[0] if fitting else plans[-1]


def _plan(
    frames: list[SheetFrame],
    rows: Sequence[CompareRow],
    lights: Sequence[str],
    foot: Sequence[str],
    width_px: int,
    blocks: int,
    scale: float,
) -> ComparePlan:
    sizes = Sizes.at(width_px, scale)
    per_row = -(-len(frames) // blocks)
    margin = round(1.35 * sizes.text)
    names = max(text_width_px(row.name, sizes.text) for row in rows) + sizes.pad if rows else 0
    names = max(names, 12 * sizes.text)
    column = (width_px - 2 * margin - names - per_row * sizes.gap) // per_row
    column = max(column, _least_column(rows, lights, sizes))
    aspect = max(frame.image.shape[0] / frame.image.shape[1] for frame in frames)
    width = 2 * margin + names + per_row * (sizes.gap + column)
    lines = [line for part in foot for line in wrapped(glued(part), sizes.text, width - 2 * margin)]
    return ComparePlan(
        sizes=sizes,
        per_row=per_row,
        names=names,
        column=column,
        values=_values_width(rows, sizes),
        picture_height=round(aspect * column),
        inset=round(_INSET_SHARE * column),
        table_height=len(rows) * row_height(sizes) + 2 * sizes.pad,
        margin=margin,
        width=width,
        foot=lines,
    )


def row_height(sizes: Sizes) -> int:
    return round(1.55 * sizes.text)


def _values_width(rows: Sequence[CompareRow], sizes: Sizes) -> int:
    """Width of the widest value and the clear space after it."""
    values = [text_width_px(value, sizes.text) for row in rows for value in row.values]
    return max(values, default=0) + 2 * sizes.pad


def _least_column(rows: Sequence[CompareRow], lights: Sequence[str], sizes: Sizes) -> int:
    """Width that values and differences need beside one another, and the light's words beside the plan."""
    changes = [text_width_px(change, sizes.text) for row in rows for change in row.changes]
    above = max(text_width_px(words, sizes.text) for words in lights) + sizes.pad
    return max(_values_width(rows, sizes) + max(changes, default=0), above + round(ASPECT * sizes.icon))
