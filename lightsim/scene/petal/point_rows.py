"""Points in rows: what lies near a place is found without a tree, whose library takes long to load."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def runs_of(first: NDArray, last: NDArray) -> tuple[NDArray, NDArray]:
    """All whole numbers from first (n,) up to before last (n,): which range each is of, and the numbers."""
    count = last - first
    which = np.repeat(np.arange(len(count)), count)
    return which, np.arange(len(which)) - np.repeat(np.cumsum(count) - last, count)


class PointRows:
    """Points (n, 2 or 3) mm held in rows of like y, in each row in the order of their x.

    height : of a row, mm.
    """

    def __init__(self, points: NDArray):
        self.points = points
        x, y = points[:, 0], points[:, 1]
        self._left, self._bottom = (float(axis.min(initial=np.inf)) if len(axis) else 0.0 for axis in (x, y))
        self._count = 1 + int(0.5 * len(points) ** 0.5)
        self.height = max(float(np.ptp(y)) / self._count, 1e-9) if len(y) else 1.0
        self._width = float(np.ptp(x)) if len(x) else 0.0
        key = self._key(self.row_at(y), x)
        self._order = np.argsort(key)
        self._keys = key[self._order]

    def row_at(self, y: NDArray) -> NDArray[np.int64]:
        """The rows in which heights (n,) lie, or one row below or above them all."""
        row = np.floor((y - self._bottom) / self.height)
        return np.clip(row, -1, self._count + 1).astype(np.int64)

    def middle_y(self, row: NDArray) -> NDArray[np.float64]:
        """The height (n,) of rows' middles."""
        return np.asarray(self._bottom + (row + 0.5) * self.height)

    def between(self, row: NDArray, low: NDArray, high: NDArray) -> tuple[NDArray, NDArray]:
        """All points in rows (n,) with x from low to high, both (n,): of which row each is, and which."""
        first = np.searchsorted(self._keys, self._key(row, low))
        asked, place = runs_of(first, np.searchsorted(self._keys, self._key(row, high), side="right"))
        return asked, self._order[place]

    def within(self, places: NDArray, reach: NDArray) -> tuple[NDArray, NDArray]:
        """All points no farther than reach (n,) from places (n, 2 or 3): near which each is, and which."""
        x, y = places[:, 0], places[:, 1]
        place, row = runs_of(self.row_at(y - reach), self.row_at(y + reach) + 1)
        asked, point = self.between(row, (x - reach)[place], (x + reach)[place])
        place = place[asked]
        near = np.linalg.norm(self.points[point] - places[place], axis=1) <= reach[place]
        return place[near], point[near]

    def _key(self, row: NDArray, x: NDArray) -> NDArray[np.float64]:
        """Numbers that grow along each row and from row to row; 1 mm beside a row is still of that row."""
        return np.asarray(row * (self._width + 3.0) + np.clip(x - self._left, -1.0, self._width + 1.0))
