"""Points evenly spread over a light's face, for sums over it."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray


def points_of(face: Any, side: int) -> NDArray[np.float64]:
    """The middles (n, 3) of side x side cells of a face, of a round one those within it, mm."""
    at = (np.arange(side) + 0.5) / side * 2.0 - 1.0
    x, y = (a.ravel() for a in np.meshgrid(at, at))
    if face.disc:
        inside = x * x + y * y <= 1.0
        x, y = x[inside], y[inside]
    right, up = np.array(face.right) * face.half_width, np.array(face.up) * face.half_height
    return np.array(face.centre) + x[:, None] * right + y[:, None] * up
