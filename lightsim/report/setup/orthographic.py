"""One view of the set as a technical drawing: outlines, hidden lines, axes, dimensions, item references."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.sheet_of_paper import Box, Sheet, arc
from lightsim.report.setup.drafting import (
    ADJACENT,
    ARROW_MM,
    AXIS,
    HIDDEN,
    NARROW_MM,
    POINTS,
    WIDE_MM,
    balloon_size,
    draw_angle,
    draw_arrow,
    draw_balloon,
    draw_dimension,
)
from lightsim.report.setup.items import Item
from lightsim.report.setup.labels import Label, Room
from lightsim.report.setup.plan_records import (
    BACKDROP,
    Place,
    SetupPlan,
    bare_length,
    length_words,
    room_axes,
)
from lightsim.report.setup.projection import (
    Outline,
    Scale,
    View,
    backdrop_is_off,
    line_strings,
    outlines,
    shown_and_hidden,
)
from lightsim.report.setup.solid.whole import FLOWER, Solids
from lightsim.report.words import degrees, plain
from lightsim.scene.solid_bodies import CAMERA

_NAMING = ("face", "card", "board", "head", "lens", "petal")  # parts that a reference may point at, in order
_MARGIN_MM = 7.0  # from what is drawn to the first dimension line beside it


@dataclass
class OrthographicView:
    """A view in the making.

    view : its direction.  box : its place on the page.  drawn : what the solids may take of it.
    """

    sheet: Sheet
    view: View
    plan: SetupPlan
    solids: Solids
    items: Sequence[Item]
    scale: Scale
    box: Box
    drawn: Box
    shapes: list[Outline] = field(default_factory=list)

    def draw(self) -> None:
        """All of it."""
        self.above = abs(float(self.view.along @ self.solids.up)) < 1e-9
        self.room = Room(self.box)
        self.shapes = outlines(self.solids, self.view, self.scale)
        self.off = {*self.solids.far, *((BACKDROP,) if backdrop_is_off(self.view, self.solids) else ())}
        self._heading()
        self._supports()
        for shape in self.shapes:
            if shape.thing not in self.off:
                self._outline(shape)
        self._axes()
        if not self.above:
            self._table()
            self._tilt()
        self._dimensions()
        self._off_the_drawing()
        self._references()

    def _page(self, points: NDArray | Sequence) -> NDArray[np.float64]:
        return self.scale.page(self.view.flat(np.asarray(points, float)))

    def _line(
        self, points: NDArray, width: float, dashes: tuple[float, ...] = (), weight: float = 1.0
    ) -> None:
        self.sheet.line(points, self.sheet.theme.ink, width, dashes, clip=self.drawn)
        self.room.draw(points, weight, 0.8)

    def _heading(self) -> None:
        left, top, _, _ = self.box
        box = self.sheet.text(left + 2.0, top + 4.0, self.view.name, POINTS, self.sheet.theme.quiet)
        self.room.take(box)

    def _supports(self) -> None:
        """Stands, holder and stem as adjacent parts: only their middle lines, since another's will differ."""
        for part in self.solids.parts:
            long = part.what in ("arm", "post", "stem")
            if long and part.thing not in self.solids.far:
                middle = part.vertices.mean(axis=0)
                _, _, axes = np.linalg.svd(part.vertices - middle, full_matrices=False)
                reach = (part.vertices - middle) @ axes[0]
                ends = self._page([middle + reach.min() * axes[0], middle + reach.max() * axes[0]])
                if float(np.hypot(*(ends[1] - ends[0]))) > 1.0:
                    self._line(ends, NARROW_MM, ADJACENT, 0.3)

    def _outline(self, shape: Outline) -> None:
        """What is seen of a part, wide; what another thing hides, dashed."""
        seen, hidden = shown_and_hidden(shape, self.shapes)
        if shape.thing == FLOWER and shape.what == "petal":
            for points in line_strings(shape.area.boundary):
                self.sheet.polygon(points, self.sheet.theme.wash, clip=self.drawn, zorder=1.0)
        for points in line_strings(seen):
            self._line(points, WIDE_MM)
        for points in line_strings(hidden):
            self._line(points, NARROW_MM, HIDDEN, 0.5)
        weight = 0.06 if shape.what in ("board", "card") else 0.8
        for polygon in getattr(shape.area, "geoms", [shape.area]):
            if polygon.geom_type == "Polygon":
                self.room.draw(np.asarray(polygon.exterior.coords), weight)

    def _axes(self) -> None:
        """The lens axis, and from each light and card to the subject a centre line."""
        back = next((p.distance_mm for p in self.plan.places if p.kind == BACKDROP), 0.0)
        ends = self._page([[0.0, 0.0, self.plan.camera.sensor_mm], [0.0, 0.0, -back]])
        if float(np.hypot(*(ends[0] - ends[1]))) > 2.0:
            self._line(ends, NARROW_MM, AXIS)
        subject = np.array(self.scale.origin)
        for place in self._near():
            if place.kind != BACKDROP:
                end = self._page(self._centre(place))[0]
                colour = self.sheet.theme.accent if place.is_light else self.sheet.theme.ink
                self.sheet.line(np.array([subject, end]), colour, NARROW_MM, AXIS, clip=self.drawn)
                self.room.draw(np.array([subject, end]), 1.0, 0.6)
        for arm in ((2.2, 0.0), (0.0, 2.2)):
            self.sheet.line(
                np.array([subject - arm, subject + arm]), self.sheet.theme.ink, WIDE_MM, zorder=5.0
            )

    def _centre(self, place: Place) -> NDArray[np.float64]:
        axes = room_axes(self.solids.up)
        return np.array([place.right_mm, place.toward_mm, place.up_mm]) @ axes

    def _near(self) -> Iterator[Place]:
        return (place for place in self.plan.places if place.name not in self.off)

    def _table(self) -> None:
        """The table's surface, with short strokes under it."""
        left, _, right, _ = self.drawn
        y = self.scale.origin[1] + self.solids.subject_above_table_mm / self.scale.ratio
        self._line(np.array([(left, y), (right, y)]), WIDE_MM)
        for x in np.arange(left + 4.0, right - 1.0, 9.0):
            self.sheet.line([(x, y), (x - 1.8, y + 1.8)], self.sheet.theme.ink, NARROW_MM)

    def _tilt(self) -> None:
        """The angle from the level to the lens axis, at the subject."""
        down = self.plan.camera.looks_down_deg
        centre = self.scale.origin
        radius = max(min(0.5 * self.plan.camera.front_mm / self.scale.ratio, 26.0), 12.0)
        level = np.array([centre, (centre[0] - radius - 3.0, centre[1])])
        if abs(down) < 1.0 or abs(down) > 89.5:
            return
        self._line(level, NARROW_MM)
        draw_angle(self.sheet, centre, radius, 180.0, 180.0 + down, degrees(abs(down)))
        turn = np.radians(180.0 + 0.5 * down)
        at = np.array(centre) + (radius + 4.0) * np.array([np.cos(turn), np.sin(turn)])
        self.room.take((at[0] - 5.0, at[1] - 3.0, at[0] + 4.0, at[1] + 3.0))
        self.room.draw(arc(centre, radius + 1.5, 180.0, 180.0 + down), 1.0, 7.0)

    def _dimensions(self) -> None:
        """Working distance and subject's height from the side; the key's place in both views."""
        subject = np.array(self.scale.origin)
        key = next(iter(self._near()), None)
        if key is not None and key.kind == BACKDROP:
            key = None
        at = subject if key is None else self._page(self._centre(key))[0]
        side, sign = self._emptier_side([subject, at])
        if not self.above:
            self._working_distance()
            low = subject + np.array([0.0, self.solids.subject_above_table_mm / self.scale.ratio])
            words = f"{plain(self.solids.subject_above_table_mm, 0)} min"
            self._upright(side, subject, low, words)
        if key is None:
            return
        if abs(at[1] - subject[1]) > 1.0:
            value = key.right_mm if self.above else key.up_mm
            below = not self.above and at[1] > subject[1]  # beside the subject's height, not over it
            self._upright(side + (8.0 * sign if below else 0.0), subject, at, bare_length(abs(value)))
        if self.above and abs(at[0] - subject[0]) > 1.0:
            y = self.drawn[3] + _MARGIN_MM
            off = np.array([[0.0, y - subject[1]], [0.0, y - at[1]]])
            self._dimension(subject, at, off, bare_length(abs(key.toward_mm)))

    def _emptier_side(self, places: Sequence[NDArray]) -> tuple[float, float]:
        """Where dimension lines stand beside the view, mm, and -1 at the left or 1 at the right: where
        extension lines cross less."""
        sides = ((self.drawn[0] - _MARGIN_MM, -1.0), (self.drawn[2] + _MARGIN_MM, 1.0))

        def crossed(side: tuple[float, float]) -> float:
            ends = [(min(side[0], float(p[0])), max(side[0], float(p[0])), float(p[1])) for p in places]
            return sum((b - a) * self.room.drawn_share((a, y - 0.3, b, y + 0.3)) for a, b, y in ends)

        return min(sides, key=crossed)

    def _upright(self, x: float, one: NDArray, other: NDArray, words: str) -> None:
        off = np.array([[x - one[0], 0.0], [x - other[0], 0.0]])
        self._dimension(one, other, off, words)

    def _dimension(self, one: NDArray, other: NDArray, off: NDArray, words: str) -> None:
        """A dimension, which references then keep clear of."""
        first, second = (float(one[0]), float(one[1])), (float(other[0]), float(other[1]))
        self._take(draw_dimension(self.sheet, first, second, off, words))
        ends = np.array([one, other]) + off
        for line in (ends, np.array([one, ends[0]]), np.array([other, ends[1]])):
            self.room.draw(line, 1.5, 1.0)

    def _take(self, box: Box) -> None:
        self.room.take((box[0] - 0.5, box[1] - 0.5, box[2] + 0.5, box[3] + 0.5))

    def _working_distance(self) -> None:
        """Along the lens axis, beside it where least is drawn."""
        one = np.array(self.scale.origin)
        other = self._page([[0.0, 0.0, self.plan.camera.front_mm]])[0]
        along = other - one
        size = float(np.hypot(*along))
        if size < 2.0:
            return
        across = np.array([along[1], -along[0]]) / size
        offs = [side * reach * across for reach in np.arange(9.0, 40.0, 3.0) for side in (1.0, -1.0)]
        off = min(offs, key=lambda each: self._crossed(one + each, other + each) + 0.02 * np.hypot(*each))
        words = bare_length(self.plan.camera.front_mm)
        self._dimension(one, other, off, words)

    def _crossed(self, one: NDArray, other: NDArray) -> float:
        """How much is drawn along a line and near it, 0..1, and more where it leaves the view."""
        shares = []
        for share in np.linspace(0.0, 1.0, 25):
            x, y = one + share * (other - one)
            inside = self.drawn[0] < x < self.drawn[2] and self.drawn[1] < y < self.drawn[3]
            shares.append(self.room.drawn_share((x - 1.5, y - 1.5, x + 1.5, y + 1.5)) if inside else 2.0)
        return float(np.mean(shares))

    def _off_the_drawing(self) -> None:
        """Arrows at the edge toward what is too far away, each with its reference and its distance."""
        left, top, right, bottom = self.drawn
        used: list[NDArray] = []
        for item in self.items:
            place = item.place
            if place is None or place.name not in self.off:
                continue
            flat = self.view.flat(self._centre(place))[0]
            size = float(np.hypot(*flat))
            out = np.array([flat[0], -flat[1]]) / size if size > 1.0 else np.array([0.0, -1.0])
            tip = _edge(np.array(self.scale.origin), out, (left, top, right, bottom))
            across = np.array([-out[1], out[0]])
            while any(float(np.hypot(*(tip - other))) < 6.0 for other in used):
                tip = tip + 6.0 * across
            used.append(tip)
            self.room.draw(np.array([tip - 12.0 * out, tip]), 3.0, 2.5)
            colour = self.sheet.theme.accent if place.is_light else self.sheet.theme.ink
            self.sheet.line(np.array([tip - 12.0 * out, tip - ARROW_MM * out]), colour, WIDE_MM, zorder=5.0)
            draw_arrow(self.sheet, tip, out)
            self._reference_beside(item, tip - 12.0 * out, f"{length_words(place.distance_mm)} away")

    def _reference_beside(self, item: Item, at: NDArray, words: str) -> None:
        from lightsim.report.drawing.sheet_of_paper import width_mm

        wide = width_mm(words, POINTS)
        size = balloon_size(item.cautions)
        total = size[0] + 1.0 + wide
        (box,) = self.room.place([Label((float(at[0]), float(at[1])), (total, size[1]))])
        middle = box[1] + 0.5 * size[1]
        own = (box[0], box[1], box[0] + size[0], box[3])
        draw_balloon(self.sheet, own, item.number, None, item.cautions)
        self.sheet.text(box[0] + size[0] + 1.0, middle + 1.0, words, POINTS)

    def _references(self) -> None:
        """A numbered circle for each item, off what is drawn."""
        near = [item for item in self.items if item.place is None or item.place.name not in self.off]
        labels = [Label(self._anchor(item), balloon_size(item.cautions)) for item in near]
        for item, label, box in zip(near, labels, self.room.place(labels), strict=True):
            draw_balloon(self.sheet, box, item.number, label.at, item.cautions)

    def _anchor(self, item: Item) -> tuple[float, float]:
        """A visible point of the item, in the view's own part of the page."""
        from shapely.geometry import box as rectangle
        from shapely.ops import unary_union

        if item.thing == FLOWER:
            return self.scale.origin
        frame = rectangle(self.drawn[0], self.drawn[1], self.drawn[2], self.drawn[3])
        own = [shape for shape in self.shapes if shape.thing == item.thing]
        own.sort(key=lambda shape: _NAMING.index(shape.what) if shape.what in _NAMING else len(_NAMING))
        for shape in own:
            nearer = [other.area for other in self.shapes if other.depth > shape.depth and other is not shape]
            free = shape.area.intersection(frame).difference(unary_union(nearer))
            if free.area > 0.5:
                point = free.representative_point()
                return float(point.x), float(point.y)
        if own:
            point = own[0].area.intersection(frame).representative_point()
            if not point.is_empty:
                return float(point.x), float(point.y)
        at = (
            self._page([[0.0, 0.0, self.plan.camera.front_mm]])[0]
            if item.thing == CAMERA
            else self.scale.origin
        )
        return float(at[0]), float(at[1])


def _edge(start: NDArray, out: NDArray, box: Box) -> NDArray[np.float64]:
    """Where a ray from a point within a box leaves it."""
    left, top, right, bottom = box
    steps = [
        ((right if out[0] > 0 else left) - start[0]) / out[0] if abs(out[0]) > 1e-9 else np.inf,
        ((bottom if out[1] > 0 else top) - start[1]) / out[1] if abs(out[1]) > 1e-9 else np.inf,
    ]
    return np.asarray(start + min(steps) * out)
