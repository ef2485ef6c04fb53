"""The shape of one bright patch, to a fraction of a pixel.

A patch comes as coverage: how much of each pixel it fills, in any unit. Coverage is the patch averaged over
the pixel's square, so moments weighted with it are those of the patch plus the square's own 1/12 px2 along
each axis; that term is taken away. (Over the pixel centres of a yes-or-no region 1/12 px2 lacks instead.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

PIXEL_TERM_PX2 = 1.0 / 12.0
LEAST_WIDTH_PX = 1.0  # a patch narrower than this drowns in the pixel's own size
RESOLVED_PX = 5.0  # from this width on enough pixels lie wholly inside a sharp patch
EVEN = 0.4  # share of the area that lies above 0.8 of the brightest part in a patch with an even middle
PIXEL_EDGE_PX = 0.8  # 10 % to 90 % rise of a sharp edge, over the pixel's own width
ROUND_ASPECT = 1.05


@dataclass(frozen=True)
class Outline:
    """The form of a bright area, whatever its size and proportions.

    Moments tell the ellipse with the same second moments, whose axes are 4 standard deviations.
    width : full width of the area / that axis.  area : area / product of both axes.
    """

    width: float
    area: float


ROUND = Outline(1.0, np.pi / 4.0)
RECTANGLE = Outline(np.sqrt(3.0) / 2.0, 0.75)  # variance w2/12


def ring(hole: float) -> Outline:
    """A disc with a hole of so much of its diameter d: variance (1 + hole2) d2/16."""
    spread = 1.0 + hole**2
    return Outline(1.0 / np.sqrt(spread), np.pi / 4.0 * (1.0 - hole**2) / spread)


@dataclass(frozen=True)
class Shape:
    """A patch's shape in pixels.

    centre_px : (column, row) in the array, pixel centres at .5.
    long_px, short_px : full widths along and across the patch, without the blur of its edge where it has an
        even middle and its outline is given; None below LEAST_WIDTH_PX.
    area_px : sum of the coverage over that of a full pixel; from the axes where the patch has no even middle
        (too small or blurred all over), so that the sizes agree with one another; None without axes.
    orientation_deg : of the long axis, counter-clockwise from +x, 0 <= o < 180; None for a round patch.
    edge_px : 10 % to 90 % rise, the pixel's own 0.8 px included; None without an even middle.
    level : coverage value of a full pixel, or of the brightest ones.
    weight : (h, w) the coverage, zero outside the patch.
    """

    centre_px: tuple[float, float]
    long_px: float | None
    short_px: float | None
    area_px: float | None
    orientation_deg: float | None
    edge_px: float | None
    level: float
    weight: NDArray


def measure_patch(coverage: NDArray, inside: NDArray, outline: Outline | None = None) -> Shape:
    """Shape of the patch whose core is `inside`, and one pixel round it for the partly filled ones.

    Parameters
    ----------
    coverage : (h, w) float, not negative, any unit.
    inside : (h, w) bool, one connected region, not empty.
    outline : of the patch; None tells it from its area where it has an even middle, and takes the middle
        between ROUND and RECTANGLE, 8 % off at most, where it has none.

    Sources: M. K. Hu, IRE Trans. Inf. Theory 8 (1962) 179 (moments); axes 4 sqrt(eigenvalue), as the region
    properties of scikit-image define them.
    """
    from scipy.ndimage import binary_dilation

    grown = binary_dilation(inside, np.ones((3, 3), bool))
    weight = np.where(grown, coverage, 0.0)
    centre, covariance = _moments(weight)
    long_px, short_px = _axes(covariance)
    level = full_level(coverage[inside])
    even = _is_even(weight / level, short_px)
    area_px = float(weight.sum()) / level if even else None
    form = outline or _told_by_area(area_px, long_px, short_px)
    edge_px = _edge(coverage / level, grown) if even else None
    if outline is not None and area_px is not None and edge_px is not None:
        long_px, short_px = _axes(_without_blur(covariance, area_px / outline.area, edge_px))
    return Shape(
        centre,
        _times(long_px, form.width),
        _times(short_px, form.width),
        _times(_times(long_px, short_px), form.area) if area_px is None else area_px,
        _orientation(covariance, long_px, short_px),
        edge_px,
        level,
        weight,
    )


def _moments(weight: NDArray) -> tuple[tuple[float, float], NDArray]:
    """Centre (column, row; pixel centres at .5) and covariance [[xx, xy], [xy, yy]] less the pixel's own."""
    from skimage.measure import moments

    raw = moments(weight, order=2)
    mean = raw / raw[0, 0]
    row, column = mean[1, 0], mean[0, 1]
    mixed = mean[1, 1] - row * column
    covariance = np.array([[mean[0, 2] - column**2, mixed], [mixed, mean[2, 0] - row**2]])
    return (float(column) + 0.5, float(row) + 0.5), covariance - PIXEL_TERM_PX2 * np.eye(2)


