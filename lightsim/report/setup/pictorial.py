"""The set in three dimensions, in paper colours, its items numbered as on the drawing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.sheet_of_paper import XY, Box, Sheet
from lightsim.report.setup.drafting import POINTS, balloon_size, draw_balloon
from lightsim.report.setup.items import Item, items_of
from lightsim.report.setup.labels import Label, Room
from lightsim.report.setup.plan_records import BACKDROP, SetupPlan, length_words
from lightsim.report.setup.solid.whole import FLOWER, TABLE, Solids
from lightsim.report.setup.view_3d import View3D, render
from lightsim.report.theme import Theme
from lightsim.report.words import plain
from lightsim.scene.solid_bodies import CAMERA

if TYPE_CHECKING:
    from collections.abc import Sequence

VIEW_DPI = 220.0
LEAST_PX = 12  # of a thing that has to show for it to be named


def pictorial(solids: Solids, box: Box, theme: Theme) -> View3D:
    """The view for a box of the page. Raises NoOpenGL, in one sentence, where there is no OpenGL."""
    left, top, right, bottom = box
    per_mm = VIEW_DPI / 25.4
    return render(solids, round((right - left) * per_mm), round((bottom - top) * per_mm), theme.paper)


def draw_pictorial(sheet: Sheet, seen: View3D, plan: SetupPlan, solids: Solids, box: Box) -> None:
    """The view in its box with its references; what is too far away is named below it."""
    taken = sheet.picture(seen.picture, box)
    sheet.pictures.remove(taken)  # references stand on it
    room = Room((box[0] + 1.0, box[1] + 1.0, box[2] - 1.0, box[3] - 1.0))
    _occupy(room, seen, box)
    items = items_of(plan)
    y = box[3] - 1.5
    words = [f"lines on the table: every {plain(solids.grid_mm, 0)} mm"]
    words += [
        f"too far away to be shown: {item.number}, {length_words(item.place.distance_mm)}"
        for item in items
        if item.place is not None and item.thing in solids.beyond
    ]
    for line in words:
        taken = sheet.text(box[0] + 1.5, y, line, POINTS, sheet.theme.quiet)
        sheet.bar((taken[0] - 1.5, taken[1] - 0.6, taken[2] + 1.0, taken[3] + 0.6), sheet.theme.paper, 3.0)
        room.take(taken)
        y -= 4.0
    shown = [(item, at) for item in items if (at := _anchor(seen, solids, item, box)) is not None]
    labels = [Label(at, balloon_size(item.cautions)) for item, at in shown]
    for (item, at), place in zip(shown, room.place(labels), strict=True):
        draw_balloon(sheet, place, item.number, at, item.cautions, on_a_picture=True)


def _occupy(room: Room, seen: View3D, box: Box) -> None:
    """What is in the picture costs a reference: little on the table and the backdrop."""
    height, width = room.drawn.shape
    rows = np.clip((np.arange(height) + 0.5) / height * seen.things.shape[0], 0, seen.things.shape[0] - 1)
    columns = np.clip((np.arange(width) + 0.5) / width * seen.things.shape[1], 0, seen.things.shape[1] - 1)
    things = seen.things[rows.astype(int)][:, columns.astype(int)]
    weights = [0.06 if name in (TABLE, BACKDROP) else 1.0 for name in seen.names]
    room.drawn = np.maximum(room.drawn, np.array([*weights, 0.0])[things])


def _anchor(seen: View3D, solids: Solids, item: Item, box: Box) -> XY | None:
    """The visible point of a thing nearest to its middle, on the page; None where it is hidden."""
    if item.thing not in seen.names:
        return None
    wanted: Sequence[str] = {CAMERA: ("body",), FLOWER: ("petal",)}.get(
        item.thing, ("face", "card", "board", "head")
    )
    middle = np.vstack([part.hull for part in solids.of(item.thing) if part.what in wanted]).mean(axis=0)
    return _nearest(seen.things == seen.names.index(item.thing), seen.viewpoint.seen(middle)[0], box)


def _nearest(shows: NDArray[np.bool_], share: NDArray, box: Box) -> XY | None:
    """The pixel of those that show which is nearest to a place in the picture, on the page; None for none."""
    rows, columns = np.nonzero(shows)
    if len(rows) < LEAST_PX:
        return None
    height, width = shows.shape
    target = np.clip(share, 0.02, 0.98) * [width, height]
    nearest = int(np.argmin(np.hypot(columns - target[0], rows - target[1])))
    left, top, right, bottom = box
    x, y = columns[nearest] / width, rows[nearest] / height
    return float(left + x * (right - left)), float(top + y * (bottom - top))
