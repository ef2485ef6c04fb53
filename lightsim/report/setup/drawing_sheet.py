"""The first sheet of a plan: the set from the side and from above, and the table of its items."""

from __future__ import annotations

import numpy as np

from lightsim.report.drawing.sheet_of_paper import Box, Sheet
from lightsim.report.page_options import PageOptions
from lightsim.report.setup.drafting import (
    FIRST,
    TITLE_BLOCK_MM,
    WIDE_MM,
    TitleBlock,
    draw_title_block,
)
from lightsim.report.setup.items import draw_item_table, item_table_height_mm, items_of
from lightsim.report.setup.orthographic import OrthographicView
from lightsim.report.setup.plan_records import SetupPlan
from lightsim.report.setup.projection import (
    Scale,
    common_ratio,
    extent,
    view_from_above,
    view_from_the_side,
)
from lightsim.report.setup.solid import Solids
from lightsim.report.words import plain

FRAME_MM = 10.0  # from the paper's edge
_LEFT_MM, _RIGHT_MM, _TOP_MM, _BOTTOM_MM = 21.0, 21.0, 10.0, 14.0  # round what a view draws


def frame_box(sheet: Sheet) -> Box:
    """The frame of a drawing sheet, drawn."""
    box = (FRAME_MM, FRAME_MM, sheet.width_mm - FRAME_MM, sheet.height_mm - FRAME_MM)
    left, top, right, bottom = box
    ring = [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)]
    sheet.line(ring, sheet.theme.ink, WIDE_MM)
    return box


def drawing_sheet(
    plan: SetupPlan, solids: Solids, block: TitleBlock, options: PageOptions
) -> tuple[Sheet, float]:
    """The sheet, and its scale: mm of the set for one on the paper."""
    paper = options.paper_size
    sheet = Sheet.blank(paper.short_mm, paper.long_mm, options.theme, block.title, options.dpi)
    left, top, right, bottom = frame_box(sheet)
    items = items_of(plan)
    inner = right - left - 6.0
    table = item_table_height_mm(items, inner)
    low = bottom - TITLE_BLOCK_MM[1] - table - 3.0
    views = [view_from_the_side(solids.up), view_from_above(solids.up)]
    if block.projection != FIRST:
        views.reverse()
    extents = np.array([extent(view, solids) for view in views])  # (2, least and greatest, 2)
    across = extents[:, 0, 0].min(), extents[:, 1, 0].max()
    sizes = np.array([(across[1] - across[0], high - least) for (_, least), (_, high) in extents])
    width = right - left - _LEFT_MM - _RIGHT_MM
    height = low - top - 2.0 * (_TOP_MM + _BOTTOM_MM)
    ratio = common_ratio(sizes, width, height)
    spare = 0.5 * max(height - float(sizes[:, 1].sum()) / ratio, 0.0)
    x = left + _LEFT_MM + 0.5 * width - 0.5 * (across[0] + across[1]) / ratio
    y = top
    for view, (_, most), (_, high) in zip(views, extents, sizes, strict=True):
        deep = _TOP_MM + high / ratio + spare + _BOTTOM_MM
        origin = (x, y + _TOP_MM + 0.5 * spare + float(most[1]) / ratio)
        drawn = (left + _LEFT_MM, y + _TOP_MM - 3.0, right - _RIGHT_MM, y + deep - _BOTTOM_MM + 3.0)
        box = (left + 1.0, y + 1.0, right - 1.0, y + deep - 1.0)
        OrthographicView(sheet, view, plan, solids, items, Scale(origin, ratio), box, drawn).draw()
        y += deep
    draw_item_table(sheet, items, (left + 3.0, low + 1.0, right - 3.0, low + table))
    scaled = TitleBlock(**{**block.__dict__, "scale": f"1 : {plain(ratio, 1)} on {paper.name.upper()}"})
    draw_title_block(sheet, right, bottom, scaled)
    return sheet, ratio
