"""Where labels go on a drawing: near what they name, off what is drawn, never over one another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.sheet_of_paper import XY, Box

CELL_MM = 0.5
GAP_MM = 0.8  # between two labels
NEAR_MM = 1.6  # a label this near to its place needs no leader
_COVERED = 110.0  # what covering drawn things costs, against mm of distance
_FARTHER = 0.06  # what each mm costs more than the mm before it
_TRIED = 400
_PASSES = 5
FEW = 5  # so many labels find their places in whatever order


@dataclass(frozen=True)
class Label:
    """Something so wide and high that belongs to a place on the drawing, mm."""

    at: XY
    size: XY


class Room:
    """The free room of a plate: what is drawn costs a label something, what is taken cannot be covered."""

    def __init__(self, box: Box):
        self.box = box
        left, top, right, bottom = box
        shape = max(1, int((bottom - top) / CELL_MM)), max(1, int((right - left) / CELL_MM))
        self.drawn = np.zeros(shape)
        self.taken = np.zeros(shape, bool)

    def _cells(self, points: NDArray) -> list[tuple[float, float]]:
        cells = (np.asarray(points, float) - self.box[:2]) / CELL_MM
        return [(float(x), float(y)) for x, y in cells]

    def draw(self, points: NDArray, weight: float = 1.0, width_mm: float = 0.0) -> None:
        """Something is drawn there: an outline (n, 2), or with a width a line through the points."""
        from PIL import Image, ImageDraw

        image = Image.new("1", self.drawn.shape[::-1])
        cells = self._cells(points)
        if width_mm > 0.0 or len(cells) < 3:
            ImageDraw.Draw(image).line(cells, fill=1, width=max(1, round(width_mm / CELL_MM)))
        else:
            ImageDraw.Draw(image).polygon(cells, fill=1)
        self.drawn = np.maximum(self.drawn, weight * np.asarray(image, float))

    def drawn_share(self, box: Box) -> float:
        """How much of a box is drawn over, 0..1."""
        return float(self.drawn[self._window(box, 0.0)].mean())

    def take(self, box: Box) -> None:
        """Nothing else may go there."""
        self.taken[self._window(box, GAP_MM)] = True

    def _window(self, box: Box, gap: float) -> tuple[slice, slice]:
        left, top = self.box[:2]
        x0, y0 = (box[0] - gap - left) / CELL_MM, (box[1] - gap - top) / CELL_MM
        x1, y1 = (box[2] + gap - left) / CELL_MM, (box[3] + gap - top) / CELL_MM
        return slice(max(int(y0), 0), max(int(np.ceil(y1)), 0)), slice(
            max(int(x0), 0), max(int(np.ceil(x1)), 0)
        )

    def place(self, labels: Sequence[Label]) -> list[Box]:
        """A box for each label; all inside the plate and clear of one another as long as there is room.

        Labels are put down one after the other and then moved, each to its best place among the others, in
        several orders; the arrangement that costs least is taken.
        """
        fixed = self.taken.copy()
        found = [self._arranged(labels, order, fixed) for order in _orders(labels)]
        boxes, _ = min(found, key=lambda each: each[1])
        self.taken = fixed
        for box in boxes:
            self.take(box)
        return boxes

    def _arranged(
        self, labels: Sequence[Label], order: Sequence[int], fixed: NDArray[np.bool_]
    ) -> tuple[list[Box], float]:
        """The boxes by one order, and what they cost together."""
        boxes: dict[int, Box] = {}
        costs: dict[int, float] = {}
        for _ in range(_PASSES):
            before = dict(boxes)
            for number in order:
                boxes.pop(number, None)
                self.taken = fixed.copy()
                for taken in boxes.values():
                    self.take(taken)
                leaders = [leader(labels[place].at, box) for place, box in boxes.items()]
                boxes[number], costs[number] = self._best(labels[number], leaders)
            if boxes == before:
                break
        return [boxes[number] for number in range(len(labels))], sum(costs.values())

    def _best(self, label: Label, leaders: Sequence[tuple[XY, XY] | None]) -> tuple[Box, float]:
        """The best box of a label among what is there, and what it costs."""
        width, height = label.size
        cells = int(np.ceil(height / CELL_MM)) + 1, int(np.ceil(width / CELL_MM)) + 1
        drawn = self.drawn.copy()
        for ends in leaders:
            if ends is not None:
                self._along(drawn, *ends)
        covered = _sums(drawn, cells) / (cells[0] * cells[1])
        blocked = _sums(self.taken.astype(float), cells)
        ys, xs = np.mgrid[0 : covered.shape[0], 0 : covered.shape[1]].astype(float)
        x, y = self.box[0] + xs * CELL_MM, self.box[1] + ys * CELL_MM
        away = np.hypot(
            np.maximum(np.maximum(x - label.at[0], label.at[0] - x - width), 0.0),
            np.maximum(np.maximum(y - label.at[1], label.at[1] - y - height), 0.0),
        )
        cost = np.abs(away - NEAR_MM) + _FARTHER * away**2 + _COVERED * covered + 1e4 * blocked
        order = np.argsort(cost, axis=None, kind="stable")[:_TRIED]
        best: tuple[Box, float] | None = None
        for place in order:
            if best is not None and cost.flat[place] >= best[1]:
                break
            left, top = float(x.flat[place]), float(y.flat[place])
            box = (left, top, left + width, top + height)
            whole = float(cost.flat[place]) + self._crossed(label.at, box, leaders)
            if best is None or whole < best[1]:
                best = box, whole
        assert best is not None
        return best

    def _along(self, drawn: NDArray, start: XY, end: XY) -> None:
        for share in np.linspace(0.0, 1.0, 60):
            x = (start[0] + share * (end[0] - start[0]) - self.box[0]) / CELL_MM
            y = (start[1] + share * (end[1] - start[1]) - self.box[1]) / CELL_MM
            if 0 <= y < drawn.shape[0] and 0 <= x < drawn.shape[1]:
                drawn[int(y), int(x)] = 6.0

    def _crossed(self, at: XY, box: Box, leaders: Sequence[tuple[XY, XY] | None]) -> float:
        """What a leader costs that runs over other labels or other leaders."""
        own = leader(at, box)
        if own is None:
            return 0.0
        start, end = np.array(own[0]), np.array(own[1])
        points = start + np.linspace(0.05, 0.98, 40)[:, None] * (end - start)
        cells = ((points - self.box[:2]) / CELL_MM).astype(int)
        inside = (cells >= 0).all(axis=1) & (cells < self.taken.shape[::-1]).all(axis=1)
        over = self.taken[cells[inside, 1], cells[inside, 0]].sum()
        crossings = sum(_cross(own, other) for other in leaders if other is not None)
        return 3.0 * float(over) + 25.0 * crossings


def _orders(labels: Sequence[Label]) -> list[list[int]]:
    """Orders in which labels are put down: wide ones first; where there are many, from each side too."""
    numbers = range(len(labels))
    orders = [sorted(numbers, key=lambda number: -labels[number].size[0])]
    if len(labels) > FEW:
        for axis in (0, 1):
            across = sorted(numbers, key=lambda number: labels[number].at[axis])
            orders += [across, across[::-1]]
        middle = np.mean([label.at for label in labels], axis=0)
        orders.append(sorted(numbers, key=lambda number: float(np.hypot(*(middle - labels[number].at)))))
    return orders


def _cross(one: tuple[XY, XY], other: tuple[XY, XY]) -> bool:
    def side(a: XY, b: XY, p: XY) -> float:
        return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])

    return side(*one, other[0]) * side(*one, other[1]) < 0 and side(*other, one[0]) * side(*other, one[1]) < 0


def _sums(cells: NDArray, window: tuple[int, int]) -> NDArray[np.float64]:
    """Sums over all windows of a size that fit, by their upper left cell."""
    height, width = min(window[0], cells.shape[0]), min(window[1], cells.shape[1])
    whole = np.zeros((cells.shape[0] + 1, cells.shape[1] + 1))
    whole[1:, 1:] = cells.cumsum(axis=0).cumsum(axis=1)
    return np.asarray(
        whole[height:, width:] - whole[:-height, width:] - whole[height:, :-width] + whole[:-height, :-width]
    )


def leader(at: XY, box: Box) -> tuple[XY, XY] | None:
    """The line from a place to the nearest point of its label; None where the label is near enough."""
    end = min(max(at[0], box[0]), box[2]), min(max(at[1], box[1]), box[3])
    if np.hypot(end[0] - at[0], end[1] - at[1]) <= 2.0 * NEAR_MM:
        return None
    return at, end
