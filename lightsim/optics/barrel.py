"""Whether a lens stands in the light's way: a round barrel along the axis against the lines of the light."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def hidden_share(
    light_mm: NDArray[np.float64], subject_mm: NDArray[np.float64], front_mm: float, radius_mm: float
) -> float:
    """Share, 0..1, of the lines between points of a light and of a subject that a barrel cuts.

    light_mm : (n, 3).  subject_mm : (k, 3), all before the barrel.  The barrel begins at z = front_mm, is
    radius_mm in radius, and has no end: what lies behind it is hidden.
    """
    start, end = subject_mm[:, None, :], light_mm[None, :, :]
    rise = end[..., 2] - start[..., 2]
    crosses = end[..., 2] > front_mm
    safe = np.where(crosses, rise, 1.0)
    entry = np.where(crosses, (front_mm - start[..., 2]) / safe, 1.0)
    return float(np.mean(crosses & (_nearest_to_axis(start, end, entry) < radius_mm)))


def _nearest_to_axis(start: NDArray, end: NDArray, entry: NDArray) -> NDArray[np.float64]:
    """Least distance from the axis, (k, n), of each line between its share `entry` and its end."""
    along = (end - start)[..., :2]
    square = np.sum(along**2, axis=-1)
    least = -np.sum(start[..., :2] * along, axis=-1) / np.where(square > 0, square, 1.0)
    share = np.clip(least, entry, 1.0)
    return np.asarray(np.linalg.norm(start[..., :2] + share[..., None] * along, axis=-1))