def _axes(covariance: NDArray) -> tuple[float | None, float | None]:
    """4 standard deviations along and across; neither where the patch is too narrow."""
    small, large = np.linalg.eigvalsh(covariance)
    short = _axis(small)
    return (None if short is None else _axis(large)), short


def _without_blur(covariance: NDArray, product_px2: float, edge_px: float) -> NDArray:
    """The covariance less what blur adds to it alike in all directions, so that the axes have this product.

    Blur does not change the area: (small - b) (large - b) = (product / 16)^2 is solved for b, from 0 to the
    square of the edge's width without the pixel's own; a bent patch with sharp edges has b = 0.
    """
    half_trace, determinant = 0.5 * np.trace(covariance), np.linalg.det(covariance)
    apart = max(half_trace**2 - determinant + (product_px2 / 16.0) ** 2, 0.0)
    widest = max(edge_px**2 - PIXEL_EDGE_PX**2, 0.0)
    return covariance - min(max(half_trace - float(np.sqrt(apart)), 0.0), widest) * np.eye(2)


def _axis(variance: float) -> float | None:
    length = 4.0 * np.sqrt(max(float(variance), 0.0))
    return float(length) if length >= LEAST_WIDTH_PX else None


def full_level(values: NDArray) -> float:
    """Value of a full pixel: of the values above 3/4 of the brightest, the mean of those above their mean."""
    bright = values[values >= 0.75 * values.max()]
    return float(bright[bright >= bright.mean() * (1.0 - 1e-6)].mean())


def _is_even(filled: NDArray, short_px: float | None) -> bool:
    """Whether the patch has an even middle; not when small, or blurred over its own size or more."""
    if short_px is None or short_px < RESOLVED_PX:
        return False
    return bool(np.count_nonzero(filled >= 0.8) >= EVEN * float(filled.sum()))


def _times(first: float | None, second: float | None) -> float | None:
    return None if first is None or second is None else first * second


def _told_by_area(area_px: float | None, long_px: float | None, short_px: float | None) -> Outline:
    """Between RECTANGLE and ROUND, by the area over the product of the axes of the moments."""
    share = 0.5
    if area_px is not None and long_px is not None and short_px is not None:
        over = area_px / (long_px * short_px) - RECTANGLE.area
        share = min(max(over / (ROUND.area - RECTANGLE.area), 0.0), 1.0)
    return Outline(
        RECTANGLE.width + share * (ROUND.width - RECTANGLE.width),
        RECTANGLE.area + share * (ROUND.area - RECTANGLE.area),
    )


def _orientation(covariance: NDArray, long_px: float | None, short_px: float | None) -> float | None:
    """Direction of the long axis; rows run down, so the sign of the mixed moment turns round."""
    if long_px is None or short_px is None or long_px < ROUND_ASPECT * short_px:
        return None
    (xx, xy), (_, yy) = covariance
    return float(np.degrees(0.5 * np.arctan2(-2.0 * xy, xx - yy)) % 180.0)


def _edge(filled: NDArray, grown: NDArray) -> float | None:
    """Area between the 10 % and the 90 % contour / length of the 50 % contour.

    The area is the number of pixel centres between the two levels, which is right on average whatever the
    edge's direction.
    """
    from scipy.ndimage import binary_dilation
    from skimage.measure import find_contours

    near = binary_dilation(grown, np.ones((3, 3), bool))
    filled = np.pad(np.where(near, filled, 0.0), 1)
    contours = find_contours(filled, 0.5)
    length = sum(float(np.hypot(*np.diff(c, axis=0).T).sum()) for c in contours)
    between = np.count_nonzero((filled > 0.1) & (filled < 0.9))
    return between / length if length > 0.0 else None
