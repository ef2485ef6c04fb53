"""The set from above and from the side, to scale, with what a tape measure and a protractor need."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.grey_card import (
    ACCENT,
    PLATE,
    PLATE_LABEL,
    PLATE_LINE,
    PLATE_TEXT,
    POINT_MM,
    RGB8,
    SMALLEST_PT,
)
from lightsim.report.setup.cautions_block import WARNING
from lightsim.report.setup.labels import Label, Line, Room, leader
from lightsim.report.setup.paper import ASCENT, Box, Paper, line_mm, text_width_mm
from lightsim.report.setup.places import BACKDROP
from lightsim.report.setup.plan_records import Place, SetupPlan, length, room_axes
from lightsim.report.setup.plan_words import (
    called,
    height_words,
    offsets,
    raised_words,
    round_words,
    tilt_words,
)
from lightsim.report.setup.scale import FAINT, SUPPORTS, Scale, View, backdrop_is_off, drawing_box, extent
from lightsim.report.setup.solid import Part, Solids
from lightsim.report.setup.solid.whole import FLOWER, TABLE
from lightsim.report.setup.viewpoint import hull_of
from lightsim.report.words import plain
from lightsim.scene.bodies import CAMERA

POINTS = SMALLEST_PT
MOST_IN_FULL = 8  # with more places than that, labels from above leave out the angle
BARS_MM = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000, 50000, 100000)
_EDGE: RGB8 = (14, 14, 14)
_TABLE: RGB8 = (50, 48, 45)
_SUPPORT: RGB8 = (82, 82, 84)


def draw_view(paper: Paper, view: View, plan: SetupPlan, solids: Solids, box: Box, ratio: float) -> None:
    """One drawing on its plate."""
    _Drawing(paper, view, plan, solids, box, ratio).draw()


class _Drawing:
    def __init__(self, paper: Paper, view: View, plan: SetupPlan, solids: Solids, box: Box, ratio: float):
        self.paper, self.view, self.plan, self.solids, self.box = paper, view, plan, solids, box
        self.above = abs(float(view.along @ solids.up)) < 1e-9
        low, high = extent(view, solids)
        left, top, right, bottom = drawing_box(box)
        middle = 0.5 * (low + high) / ratio
        origin = 0.5 * (left + right) - middle[0], 0.5 * (top + bottom) + middle[1]
        self.scale = Scale(origin, ratio)
        self.room = Room((box[0] + 1.5, box[1] + 1.5, box[2] - 1.5, box[3] - 1.5))
        self.labels: list[Label] = []
        self.off = (*solids.far, *((BACKDROP,) if backdrop_is_off(view, solids) else ()))
        # a camera right above the subject is drawn see-through from above
        camera = np.vstack([part.bounds for part in solids.of(CAMERA) if part.what not in SUPPORTS])
        toward = camera @ room_axes(solids.up)[1]
        self._camera_over = float(toward.min()) < 20.0 and plan.camera.front_up_mm > 0.0

    def draw(self) -> None:
        """Plate, solids, lines, labels."""
        self.paper.bar(self.box, PLATE)
        self._heading()
        self._bar()
        self._table()
        for part in self._ordered():
            self._part(part)
        self._protractor()
        self._axis()
        self._rays()
        self._measures()
        self._far()
        self._letter()

    def _heading(self) -> None:
        left, top, right, _ = self.box
        written = self.paper.text(left + 3.0, top + 6.0, self.view.name, 10.0, PLATE_TEXT, bold=True)
        self.room.take((left, top, written[2] + 2.0, written[3] + 0.6))
        words = f"1 : {plain(self.scale.ratio, 1)} on A4"
        x = right - 3.0 - text_width_mm(words, POINTS)
        self.paper.bar((x - 0.8, top + 2.8, right - 2.2, top + 7.4), PLATE, alpha=0.72, zorder=7)
        self.room.take(self.paper.text(x, top + 6.0, words, POINTS, PLATE_LABEL))
        if not self.above:
            tail = "from the right of the camera"
            x = written[2] + 2.5
            if x + text_width_mm(tail, POINTS) < right - 28.0:
                self.room.take(self.paper.text(x, top + 6.0, tail, POINTS, PLATE_LABEL))

    def _bar(self) -> None:
        """A bar of a round length."""
        left, _, right, bottom = self.box
        longest = 0.3 * (right - left) * self.scale.ratio
        length = max((bar for bar in BARS_MM if bar <= longest), default=BARS_MM[0])
        x, y, wide = left + 3.0, bottom - 3.2, length / self.scale.ratio
        for ends in (
            ((x, y), (x + wide, y)),
            ((x, y - 1.2), (x, y + 1.2)),
            ((x + wide, y - 1.2), (x + wide, y + 1.2)),
        ):
            self.paper.line(ends, PLATE_TEXT, 0.3)
        written = self.paper.text(x + wide + 1.5, y + 1.0, f"{length} mm", POINTS, PLATE_TEXT)
        self.room.take((x - 1.0, y - 2.0, written[2], bottom))

    def _page(self, points: NDArray | Sequence) -> NDArray[np.float64]:
        return self.scale.page(self.view.flat(np.asarray(points, float)))

    def _table(self) -> None:
        for part in self.solids.of(TABLE):
            if part.what == "top":
                outline = hull_of(self._page(part.vertices))
                self.paper.polygon(outline, _TABLE, clip=self.box, zorder=1.5)
                if not self.above:
                    self.room.draw(outline, 0.3)

    def _protractor(self) -> None:
        """A ring round the subject with a tick every 15 degrees."""
        centre = np.array(self.scale.origin)
        left, top, right, bottom = drawing_box(self.box)
        reach = [centre[0] - left, right - centre[0], centre[1] - top, bottom - centre[1]]
        radius = max(0.62 * float(np.sort(reach)[1]), 14.0)
        self.ring_mm = radius
        turn = np.radians(np.arange(0.0, 361.0, 3.0))
        rim = centre + radius * np.column_stack([np.sin(turn), np.cos(turn)])
        self.paper.line(rim, PLATE_LINE, 0.15, clip=self.box, zorder=1.8)
        for tick in range(0, 360, 15):
            out = np.array([sin(radians(tick)), cos(radians(tick))])
            long = 2.2 if tick % 45 == 0 else 1.0
            ends = np.array([centre + radius * out, centre + (radius + long) * out])
            self.paper.line(ends, PLATE_LINE, 0.2, clip=self.box, zorder=1.8)
            if tick % 45 == 0:
                self._tick_words(centre + (radius + 4.4) * out, tick)

    def _tick_words(self, at: NDArray, tick: int) -> None:
        """The degrees at a tick, where nothing is drawn: from the camera's side, or from the level."""
        value = min(tick, 360 - tick) if self.above else abs(90 - tick % 180)
        words, (left, top, right, bottom) = f"{value}°", self.box
        half = 0.5 * text_width_mm(words, POINTS)
        box = (float(at[0]) - half, float(at[1]) - 1.6, float(at[0]) + half, float(at[1]) + 1.2)
        inside = left + 2 < box[0] and box[2] < right - 2 and top + 9 < box[1] and box[3] < bottom - 8
        if inside and self.room.drawn_share(box) < 0.02:
            self.paper.text(float(at[0]), float(at[1]) + 1.0, words, POINTS, PLATE_LINE, anchor="middle")
            self.room.take(box)

    def _ordered(self) -> list[Part]:
        """The parts from the farthest to the nearest."""
        shown = [
            part for part in self.solids.parts if part.what not in FAINT and part.thing not in self.solids.far
        ]
        return sorted(shown, key=lambda part: float((part.vertices @ self.view.toward_viewer).mean()))

    def _part(self, part: Part) -> None:
        outline = hull_of(self._page(part.hull))
        over = self.above and part.thing == CAMERA and self._camera_over
        if len(outline) < 3:
            self.paper.line(outline, part.colour, 0.6, clip=self.box)
            return
        if part.what in SUPPORTS and part.thing != FLOWER:
            self.paper.polygon(outline, _SUPPORT, _EDGE, 0.1, clip=self.box, zorder=2.0)
            self.room.draw(outline, 0.3)
            return
        colour = _flower_colour(part) if part.what == "petal" else part.colour
        if over:
            edge = PLATE_LABEL if part.what in ("body", "lens", "tube") else None
            self.paper.polygon(outline, colour, alpha=0.35, clip=self.box, zorder=2.4)
            self.paper.polygon(outline, None, edge, 0.15, clip=self.box, zorder=2.5)
        elif part.what == "board":
            self.paper.polygon(outline, colour, PLATE_LABEL, 0.2, clip=self.box, zorder=2.5)
        else:
            self.paper.polygon(outline, colour, _EDGE, 0.15, clip=self.box, zorder=2.5)
        self.room.draw(outline, 0.15 if part.what == "board" else 1.0)

    def _axis(self) -> None:
        """The lens axis, from the camera through the subject to the backdrop."""
        far = -self._backdrop_mm() if self._backdrop_mm() else 0.0
        ends = self._page([[0.0, 0.0, self.plan.camera.front_mm], [0.0, 0.0, far]])
        if float(np.hypot(*(ends[0] - ends[1]))) > 1.0:
            self.paper.line(ends, PLATE_TEXT, 0.2, (2.4, 0.8, 0.4, 0.8), clip=self.box, zorder=3.5)
            self.room.draw(ends, 1.0, 0.5)

    def _backdrop_mm(self) -> float:
        return next((place.distance_mm for place in self.plan.places if place.kind == BACKDROP), 0.0)

    def _centre(self, place: Place) -> NDArray[np.float64]:
        axes = room_axes(self.solids.up)
        return np.array([place.right_mm, place.toward_mm, place.up_mm]) @ axes

    def _near(self) -> Iterator[Place]:
        return (place for place in self.plan.places if place.name not in self.off)

    def _rays(self) -> None:
        """From each light and card to the subject; the subject's mark over all."""
        subject = np.array(self.scale.origin)
        for place in self._near():
            if place.kind != BACKDROP:
                end = self._page(self._centre(place))[0]
                colour = ACCENT if place.is_light else PLATE_LABEL
                self.paper.line(np.array([subject, end]), colour, 0.25, (1.4, 1.0), clip=self.box, zorder=3.6)
                self.room.draw(np.array([subject, end]), 1.0, 0.5)
                self.paper.disc((float(end[0]), float(end[1])), 0.55, colour, _EDGE, 0.1, zorder=3.8)
        self.paper.disc(self.scale.origin, 1.3, None, PLATE_TEXT, 0.3, zorder=4)
        self.paper.disc(self.scale.origin, 0.4, PLATE_TEXT, zorder=4)
        self.room.draw(subject + np.array([[-2, -2], [2, -2], [2, 2], [-2, 2]]), 4.0)

    def _measures(self) -> None:
        """Labels for all that stands on the set."""
        for place in self._near():
            self._label(
                self._page(self._centre(place))[0],
                self._name(place),
                *self._words(place),
                light=place.is_light,
            )
        self._camera_label()
        if not self.above:
            self._side_measures()

    def _name(self, place: Place) -> str:
        return called(place, bool(self.plan.marks_of(place.name)))

    def _words(self, place: Place) -> list[str]:
        if self.above:
            few = len(self.plan.places) <= MOST_IN_FULL
            level = offsets(place.right_mm, -place.toward_mm, "←→", "↓↑")
            return [level or "in the plumb line", *([round_words(place.round_deg)] if level and few else [])]
        return [f"{height_words(place.up_mm)}, {raised_words(place.raised_deg)}"]

    def _label(self, at: NDArray, name: str, *words: str, light: bool = False) -> None:
        lines = [Line(name, ACCENT if light else PLATE_TEXT, True)] if name else []
        lines += [Line(text, PLATE_TEXT) for text in words]
        left, top, right, bottom = self.box
        x, y = (
            min(max(float(at[0]), left + 1.0), right - 1.0),
            min(max(float(at[1]), top + 1.0), bottom - 1.0),
        )
        self.labels.append(Label((x, y), tuple(lines), POINTS))

    def _camera_label(self) -> None:
        camera = self.plan.camera
        body = next(part for part in self.solids.of(CAMERA) if part.what == "body")
        at = self._page(body.vertices.mean(axis=0))[0]
        name = f"camera {WARNING}" if self.plan.marks_of(CAMERA) else "camera"
        if self.above:
            front = offsets(0.0, -camera.front_toward_mm, "←→", "↓↑")
            plumb = f"plumb {'over' if camera.front_up_mm > 0 else 'under'} the subject"
            words = [f"lens front {front}" if front else plumb]
        else:
            words = [f"lens front {height_words(camera.front_up_mm)}"]
        self._label(at, name, *words)

    def _side_measures(self) -> None:
        """True lengths along the lens axis, its angle, the subject's height above the table."""
        camera, distance = self.plan.camera, self._backdrop_mm()
        self._label(
            self._page([[0.0, 0.0, 0.5 * camera.front_mm]])[0],
            "",
            f"{length(camera.front_mm)} to the lens",
        )
        if distance and BACKDROP not in self.off:
            at = self._page([[0.0, 0.0, -0.6 * distance]])[0]
            self._label(at, "", f"{length(distance)} to the backdrop")
        self._angle()
        low = np.array([0.0, 0.0, -self.solids.subject_above_table_mm]) @ room_axes(self.solids.up)
        ends = self._page([np.zeros(3), low])
        self.paper.line(ends, PLATE_LABEL, 0.2, (0.5, 0.7), clip=self.box, zorder=3.4)
        words = f"{plain(self.solids.subject_above_table_mm, 0)} mm or more"
        self._label(0.35 * ends[0] + 0.65 * ends[1], "", words, "above the table")

    def _angle(self) -> None:
        """The arc from the level to the lens axis."""
        down = self.plan.camera.looks_down_deg
        centre, radius = np.array(self.scale.origin), 0.55 * self.ring_mm
        level = centre - [self.ring_mm, 0.0]
        self.paper.line(np.array([centre, level]), PLATE_LINE, 0.2, (1.0, 0.8), clip=self.box, zorder=1.9)
        turn = np.radians(np.linspace(0.0, down, 40))
        arc = centre + radius * np.column_stack([-np.cos(turn), -np.sin(turn)])
        if abs(down) >= 1.0:
            self.paper.line(arc, PLATE_TEXT, 0.25, clip=self.box, zorder=3.6)
            self.room.draw(arc, 1.0, 0.5)
        self._label(arc[len(arc) // 2], "", tilt_words(down))

    def _far(self) -> None:
        """Arrows at the plate's edge toward what is too far away to be on it."""
        left, top, right, bottom = drawing_box(self.box)
        for place in self.plan.places:
            if place.name not in self.off:
                continue
            flat = self.view.flat(self._centre(place))[0]
            size = float(np.hypot(*flat))
            out = np.array([flat[0], -flat[1]]) / size if size > 1.0 else np.array([0.0, -1.0])
            tip = _edge(np.array(self.scale.origin), out, (left, top, right, bottom))
            across = np.array([-out[1], out[0]])
            colour = ACCENT if place.is_light else PLATE_TEXT
            head = np.array([tip, tip - 3.0 * out + 1.3 * across, tip - 3.0 * out - 1.3 * across])
            self.paper.line(np.array([tip - 12.0 * out, tip - 2.0 * out]), colour, 0.5, zorder=5)
            self.paper.polygon(head, colour, zorder=5)
            self.room.draw(np.array([tip - 12.0 * out, tip]), 3.0, 2.5)
            words = (*self._words(place), f"{length(place.distance_mm)} away, off the drawing")
            self._label(tip - 6.0 * out, self._name(place), *words, light=place.is_light)

    def _letter(self) -> None:
        """Put the labels down, each with a leader where it stands off."""
        for label, box in zip(self.labels, self.room.place(self.labels), strict=True):
            ends = leader(label.at, box)
            if ends is not None:
                self.paper.line(ends, PLATE_LABEL, 0.15, zorder=6)
            put_label(self.paper, label, box)


def _edge(start: NDArray, out: NDArray, box: Box) -> NDArray[np.float64]:
    """Where a line from inside a box leaves it."""
    ends = np.where(out > 0.0, box[2:], box[:2])
    steps = np.divide(ends - start, out, out=np.full(2, np.inf), where=np.abs(out) > 1e-9)
    return np.asarray(start + steps.min() * out)


def put_label(paper: Paper, label: Label, box: Box) -> None:
    """A label's lines in its box, on a veil of the plate's colour."""
    left, top, right, bottom = box
    paper.bar((left - 0.4, top - 0.1, right + 0.4, bottom + 0.1), PLATE, alpha=0.72, zorder=7)
    for number, line in enumerate(label.lines):
        baseline = top + ASCENT * label.points * POINT_MM + number * line_mm(label.points)
        paper.text(left, baseline, line.text, label.points, line.fill, line.bold)


def _flower_colour(part: Part) -> RGB8:
    if part.vertex_colours is None:
        return part.colour
    red, green, blue = np.median(part.vertex_colours, axis=0)[:3]
    return int(red), int(green), int(blue)
