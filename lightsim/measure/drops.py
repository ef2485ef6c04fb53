"""Which drops of a photograph can be measured, and which one to show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields

import numpy as np

from lightsim.measure.records import DropMeasures
from lightsim.measure.window import View
from lightsim.picture import DropsSeen

LEAST_RADIUS_PX = 6.0
MOST_BLUR = 0.25  # diameter of the defocus disc / radius of the drop's disc
LEAST_VISIBLE = 0.4  # share of the sphere's disc; a flat drop (60 deg) shows about 0.75 of it

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
        (outside, "the drop is outside the frame"),
        (cut, "the drop is cut by the edge of the frame"),
        (r < LEAST_RADIUS_PX, f"the drop is smaller than {2 * LEAST_RADIUS_PX:g} pixels across"),
        (blur > MOST_BLUR * r, "the drop is out of focus"),
    )
    return [next((why for fails, why in tests if fails[k]), None) for k in range(len(r))]


def hidden(seen: View) -> str | None:
    """Reason when less than LEAST_VISIBLE of the drop's disc is seen, else None."""
    if seen.own is None:
        return None
    share = float(seen.own.sum()) / (np.pi * seen.radius_px**2)
    return "the drop is hidden by what stands in front of it" if share < LEAST_VISIBLE else None


def choose_reference(drops: DropsSeen, usable: list[bool], shape: tuple[int, int]) -> int | None:
    """The drop to show enlarged: large, sharp and near the middle, of those that can be measured.

    The same drop comes out for every angle of a sweep, since it depends on where the drops stand alone.
    """
    if not any(usable):
        return None
    height, width = shape
    away = np.hypot(drops.centre_px[:, 0] - width / 2, drops.centre_px[:, 1] - height / 2)
    score = drops.radius_px * (1.0 - away / np.hypot(width, height)) * (1.0 - drops.blur_px / drops.radius_px)
    return int(np.argmax(np.where(usable, score, -np.inf)))


def all_missing(reason: str) -> Mapping[str, str]:
    """The same reason for every number of a drop."""
    return dict.fromkeys(DROP_KEYS, reason)
