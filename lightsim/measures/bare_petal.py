"""The bare petal's luminance, averaged so that neither grain nor the size of the picture counts.

Averages leave out what is not bare petal: sum of weight x luminance / sum of weight (normalised convolution).
A Gaussian of standard deviation s halves the amplitude of a grating of period 2 pi s / sqrt(2 ln 2).
"""

from __future__ import annotations

import weakref
from dataclasses import dataclass, field
from functools import cached_property
from math import log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from lightsim.measures.window import Frame
from lightsim.picture import Maps, bare_petal

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


DETAIL_MM = 0.25  # period of a grating that the average halves; finer detail and grain go
DETAIL_SHARE = 0.01  # of the picture's width, where its scale in mm is not known
SIGMA_OF_PERIOD = sqrt(2.0 * log(2.0)) / (2.0 * pi)
PIXELS_A_PERIOD = (
    5.0  # of the grid that is worked on, at least; the picture's own pixels where they are larger
)
PIXEL_VARIANCE = 1.0 / 12.0  # of a pixel's square, px2 along each axis
MOST_OTHER = 0.5  # share of a place's weight that may lie off the bare petal
REACH = 3.0  # of the Gaussian, standard deviations


@dataclass(frozen=True, eq=False)
class PetalPlaces:
    """Where the bare petal is in a picture and how it lies: the same whatever the light.

    mask : (h, w) bool, the pixels of bare petal.  mm_per_px : None where the scale is not known.
    depth_mm : (h, w) heights toward the lens, None where they are not known.
    """

    mask: NDArray[np.bool_]
    mm_per_px: float | None
    depth_mm: NDArray | None = None
    _averages: dict[float, NDArray] = field(default_factory=dict)

    @cached_property
    def pixel_mm(self) -> float:
        """Size of a pixel; without a scale, in units in which DETAIL_MM is DETAIL_SHARE of the width."""
        return self.mm_per_px or DETAIL_MM / (DETAIL_SHARE * self.mask.shape[1])

    @cached_property
    def side(self) -> int:
        """Pixels along the side of a cell of the grid that is worked on."""
        return max(1, int(DETAIL_MM / PIXELS_A_PERIOD / self.pixel_mm))

    @cached_property
    def weight(self) -> NDArray:
        """(h, w) share of each cell that is bare petal, 0..1."""
        return _block_means(self.mask.astype(np.float32), self.side)

    @cached_property
    def slopes(self) -> tuple[NDArray, NDArray]:
        """Rise to the right and upward, (h, w) mm/mm, of the petal as it is seen."""
        assert self.depth_mm is not None
        assert self.mm_per_px is not None
        height = np.where(self.mask, self.depth_mm, 0.0)
        return fitted_slopes(height, self.mask.astype(np.float32), self.mm_per_px)

    def averaged_weight(self, sigma: float) -> NDArray:
        """The weight averaged over a Gaussian of that many cells."""
        if sigma not in self._averages:
            self._averages[sigma] = gaussian_average(self.weight, sigma)
        return self._averages[sigma]


# By the id of maps that live: where their bare petal is.
_KEPT: dict[int, PetalPlaces] = {}


def petal_places(maps: Maps, mm_per_px: float | None) -> PetalPlaces:
    """Where the bare petal of a simulated picture is; worked out once for all pictures with these maps."""
    kept = _KEPT.get(id(maps))
    if kept is not None and kept.mm_per_px == mm_per_px:
        return kept
    if kept is None:
        weakref.finalize(maps, _KEPT.pop, id(maps), None)
    _KEPT[id(maps)] = places = PetalPlaces(bare_petal(maps), mm_per_px, maps.depth_mm)
    return places


@dataclass(frozen=True, eq=False)
class PetalTones:
    """Luminance of the bare petal on a grid.

    places : where it is.  light : (h, w) its mean luminance in each cell; 0 where there is none.
    grain : variance of the picture's grain from pixel to pixel, luminance over its mean; see `grain_of`.
    """

    places: PetalPlaces
    light: NDArray
    grain: float
    _averages: dict[float, tuple[NDArray, NDArray]] = field(default_factory=dict)

    @classmethod
    def of(cls, frame: Frame, places: PetalPlaces) -> PetalTones:
        """From a photograph and where its bare petal is."""
        light = _block_means(np.where(places.mask, frame.light, 0.0).astype(np.float32), places.side)
        return cls(places, light / np.maximum(places.weight, 1e-6), grain_of(frame.light, places.mask))

    @property
    def pixel_mm(self) -> float:
        """Size of the picture's pixel, see `PetalPlaces.pixel_mm`."""
        return self.places.pixel_mm

    def averaged(self, period_mm: float) -> tuple[NDArray, NDArray]:
        """Luminance (h, w) of which a grating of this period keeps half its amplitude, and where it holds.

        Periods under about two cells come out as they are. The cell's own square is part of the average.
        """
        if period_mm not in self._averages:
            self._averages[period_mm] = self._averaged(period_mm)
        return self._averages[period_mm]

    def _averaged(self, period_mm: float) -> tuple[NDArray, NDArray]:
        places, cell_mm = self.places, self.places.side * self.pixel_mm
        holds = places.weight >= MOST_OTHER
        variance = (SIGMA_OF_PERIOD * period_mm / cell_mm) ** 2 - PIXEL_VARIANCE
        if variance <= 0.0:
            return self.light, holds
        sigma = sqrt(variance)
        light = gaussian_average(places.weight * self.light, sigma)
        return light / np.maximum(places.averaged_weight(sigma), 1e-6), holds


def gaussian_average(values: NDArray, sigma: float) -> NDArray:
    """Averages over a Gaussian of that many cells, cut off at REACH; nothing lies beyond the edges."""
    from scipy.fft import fft, irfft2, next_fast_len, rfft, rfft2

    height, width = values.shape
    reach = int(REACH * sigma + 0.5)
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    kernel = (kernel / kernel.sum()).astype(np.float32)
    rows, columns = (next_fast_len(max(side, reach + 1) + reach, real=True) for side in values.shape)
    spectrum = rfft2(values, (rows, columns), workers=-1)
    spectrum *= fft(kernel, rows)[:, None]
    spectrum *= rfft(kernel, columns)
    whole = irfft2(spectrum, (rows, columns), workers=-1)
    return np.asarray(whole[reach : reach + height, reach : reach + width])


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
