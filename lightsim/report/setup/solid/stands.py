"""Where the foot of a stand fits: clear of the flower, the camera, the lens's view, the backdrop, the rest.

What the feet and stands look like is ours; a photographer's own will differ, so the plan gives no numbers
for them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.lens_records import CameraGeometry
from lightsim.scene.camera import in_view
from lightsim.scene.faces import points_on
from lightsim.scene.stage import Face

ARMS_MM = np.arange(0.0, 451.0, 30.0)
TURNS_DEG = np.array([0.0, 22.5, -22.5, 45.0, -45.0, 67.5, -67.5, 90.0, -90.0, 135.0, -135.0, 180.0])
FLOWER_ROOM_MM = 25.0
CAMERA_ROOM_MM = 90.0
FACE_ROOM_MM = 14.0
STEPS = 40

Ground = Callable[[float, float], float]  # height of the ground at (right, toward), mm


@dataclass(frozen=True)
class Floor:
    """What a stand must keep clear of.

    axes : rows right, toward, up (3, 3).  ground : its height at a place.
    flower_mm : how far the flower reaches level from the subject.
    camera_from, camera_to : front of the lens and back of the camera in the room (3,).
    backdrop_mm : its distance behind the subject, or None.
    faces : all faces that a post may not go through.
    """

    axes: NDArray[np.float64]
    ground: Ground
    flower_mm: float
    camera: CameraGeometry
    camera_from: NDArray[np.float64]
    camera_to: NDArray[np.float64]
    backdrop_mm: float | None
    faces: tuple[Face, ...]

    def foot(
        self, hold: NDArray, outward: NDArray | None = None, own: Face | None = None, camera: bool = False
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The point over the foot and the foot (3,), in the scene's frame, with the shortest arm that is
        clear; with no arm where none is.

        hold : where the stand takes hold (3,).  outward : the direction tried first, level; from the subject
        when None.  own : the face that it carries.  camera : whether it carries the camera.
        """
        right, toward, height = (self.axes @ hold).tolist()
        level = np.array([right, toward]) if outward is None else (self.axes @ outward)[:2]
        length = float(np.linalg.norm(level))
        level = level / length if length > 1.0 or (outward is not None and length > 0) else np.array([1.0, 0])
        for arm in ARMS_MM:
            for turn in TURNS_DEG if arm > 0.0 else TURNS_DEG[:1]:
                place = np.array([right, toward]) + arm * _turned(level, turn)
                if self._clear(hold, place, height, own, camera):
                    return self._post(place, height)
        return self._post(np.array([right, toward]), height)

    def _post(self, place: NDArray, height: float) -> tuple[NDArray, NDArray]:
        ground = min(self.ground(float(place[0]), float(place[1])), height)
        return np.array([*place, height]) @ self.axes, np.array([*place, ground]) @ self.axes

    def _clear(self, hold: NDArray, place: NDArray, height: float, own: Face | None, camera: bool) -> bool:
        over, foot = self._post(place, height)
        share = np.linspace(0.0, 1.0, STEPS)[:, None]
        points = np.vstack([hold + share * (over - hold), over + share * (foot - over)])
        return (
            float(np.hypot(*place)) > self.flower_mm + FLOWER_ROOM_MM
            and (camera or self._off_camera(place, height))
            and not bool(in_view(self.camera, points).any())
            and (self.backdrop_mm is None or float(points[:, 2].min()) >= -self.backdrop_mm - 1e-6)
            and all(self._off_face(face, place, height) for face in self.faces if face is not own)
        )

    def _off_camera(self, place: NDArray, height: float) -> bool:
        """Whether a post of that height stands beside the camera or ends under it."""
        ends = np.array([self.camera_from, self.camera_to])
        if height < float(ends[:, 2].min()) - CAMERA_ROOM_MM:
            return True
        along = ends[1, :2] - ends[0, :2]
        share = float((place - ends[0, :2]) @ along) / max(float(along @ along), 1e-9)
        nearest = ends[0, :2] + min(max(share, 0.0), 1.0) * along
        return float(np.linalg.norm(place - nearest)) > CAMERA_ROOM_MM

    def _off_face(self, face: Face, place: NDArray, height: float) -> bool:
        points = points_on(face, 9) @ self.axes.T
        near = np.hypot(*(points[:, :2] - place).T) < FACE_ROOM_MM
        return not bool((near & (points[:, 2] < height + FACE_ROOM_MM)).any())


def _turned(level: NDArray, degrees: float) -> NDArray[np.float64]:
    angle = np.radians(degrees)
    cos, sin = np.cos(angle), np.sin(angle)
    return np.array([cos * level[0] - sin * level[1], sin * level[0] + cos * level[1]])
