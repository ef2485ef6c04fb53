"""The 3-D view on the page, with the names of what stands there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.lens_pieces import CLOSE_UP, SECOND, TELECONVERTER, TUBE
from lightsim.report.drawing.grey_card import ACCENT, PAGE, PLATE, PLATE_LABEL, PLATE_TEXT, SMALLEST_PT
from lightsim.report.setup.cautions_block import WARNING
from lightsim.report.setup.labels import Label, Line, Room, leader
from lightsim.report.setup.paper import XY, Box, Paper, text_width_mm
from lightsim.report.setup.places import BACKDROP
from lightsim.report.setup.plan_records import SetupPlan, by_name, length
from lightsim.report.setup.plan_words import called
from lightsim.report.setup.solid import Solids
from lightsim.report.setup.solid.whole import FLOWER, TABLE
from lightsim.report.setup.views import put_label
from lightsim.report.words import plain
from lightsim.scene.bodies import CAMERA

if TYPE_CHECKING:
    from lightsim.report.setup.view_3d import View3D

POINTS = SMALLEST_PT
LEAST_PX = 12  # of a thing that has to show for it to be named


def draw_plate(
    paper: Paper,
    seen: View3D,
    plan: SetupPlan,
    solids: Solids,
    box: Box,
    picture: NDArray[np.uint8] | None = None,
    picture_mm: float = 0.0,
) -> None:
    """The view in its box, labelled; with the photograph, so wide, in its emptiest corner if there is one."""
    paper.bar(box, PLATE)
    paper.picture(seen.picture, box)
    room = Room((box[0] + 1.5, box[1] + 1.5, box[2] - 1.5, box[3] - 1.5))
    _occupy(room, seen, box)
    if picture is not None:
        corner = _emptiest(room, box, picture_mm, picture_mm * picture.shape[0] / picture.shape[1])
        paper.bar((corner[0] - 0.5, corner[1] - 0.5, corner[2] + 0.5, corner[3] + 0.5), PAGE, zorder=2)
        paper.picture(picture, corner, zorder=3)
        room.take(corner)
    _corner_words(paper, room, plan, solids, box)
    labels = _labels(seen, plan, solids, box)
    for label, place in zip(labels, room.place(labels), strict=True):
        ends = leader(label.at, place)
        if ends is not None:
            paper.line(ends, PLATE_TEXT, 0.15, zorder=6)
            paper.disc(label.at, 0.35, PLATE_TEXT, zorder=6)
        put_label(paper, label, place)


def _emptiest(room: Room, box: Box, width: float, height: float) -> Box:
    """The upper corner of a plate, or failing that the lower right one, where least is hidden."""
    left, top, right, bottom = box[0] + 2.0, box[1] + 2.0, box[2] - 2.0, box[3] - 2.0
    corners = [
        (left, top, left + width, top + height),
        (right - width, top, right, top + height),
        (right - width, bottom - height, right, bottom),
    ]
    return min(corners, key=room.drawn_share)


def _corner_words(paper: Paper, room: Room, plan: SetupPlan, solids: Solids, box: Box) -> None:
    words = f"Lines on the table: every {plain(solids.grid_mm, 0)} mm"
    left, bottom = box[0] + 3.0, box[3] - 2.6
    width = text_width_mm(words, POINTS)
    paper.bar((left - 1.0, bottom - 3.2, left + width + 1.0, bottom + 1.2), PLATE, alpha=0.72, zorder=7)
    room.take(paper.text(left, bottom, words, POINTS, PLATE_LABEL))
    far = [place for place in plan.places if place.name not in seen_names(solids)]
    for number, place in enumerate(far):
        line = f"Too far away to be shown: {place.name}, {length(place.distance_mm)}"
        room.take(paper.text(left, bottom - 4.0 * (number + 1), line, POINTS, PLATE_LABEL))


def seen_names(solids: Solids) -> set[str]:
    """Names of what the 3-D view shows."""
    return {part.thing for part in solids.parts if part.thing not in solids.beyond}


def _occupy(room: Room, seen: View3D, box: Box) -> None:
    """What is in the picture costs a label: little on the table and the backdrop."""
    height, width = room.drawn.shape
    rows = np.clip((np.arange(height) + 0.5) / height * seen.things.shape[0], 0, seen.things.shape[0] - 1)
    columns = np.clip((np.arange(width) + 0.5) / width * seen.things.shape[1], 0, seen.things.shape[1] - 1)
    things = seen.things[rows.astype(int)][:, columns.astype(int)]
    weights = [0.06 if name in (TABLE, BACKDROP) else 1.0 for name in seen.names]
    room.drawn = np.maximum(room.drawn, np.array([*weights, 0.0])[things])


def _labels(seen: View3D, plan: SetupPlan, solids: Solids, box: Box) -> list[Label]:
    places, labels = by_name(plan.places), []
    for name in (name for name in seen.names if name != TABLE):
        at = _anchor(seen, solids, name, box)
        if at is None:
            continue
        mark = f" {WARNING}" if plan.marks_of(name) else ""
        if name in places:
            place = places[name]
            fill = ACCENT if place.is_light else PLATE_TEXT
            far = Line(f"{length(place.distance_mm)} away", PLATE_TEXT)
            title = Line(called(place, bool(mark)), fill, True)
            labels.append(Label(at, (title, far), POINTS))
        else:
            labels.append(Label(at, (Line(name + mark, PLATE_TEXT, True),), POINTS))
    return [*labels, *_lens_labels(seen, solids, box)]


def _anchor(seen: View3D, solids: Solids, name: str, box: Box) -> XY | None:
    """The visible point of a thing nearest to its middle, on the page; None where it is hidden."""
    wanted = {CAMERA: ("body",), FLOWER: ("petal",)}.get(name, ("face", "card", "board", "head"))
    middle = np.vstack([part.hull for part in solids.of(name) if part.what in wanted]).mean(axis=0)
    return _nearest(seen.things == seen.names.index(name), seen.viewpoint.seen(middle)[0], box)


def _nearest(shows: NDArray[np.bool_], share: NDArray, box: Box) -> XY | None:
    """The pixel of those that show which is nearest to a place in the picture, on the page; None for none."""
    rows, columns = np.nonzero(shows)
    if len(rows) < LEAST_PX:
        return None
    height, width = shows.shape
    target = np.clip(share, 0.02, 0.98) * [width, height]
    nearest = int(np.argmin(np.hypot(columns - target[0], rows - target[1])))
    return _on_page(np.array([columns[nearest] / width, rows[nearest] / height]), box)


def _on_page(share: NDArray, box: Box) -> XY:
    left, top, right, bottom = box
    return float(left + share[0] * (right - left)), float(top + share[1] * (bottom - top))


def _lens_labels(seen: View3D, solids: Solids, box: Box) -> list[Label]:
    """Tubes, with their lengths, and what else is put on, by name."""
    labels = []
    for what in (TUBE, TELECONVERTER, SECOND, CLOSE_UP):
        parts = [part for part in solids.of(CAMERA) if part.what == what]
        if parts:
            middle = np.vstack([part.vertices for part in parts]).mean(axis=0)
            lengths = " + ".join(plain(float(np.ptp(part.bounds[:, 2])), 1) for part in parts)
            many = "s" if len(parts) > 1 else ""
            words = f"tube{many} {lengths} mm" if what == TUBE else what
            shows = np.isin(seen.pieces, [n for n, part in enumerate(seen.parts) if part.what == what])
            at = _nearest(shows, seen.viewpoint.seen(middle)[0], box)
            if at is not None:
                labels.append(Label(at, (Line(words, PLATE_TEXT),), POINTS))
    return labels
