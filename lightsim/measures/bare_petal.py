"""The bare petal's luminance, averaged so that neither grain nor the size of the picture counts.

Averages leave out what is not bare petal: sum of weight x luminance / sum of weight (normalised convolution).
A Gaussian of standard deviation s halves the amplitude of a grating of period 2 pi s / sqrt(2 ln 2).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from lightsim.measures.window import Frame

DETAIL_MM = 0.25  # period of a grating that the average halves; finer detail and grain go
DETAIL_SHARE = 0.01  # of the picture's width, where its scale in mm is not known
SIGMA_OF_PERIOD = sqrt(2.0 * log(2.0)) / (2.0 * pi)
PIXELS_A_PERIOD = (
    5.0  # of the grid that is worked on, at least; the picture's own pixels where they are larger
)
PIXEL_VARIANCE = 1.0 / 12.0  # of a pixel's square, px2 along each axis
MOST_OTHER = 0.5  # share of a place's weight that may lie off the bare petal
REACH = 3.0  # of the Gaussian, standard deviations


@dataclass(frozen=True)
class PetalTones:
    """Luminance of the bare petal on a grid.

    light : (h, w) mean luminance of the bare petal in each cell; 0 where there is none.
    weight : (h, w) share of the cell that is bare petal, 0..1.
    cell_mm, pixel_mm : size of a cell and of the picture's pixel; with a scale that is not known, in units in
        which DETAIL_MM is DETAIL_SHARE of the picture's width.
    grain : variance of the picture's grain from pixel to pixel, luminance over its mean; see `grain_of`.
    """

    light: NDArray
    weight: NDArray
    cell_mm: float
    pixel_mm: float
    grain: float

    @classmethod
    def of(cls, frame: Frame, petal: NDArray) -> PetalTones:
        """From a photograph and a mask (h, w) bool of its bare petal."""
        pixel_mm = frame.mm_per_px or DETAIL_MM / (DETAIL_SHARE * petal.shape[1])
        side = max(1, int(DETAIL_MM / PIXELS_A_PERIOD / pixel_mm))
        weight = _block_means(petal.astype(np.float32), side)
        light = _block_means(np.where(petal, frame.light, 0.0).astype(np.float32), side)
        grain = grain_of(frame.light, petal)
        return cls(light / np.maximum(weight, 1e-6), weight, side * pixel_mm, pixel_mm, grain)

    def averaged(self, period_mm: float) -> tuple[NDArray, NDArray]:
        """Luminance (h, w) of which a grating of this period keeps half its amplitude, and where it holds.

        Periods under about two cells come out as they are. The cell's own square is part of the average.
        """
        from scipy.ndimage import gaussian_filter

        variance = (SIGMA_OF_PERIOD * period_mm / self.cell_mm) ** 2 - PIXEL_VARIANCE
        if variance <= 0.0:
            return self.light, self.weight >= MOST_OTHER
        sigma = sqrt(variance)
        weight = gaussian_filter(self.weight, sigma, mode="constant", truncate=REACH)
        light = gaussian_filter(self.weight * self.light, sigma, mode="constant", truncate=REACH)
        return light / np.maximum(weight, 1e-6), self.weight >= MOST_OTHER


def grain_of(light: NDArray, petal: NDArray) -> float:
    """Variance of what differs from pixel to pixel at random, over the squared mean; 0 where none is seen.

    Diagonal difference of four pixels, (a - b - c + d) / 2, which slopes and straight edges along rows and
    columns leave at 0: the finest diagonal detail of D. L. Donoho, IEEE Trans. Inf. Theory 41 (1995) 613
    (from memory), squared and averaged.
    """
    rows, columns = light.shape[0] // 2 * 2, light.shape[1] // 2 * 2
    four = [(slice(i, rows, 2), slice(j, columns, 2)) for i in (0, 1) for j in (0, 1)]
    a, b, c, d = (light[part].astype(float) for part in four)
    mean = 0.25 * (a + b + c + d)
    whole = np.logical_and.reduce([petal[part] for part in four]) & (mean > 0.0)
    if not whole.any():
        return 0.0
    return float(np.mean((0.5 * (a - b - c + d)[whole] / mean[whole]) ** 2))


def _block_means(values: NDArray, side: int) -> NDArray:
    """Means over squares of side x side; what is left over at the right and below is dropped."""
    if side == 1:
        return values
    rows, columns = values.shape[0] // side, values.shape[1] // side
    return values[: rows * side, : columns * side].reshape(rows, side, columns, side).mean(axis=(1, 3))
