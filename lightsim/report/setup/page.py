"""One A4 page from which someone else builds the set.

On it: the set in three dimensions, from above and from the side, a table of places, the settings, the
picture that it gives, and the cautions that it calls for.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.grey_card import INK, LABEL, SMALLEST_PT
from lightsim.report.setup.arrangement import INSET_MM, MARGIN_MM, Layout, layout
from lightsim.report.setup.cautions_block import draw_cautions
from lightsim.report.setup.paper import Box, Paper, line_mm
from lightsim.report.setup.places_table import draw_table
from lightsim.report.setup.plan_records import SetupPlan
from lightsim.report.setup.plate_3d import draw_plate
from lightsim.report.setup.scale import view_from_above, view_from_the_side
from lightsim.report.setup.settings_block import draw_settings
from lightsim.report.setup.solid import Solids
from lightsim.report.setup.view_3d import View3D, render
from lightsim.report.setup.views import draw_view
from lightsim.report.words import sentence

TITLE_POINTS = 17.0
VIEW_DPI = 220.0  # of the 3-D view on the page


def draw_page(
    plan: SetupPlan, solids: Solids, picture: NDArray[np.uint8] | None = None, with_3d: bool = True
) -> Paper:
    """The whole page. picture : (h, w, 3) of what the set gives, or None.

    Raises NoOpenGL, in one sentence, where the 3-D view is wanted and there is no OpenGL.
    """
    places = layout(plan, solids, picture, with_3d)
    seen = None if places.solid is None else _rendered(solids, places.solid)
    paper = Paper.blank(places.height)
    _title(paper, plan, places)
    if places.picture is not None and picture is not None:
        paper.picture(picture, places.picture)
    draw_settings(paper, plan, places.settings)
    if seen is not None and places.solid is not None:
        draw_plate(paper, seen, plan, solids, places.solid, picture if places.inset else None, INSET_MM)
    views = view_from_above(solids.up), view_from_the_side(solids.up)
    for view, box, ratio in zip(views, (places.above, places.side), places.ratios, strict=True):
        draw_view(paper, view, plan, solids, box, ratio)
    draw_table(paper, plan, places.table)
    draw_cautions(paper, plan, places.cautions)
    return paper


def _rendered(solids: Solids, box: Box) -> View3D:
    left, top, right, bottom = box
    per_mm = VIEW_DPI / 25.4
    return render(solids, round((right - left) * per_mm), round((bottom - top) * per_mm))


def _title(paper: Paper, plan: SetupPlan, places: Layout) -> None:
    y = MARGIN_MM + 5.5
    box = paper.text(MARGIN_MM, y, sentence(plan.name), TITLE_POINTS, INK, bold=True)
    paper.text(box[2] + 3.0, y, "plan of the set-up", TITLE_POINTS * 0.7, LABEL)
    for number, line in enumerate(places.about, 1):
        paper.text(MARGIN_MM, y + 1.5 + number * line_mm(SMALLEST_PT), line, SMALLEST_PT, LABEL)
