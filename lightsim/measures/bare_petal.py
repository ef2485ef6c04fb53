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
    cell_mm : size of a cell; with a scale that is not known, in units in which DETAIL_MM is DETAIL_SHARE of
        the picture's width.
    """

    light: NDArray
    weight: NDArray
    cell_mm: float

    @classmethod
    def of(cls, frame: Frame, petal: NDArray) -> PetalTones:
        """From a photograph and a mask (h, w) bool of its bare petal."""
        pixel_mm = frame.mm_per_px or DETAIL_MM / (DETAIL_SHARE * petal.shape[1])
        side = max(1, int(DETAIL_MM / PIXELS_A_PERIOD / pixel_mm))
        weight = _block_means(petal.astype(np.float32), side)
        light = _block_means(np.where(petal, frame.light, 0.0).astype(np.float32), side)
        return cls(light / np.maximum(weight, 1e-6), weight, side * pixel_mm)

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


def _block_means(values: NDArray, side: int) -> NDArray:
    """Means over squares of side x side; what is left over at the right and below is dropped."""
    if side == 1:
        return values
    rows, columns = values.shape[0] // side, values.shape[1] // side
    return values[: rows * side, : columns * side].reshape(rows, side, columns, side).mean(axis=(1, 3))
