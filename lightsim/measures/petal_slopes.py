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
    of_places, of_heights = _moments(weight, 2), _moments(weight * depth_mm, 1)
    total = np.maximum(of_places[0, 0], 1e-6)
    x, y, xx, yy, xy = (of_places[powers] / total for powers in ((1, 0), (0, 1), (2, 0), (0, 2), (1, 1)))
    z, xz, yz = (of_heights[powers] / total for powers in ((0, 0), (1, 0), (0, 1)))
    xx, yy, xy, xz, yz = xx - x * x, yy - y * y, xy - x * y, xz - x * z, yz - y * z
    scale = np.maximum(xx * yy - xy * xy, LEAST_SPREAD_PX4) * mm_per_px
    return (xz * yy - yz * xy) / scale, -(yz * xx - xz * xy) / scale


def _moments(values: NDArray, most: int) -> dict[tuple[int, int], NDArray]:
    """Gaussian sums about each pixel, each place weighted with its distance to the right and down to powers
    that add up to `most` at most, by these powers."""
    from scipy.ndimage import correlate1d

    reach = int(np.ceil(3.0 * SLOPE_PX))
    step = np.arange(-reach, reach + 1, dtype=np.float64)
    weights = [step**power * np.exp(-0.5 * (step / SLOPE_PX) ** 2) for power in range(most + 1)]
    found = {}
    for right in range(most + 1):
        across = correlate1d(values, weights[right], axis=1, mode="constant", output=np.float64)
        for down in range(most + 1 - right):
            found[right, down] = correlate1d(across, weights[down], axis=0, mode="constant")
    return found
