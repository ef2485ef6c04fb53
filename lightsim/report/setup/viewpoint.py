"""From where to look at the set so that nothing important is hidden."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import radians, tan

import numpy as np
from numpy.typing import NDArray

from lightsim.report.setup.solid.part import Part
from lightsim.report.setup.solid.whole import TABLE

FIELD_DEG = 20.0
ROUND_DEG = (-70, -55, -40, -25, 25, 40, 55, 70, -85, 85, -110, 110)
RAISED_DEG = (18, 27, 36, 46)
MARGIN = 1.10
# Parts that hold things up: they may be hidden, and are not counted.
SUPPORTS = ("arm", "post", "foot", "seat", "stem", "holder", "strut", "board", "top", "grid")
GROUND = ("board", "top", "grid")  # may run out of the picture, a board not to its middle

Things = Callable[["Viewpoint"], NDArray[np.int16]]


@dataclass(frozen=True)
class Viewpoint:
    """eye, target : (3,) mm in the scene's frame.  up : (3,).  field_rad : height of the field, radians.
    aspect : width over height of the picture."""

    eye: NDArray[np.float64]
    target: NDArray[np.float64]
    up: NDArray[np.float64]
    field_rad: float
    aspect: float

    @property
    def distance_mm(self) -> float:
        """From the eye to the subject's point."""
        return float(np.linalg.norm(self.eye))

    def axes(self) -> NDArray[np.float64]:
        """Rows right, up, backward (3, 3)."""
        back = self.eye - self.target
        back = back / np.linalg.norm(back)
        right = np.cross(self.up, back)
        right /= np.linalg.norm(right)
        return np.array([right, np.cross(back, right), back])

    def pose(self) -> NDArray[np.float64]:
        """The pose of a camera that looks along its own -z, (4, 4)."""
        pose = np.eye(4)
        pose[:3, :3] = self.axes().T
        pose[:3, 3] = self.eye
        return pose

    def seen(self, points: NDArray) -> NDArray[np.float64]:
        """Where points (n, 3) stand in the picture, (n, 2): 0..1 from left, 0..1 from the top."""
        turned = (np.atleast_2d(points) - self.eye) @ self.axes().T
        scale = 1.0 / (tan(0.5 * self.field_rad) * np.maximum(-turned[:, 2], 1e-6))
        return np.column_stack(
            [0.5 + 0.5 * turned[:, 0] * scale / self.aspect, 0.5 - 0.5 * turned[:, 1] * scale]
        )


def candidate_viewpoints(parts: Sequence[Part], up: NDArray, aspect: float) -> Iterator[Viewpoint]:
    """Viewpoints round the set, from the photographer's side first, each just far enough to see all of it."""
    boards = [part.vertices.mean(axis=0)[None] for part in parts if part.what == "board"]
    points = np.vstack([part.hull for part in parts if part.what not in GROUND] + boards)
    level = np.array([0.0, -up[2], up[1]])  # toward the photographer
    right = np.array([1.0, 0.0, 0.0])
    for raised in RAISED_DEG:
        for turn in ROUND_DEG:
            flat = np.cos(radians(turn)) * level + np.sin(radians(turn)) * right
            direction = np.cos(radians(raised)) * flat + np.sin(radians(raised)) * up
            yield _fitted(points, direction, up, aspect)


def _fitted(points: NDArray, direction: NDArray, up: NDArray, aspect: float) -> Viewpoint:
    """Along a direction, the nearest place and the target with which all points are in the picture."""
    view = Viewpoint(direction, np.zeros(3), up, radians(FIELD_DEG), aspect)
    turned = points @ view.axes().T
    half = tan(0.5 * view.field_rad) / MARGIN
    # the four sides of the field, each touching the points: x <= half aspect (d - z) and so on
    wide = half * aspect
    right, left = (turned[:, 0] + wide * turned[:, 2]).max(), (wide * turned[:, 2] - turned[:, 0]).max()
    top, bottom = (turned[:, 1] + half * turned[:, 2]).max(), (half * turned[:, 2] - turned[:, 1]).max()
    distance = max((right + left) / (2.0 * wide), (top + bottom) / (2.0 * half))
    x, y = 0.5 * (right - left), 0.5 * (top - bottom)
    eye = np.array([x, y, distance]) @ view.axes()
    return Viewpoint(eye, eye - direction, up, radians(FIELD_DEG), aspect)


def best_viewpoint(parts: Sequence[Part], up: NDArray, aspect: float, things: Things | None) -> Viewpoint:
    """The viewpoint from which the least seen thing is seen best.

    things : draws which thing each pixel shows; None takes the first viewpoint.
    """
    tried = list(candidate_viewpoints(parts, up, aspect))
    if things is None:
        return tried[1 * len(ROUND_DEG) + 2]
    names = tuple(dict.fromkeys(part.thing for part in parts))
    worth = [_worth(view, parts, names, things(view)) for view in tried]
    return tried[int(np.argmax(worth))]


def _worth(view: Viewpoint, parts: Sequence[Part], names: tuple[str, ...], seen: NDArray) -> float:
    """How much is seen: the least share of any thing, and the mean of all; larger things a little more."""
    shares, sizes = [], []
    for number, name in enumerate(names):
        own = _outline(view, [part for part in parts if part.thing == name], seen.shape)
        if name == TABLE or not own.any():
            continue
        shares.append(float((seen[own] == number).mean()))
        sizes.append(float(own.mean()))
    least = min(shares)
    faces = [part for part in parts if part.what in ("face", "card", "glass")]
    shown = float(np.mean([_front_shows(view, part) for part in faces]))
    return min(least, 0.6) + 0.5 * float(np.mean(shares)) + 0.25 * shown + 0.1 * min(sum(sizes) / 0.2, 1.0)


def _front_shows(view: Viewpoint, part: Part) -> bool:
    """Whether a face is seen from the side toward the subject."""
    centre = part.vertices.mean(axis=0)
    return bool(
        (view.eye - centre) @ -centre > 0.1 * np.linalg.norm(view.eye - centre) * np.linalg.norm(centre)
    )


def _outline(view: Viewpoint, parts: Sequence[Part], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """The pixels that parts, supports apart, cover when nothing hides them."""
    from PIL import Image, ImageDraw

    height, width = shape[:2]
    image = Image.new("1", (width, height))
    draw = ImageDraw.Draw(image)
    for part in parts:
        if part.what not in SUPPORTS:
            hull = hull_of(view.seen(part.hull) * [width, height])
            if len(hull) > 2:
                draw.polygon([tuple(point) for point in hull.tolist()], fill=1)
    return np.asarray(image, bool)


def hull_of(points: NDArray) -> NDArray[np.float64]:
    """The convex outline (m, 2) of points (n, 2); points on one line give its two ends."""
    from scipy.spatial import ConvexHull, QhullError

    try:
        return np.asarray(points[ConvexHull(points).vertices])
    except QhullError:
        along = points - points[0]
        far = points[int(np.argmax(np.hypot(*along.T)))]
        spread = (points - far) @ (points[0] - far)
        return np.array([far, points[int(np.argmax(spread))]])
