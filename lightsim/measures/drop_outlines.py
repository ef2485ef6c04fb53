"""Looking for drops in a real photograph: round outlines by the Hough transform."""

from __future__ import annotations

import numpy as np

from lightsim.errors import PictureError
from lightsim.picture import Photograph

WORKING_PX = 900  # longest side of the picture in which circles are looked for
FEWEST_RADII = 24


def find_drops(
    photo: Photograph, least_radius_px: float, most_radius_px: float, count: int = 20
) -> list[tuple[float, float, float]]:
    """(column, row, radius) in pixels of up to `count` round outlines, the clearest first; none overlap.

    A help, not a measurement: look at what was found before trusting it. The circles' places are good to
    about a pixel of the picture scaled to WORKING_PX.

    Raises
    ------
    PictureError : radii that are not 2 px or more, or in the wrong order.

    R. O. Duda and P. E. Hart, Comm. ACM 15 (1972) 11 (the transform); scikit-image's edges, votes and peaks.
    """
    from skimage.feature import canny
    from skimage.transform import hough_circle, hough_circle_peaks, rescale

    if not 2.0 <= least_radius_px <= most_radius_px < float("inf"):
        raise PictureError(
            f"radii from {least_radius_px} to {most_radius_px} px; "
            "the least must be 2 or more and not above the most"
        )
    scale = min(1.0, WORKING_PX / max(photo.shape))
    tone = np.cbrt(np.clip(photo.luminance() / photo.saturation, 0.0, 1.0))
    small = rescale(tone, scale, anti_aliasing=scale < 1.0) if scale < 1.0 else tone
    low, high = least_radius_px * scale, most_radius_px * scale
    radii = np.unique(np.round(np.linspace(low, high, FEWEST_RADII)).astype(int).clip(2))
    votes = hough_circle(canny(small, sigma=2.0), radii)
    _, x, y, r = hough_circle_peaks(votes, radii, total_num_peaks=8 * count, threshold=0.4 * votes.max())
    return _apart(np.column_stack([(x + 0.5) / scale, (y + 0.5) / scale, r / scale]), count)


def _apart(circles: np.ndarray, count: int) -> list[tuple[float, float, float]]:
    """The first `count` circles whose centres lie outside all that were kept before them."""
    kept: list[tuple[float, float, float]] = []
    for x, y, r in circles:
        if len(kept) < count and all(np.hypot(x - a, y - b) > max(r, c) for a, b, c in kept):
            kept.append((float(x), float(y), float(r)))
    return kept
