"""How the room falls on the plan's views: directions, scale, what has to be on them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.sheet_of_paper import XY
from lightsim.report.setup.plan_records import room_axes
from lightsim.report.setup.solid import Solids

# Of what is drawn to what is there, so that a ruler laid on the printed page can be read.
RATIOS = (1, 1.5, 2, 2.5, 3, 4, 5, 6, 7.5, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 75, 80, 100, 150, 200, 250,
          300, 400, 500, 1000, 2000, 5000, 10000)  # fmt: skip
BACKDROP_MAY_ADD = 1.5  # times the width or height of all else
SUPPORTS = ("arm", "post", "foot", "seat", "holder", "stem")
FAINT = ("top", "grid")


@dataclass(frozen=True)
class View:
    """How the room falls on the drawing. name : its title.

    across, along : the directions (3,) that run right and up on the drawing, in the scene's frame.
    """

    name: str
    across: NDArray[np.float64]
    along: NDArray[np.float64]

    @property
    def toward_viewer(self) -> NDArray[np.float64]:
        """The direction (3,) toward the eye."""
        return np.cross(self.across, self.along)

    def flat(self, points: NDArray) -> NDArray[np.float64]:
        """Points (n, 3) on the drawing, mm of the set: right and up from the subject."""
        points = np.atleast_2d(points)
        return np.column_stack([points @ self.across, points @ self.along])


def view_from_above(up: NDArray) -> View:
    """Over the view from the side, place for place: the camera's side at the left, its right at the foot."""
    axes = room_axes(up)
    return View("from above", -axes[1], -axes[0])


def view_from_the_side(up: NDArray) -> View:
    """Seen from the camera's right: the camera's side is at the left of the drawing."""
    axes = room_axes(up)
    return View("from the side", -axes[1], axes[2])


@dataclass(frozen=True)
class Scale:
    """Where the subject's point is on the page, mm, and the mm of the set for one mm of the page."""

    origin: XY
    ratio: float

    def page(self, flat: NDArray) -> NDArray[np.float64]:
        """Places (n, 2) on the page of places on the drawing."""
        flat = np.atleast_2d(flat)
        return np.column_stack(
            [self.origin[0] + flat[:, 0] / self.ratio, self.origin[1] - flat[:, 1] / self.ratio]
        )


def extent(view: View, solids: Solids) -> NDArray[np.float64]:
    """Least and greatest corner (2, 2) mm of what has to be on the drawing."""
    return _near_extent(view, solids) if backdrop_is_off(view, solids) else _whole_extent(view, solids)


def backdrop_is_off(view: View, solids: Solids) -> bool:
    """Whether the backdrop's middle would make the drawing of all else too small, and is left off it."""
    near, whole = (np.ptp(each(view, solids), axis=0) for each in (_near_extent, _whole_extent))
    return bool((whole > BACKDROP_MAY_ADD * near).any())


def _near_extent(view: View, solids: Solids) -> NDArray[np.float64]:
    left_out = (*FAINT, *SUPPORTS, "board")
    shown = [part for part in solids.parts if part.thing not in solids.far and part.what not in left_out]
    ground = np.array([-solids.subject_above_table_mm * solids.up, np.zeros(3)])
    flat = np.vstack([view.flat(ground), *(view.flat(part.hull) for part in shown)])
    return np.array([flat.min(axis=0), flat.max(axis=0)])


def _whole_extent(view: View, solids: Solids) -> NDArray[np.float64]:
    flat = np.vstack([_near_extent(view, solids), view.flat(solids.backdrop_centre)])
    return np.array([flat.min(axis=0), flat.max(axis=0)])


def common_ratio(sizes: NDArray, width_mm: float, height_mm: float) -> float:
    """The largest scale on the list at which both views fit, one over the other.

    sizes : (2, 2) mm of the set, width and height of each.  width_mm, height_mm : room for what is drawn.
    """
    needed = max(float(sizes[:, 0].max()) / width_mm, float(sizes[:, 1].sum()) / height_mm)
    return next((float(ratio) for ratio in RATIOS if ratio >= needed), float(RATIOS[-1]))
