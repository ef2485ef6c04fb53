"""How a surface leans at each pixel, from the heights that are seen."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

SLOPE_PX = 1.5  # standard deviation of the window over which the surface's direction is found
LEAST_SPREAD_PX4 = 0.01  # of the window's places: fewer lie on a line and give no plane


def fitted_slopes(depth_mm: NDArray, weight: NDArray, mm_per_px: float) -> tuple[NDArray, NDArray]:
    """Rise to the right and upward, (h, w) mm/mm, of the plane fitted by least squares to the heights about
    each pixel in a Gaussian window of SLOPE_PX.

    depth_mm : (h, w), 0 where `weight` is 0.  weight : (h, w), 1 for pixels that count.
    """
    total = np.maximum(_moment(weight, 0, 0), 1e-6)

    def mean(values: NDArray, right: int, down: int) -> NDArray:
        return _moment(values, right, down) / total

    height = weight * depth_mm
    x, y, z = mean(weight, 1, 0), mean(weight, 0, 1), mean(height, 0, 0)
    xx, yy, xy = mean(weight, 2, 0) - x * x, mean(weight, 0, 2) - y * y, mean(weight, 1, 1) - x * y
    xz, yz = mean(height, 1, 0) - x * z, mean(height, 0, 1) - y * z
    scale = np.maximum(xx * yy - xy * xy, LEAST_SPREAD_PX4) * mm_per_px
    return (xz * yy - yz * xy) / scale, -(yz * xx - xz * xy) / scale


def _moment(values: NDArray, right: int, down: int) -> NDArray:
    """Gaussian sum about each pixel, each place weighted with its distance to these powers."""
    from scipy.ndimage import correlate1d

    reach = int(np.ceil(3.0 * SLOPE_PX))
    step = np.arange(-reach, reach + 1, dtype=np.float64)
    for power, axis in ((right, 1), (down, 0)):
        weights = step**power * np.exp(-0.5 * (step / SLOPE_PX) ** 2)
        values = correlate1d(values, weights, axis=axis, mode="constant", output=np.float64)
    return values
