"""Which drops of a photograph can be measured, and which one to show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from lightsim.measures.measure_records import DropMeasures
from lightsim.measures.window import View
from lightsim.picture import DropsSeen

LEAST_RADIUS_PX = 6.0
LEAST_SHOWN_RADIUS_PX = 2.0  # below this there is nothing to enlarge
MOST_BLUR = 0.25  # diameter of the defocus disc / radius of the drop's disc
FOCUS_SHARE = 1.0 / 1500.0  # of the picture's diagonal: the usual circle of confusion; common practice
LEAST_VISIBLE = 0.4  # share of the sphere's disc; a flat drop (60 deg) shows about 0.75 of it

DROP_IS = "the drop is "  # begins why a drop cannot be measured
OUTSIDE = f"{DROP_IS}outside the frame"
CUT = f"{DROP_IS}cut by the edge of the frame"

DROP_KEYS = tuple(f.name for f in fields(DropMeasures) if f.default is None)


def reasons(drops: DropsSeen, shape: tuple[int, int]) -> list[str | None]:
    """Why a drop cannot be measured, None for one that can: one entry a drop.

    A drop must stand in the frame with its whole disc, be at least LEAST_RADIUS_PX in radius, and have
    a defocus disc of at most MOST_BLUR of its radius (our rule, no source).
    """
    height, width = shape
    x, y = drops.centre_px[:, 0], drops.centre_px[:, 1]
    r, blur = drops.radius_px, drops.blur_px
    outside = (x + r <= 0) | (x - r >= width) | (y + r <= 0) | (y - r >= height)
    cut = (x - r < 0) | (x + r > width) | (y - r < 0) | (y + r > height)
    tests = (
        (outside, OUTSIDE),
        (cut, CUT),
        (r < LEAST_RADIUS_PX, f"{DROP_IS}smaller than {2 * LEAST_RADIUS_PX:g} pixels across"),
        (blur > MOST_BLUR * r, f"{DROP_IS}out of focus"),
    )
    return [next((why for fails, why in tests if fails[k]), None) for k in range(len(r))]


def in_depth_of_field(drops: DropsSeen, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Which drops have their front within the depth of field, (n,): a defocus disc of at most the circle of
    confusion, FOCUS_SHARE of the picture's diagonal."""
    return np.asarray(drops.blur_px <= FOCUS_SHARE * np.hypot(*shape))


def hidden_reason(seen: View) -> str | None:
    """Reason when less than LEAST_VISIBLE of the drop's disc is seen, else None."""
    if seen.own is None:
        return None
    share = float(seen.own.sum()) / (np.pi * seen.radius_px**2)
    return f"{DROP_IS}hidden by what stands in front of it" if share < LEAST_VISIBLE else None


def choose_reference(
    drops: DropsSeen,
    shape: tuple[int, int],
    *,
    drop_index: NDArray | None = None,
    usable: Sequence[bool] | None = None,
) -> int | None:
    """The drop to show enlarged: in focus, whole in the frame, little hidden, large, near the middle.

    Where none is quite in focus the sharpest for its size is preferred. The same drop comes out for every
    angle of a sweep, since it depends on where the drops stand alone (our rule, no source).

    Parameters
    ----------
    drops : n drops.  shape : height and width of the picture, pixels.
    drop_index : (h, w) int, the drop that each pixel sees, negative for none; None where it is not known.
    usable : of each drop, whether it may be chosen; None lets all serve.

    Returns its index, or None where no drop lies whole in the frame.
    """
    score = _scores(drops, shape)
    if drop_index is not None:
        score = score * _seen_share(drop_index, drops.radius_px) ** 2
    if usable is not None:
        score = np.where(usable, score, 0.0)
    return int(np.argmax(score)) if score.size and score.max() > 0.0 else None


def _scores(drops: DropsSeen, shape: tuple[int, int]) -> NDArray:
    """(n,) float, 0 for a drop that cannot serve; larger is better."""
    size = np.array([shape[1], shape[0]])
    room = np.minimum(drops.centre_px, size - drops.centre_px).min(axis=1, initial=np.inf)
    whole = (room >= drops.radius_px) & (drops.radius_px >= LEAST_SHOWN_RADIUS_PX)
    away = np.hypot(*(drops.centre_px - size / 2).T) / np.hypot(*size)
    blur = drops.blur_px / np.maximum(drops.radius_px, 1e-9)
    sharp = 1.0 / (1.0 + (blur / 0.15) ** 2)
    return whole * sharp * np.sqrt(drops.radius_px) * np.exp(-((away / 0.3) ** 2))


def _seen_share(drop_index: NDArray, radius_px: NDArray) -> NDArray:
    """(n,) float, share of each drop's disc that is seen and not hidden by another drop or the petal."""
    seen = np.bincount(drop_index[drop_index >= 0].ravel(), minlength=len(radius_px))[: len(radius_px)]
    return np.minimum(seen / np.maximum(np.pi * radius_px**2, 1.0), 1.0)


def all_missing(reason: str) -> Mapping[str, str]:
    """The same reason for every number of a drop."""
    return dict.fromkeys(DROP_KEYS, reason)
