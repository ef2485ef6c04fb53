"""Camera, lights, cards and backdrop as plain solids, and where the feet of their stands fit.

Their measures are those of the solid things and faces that the tracer has too (`scene.solid_bodies`); what is
on them, and what holds them, is drawn only: a photographer's own will differ, so the plan gives no numbers
for it. A foot stands clear of the flower, the camera, the lens's view, the backdrop and the rest.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.colour import srgb_encode
from lightsim.optics.lens_records import CameraGeometry
from lightsim.optics.lens_train import CLOSE_UP, SECOND, TELECONVERTER, TUBE
from lightsim.report.setup.solid.part import Part, box, box_at, disc_at, of_body, rod
from lightsim.report.theme import RGB8
from lightsim.scene.camera import in_view
from lightsim.scene.faces import RING, points_on
from lightsim.scene.records import Light
from lightsim.scene.solid_bodies import CAMERA, HOUSING_MM, SHEET_MM, light_bodies
from lightsim.scene.stage import Body, Face

_BODY: RGB8 = (188, 190, 193)
_GRIP: RGB8 = (168, 170, 174)
_LENS: RGB8 = (206, 208, 211)
_RING: RGB8 = (172, 174, 178)
_GLASS: RGB8 = (128, 138, 154)
_TUBES: tuple[RGB8, ...] = ((230, 231, 233), (214, 216, 219))
_SECOND: RGB8 = (198, 200, 204)
_CLOSE_UP: RGB8 = (236, 237, 239)


def camera_parts(bodies: Sequence[Body]) -> list[Part]:
    """All parts, the lens axis along the scene's z. bodies : of the camera, see `scene.solid_bodies`."""
    lens, body = (next(one for one in bodies if one.what == what) for what in ("lens", "body"))
    tubes = [one for one in bodies if one.what in (TUBE, TELECONVERTER)]
    parts = [of_body(lens, _LENS, thinner=2.0), *_on_lens(lens)]
    parts += [of_body(one, _CLOSE_UP) for one in bodies if one.what == CLOSE_UP]
    for second in (one for one in bodies if one.what == SECOND):
        front, radius = float(second.centre[2]) - second.half_depth_mm, second.half_width_mm
        parts += [of_body(second, _SECOND), _barrel("glass", front - 0.4, front + 0.5, 0.6 * radius, _GLASS)]
    parts += [of_body(tube, _TUBES[number % 2]) for number, tube in enumerate(tubes)]
    return [*parts, of_body(body, _BODY), *_on_camera(body)]


def _barrel(what: str, start: float, end: float, radius: float, colour: RGB8) -> Part:
    return rod(CAMERA, what, np.array([0.0, 0.0, start]), np.array([0.0, 0.0, end]), radius, colour)


def _on_lens(lens: Body) -> Iterator[Part]:
    length, radius = 2.0 * lens.half_depth_mm, lens.half_width_mm
    front = float(lens.centre[2]) - lens.half_depth_mm
    yield _barrel("ring", front + 0.30 * length, front + 0.62 * length, radius, _RING)
    yield _barrel("ring", front, front + min(6.0, 0.15 * length), radius, _RING)
    yield _barrel("glass", front - 0.4, front + 0.5, 0.72 * radius, _GLASS)


def _on_camera(body: Body) -> Iterator[Part]:
    """Hump for the finder, grip at the right hand, screen and release, in proportion to the body."""
    mount, size = float(body.centre[2]) - body.half_depth_mm, body.half_depth_mm / 29.0

    def piece(what: str, low: tuple, high: tuple, colour: RGB8) -> Part:
        base = np.array([0.0, 0.0, mount])
        return box(CAMERA, what, base + size * np.array(low), base + size * np.array(high), colour)

    yield piece("screen", (-38.0, -36.0, 58.0), (34.0, 16.0, 60.0), _GLASS)
    yield piece("finder", (-26.0, 40.0, 4.0), (26.0, 60.0, 64.0), _GRIP)
    yield piece("grip", (44.0, -48.0, -16.0), (70.0, 34.0, 2.0), _GRIP)
    yield piece("release", (50.0, 40.0, 8.0), (62.0, 44.0, 20.0), _GRIP)


def camera_foot(parts: Sequence[Part]) -> tuple[np.ndarray, np.ndarray]:
    """Where a support is screwed on, under the body (3,), and a point clear below it (3,)."""
    low, high = next(part.bounds for part in parts if part.what == "body")
    seat = np.array([0.0, low[1], 0.5 * (low[2] + high[2])])
    return seat, seat + np.array([0.0, -28.0, 0.0])


WIDEST_ON_A_GRIP_MM = 90.0  # half the width of a flash's head

GLOW: RGB8 = (255, 216, 150)
_HOUSING: RGB8 = (186, 186, 190)
_FRAME: RGB8 = (206, 206, 209)


def light_parts(light: Light, face: Face) -> tuple[list[Part], NDArray[np.float64]]:
    """The parts of a light, and the point (3,) behind it where a stand takes hold."""
    parts = [_glow(light.name, face)]
    heads = [body for body in light_bodies(light, face) if body.what in ("head", RING)]
    if not heads:
        return [*_pane(light.name, face), *parts], face.centre - 12.0 * face.out
    head = heads[0]
    front = float((face.centre - head.centre) @ face.out) - head.half_depth_mm
    if light.diffuser is not None:
        parts = [*_struts(light.name, face, head.half_width_mm - HOUSING_MM, front), *parts]
    if light.kind == "flash" and head.what != RING and head.half_width_mm < WIDEST_ON_A_GRIP_MM:
        parts = [_grip(head), *parts]
    hold = head.centre - head.half_depth_mm * head.out
    return [of_body(head, _HOUSING), *parts], hold


def _glow(name: str, face: Face) -> Part:
    """The glowing face itself, its front where the stage has it."""
    if face.round:
        return disc_at(name, "face", face, face.half_width_mm, -SHEET_MM, 0.0, GLOW)
    across, along = face.half_width_mm, face.half_height_mm
    return box_at(name, "face", face, (-across, -along, -SHEET_MM), (across, along, 0.0), GLOW)


def _grip(head: Body) -> Part:
    """What a flash's head sits on, below it. It can be turned away, so that it is drawn only."""
    across, along, deep = head.half_width_mm, head.half_height_mm, head.half_depth_mm
    half = min(max(0.8 * across, 18.0), 36.0)
    face = Face(head.centre + deep * head.out, head.right, head.up, head.out, across, along)
    low, high = (-half, -along - 75.0, -2.0 * deep), (half, -along - 1.0, -max(2.0 * deep - 48.0, 2.0))
    return box_at(head.thing, "grip", face, low, high, _HOUSING)


def _struts(name: str, face: Face, head_half_width: float, gap: float) -> Iterator[Part]:
    """What holds a diffuser before its head."""
    low, high = (-2.0, -2.0, -gap), (2.0, 2.0, -SHEET_MM)
    for side in (-1.0, 1.0):
        offset = np.array([side * 0.9 * min(head_half_width, face.half_width_mm), 0.0, 0.0])
        yield box_at(name, "strut", face, tuple(low + offset), tuple(high + offset), _FRAME)


def _pane(name: str, face: Face) -> Iterator[Part]:
    """A frame round a large face, with a cross in it."""
    across, along, bar = face.half_width_mm, face.half_height_mm, 0.025 * face.half_width_mm
    edges = [
        ((-across - bar, -along - bar), (across + bar, -along)),
        ((-across - bar, along), (across + bar, along + bar)),
        ((-across - bar, -along), (-across, along)),
        ((across, -along), (across + bar, along)),
        ((-0.5 * bar, -along), (0.5 * bar, along)),
        ((-across, -0.5 * bar), (across, 0.5 * bar)),
    ]
    for low, high in edges:
        yield box_at(name, "frame", face, (*low, -12.0), (*high, 3.0), _FRAME)


def card_parts(name: str, face: Face, reflectance: float) -> tuple[list[Part], NDArray[np.float64]]:
    """A card as light or dark as it is, and where its stand takes hold."""
    grey = round(255.0 * float(srgb_encode(np.array(reflectance))))
    across, along = face.half_width_mm, face.half_height_mm
    sheet = box_at(name, "card", face, (-across, -along, -SHEET_MM), (across, along, 0.0), (grey, grey, grey))
    return [sheet], face.centre - (SHEET_MM + 2.0) * face.out


def backdrop_part(name: str, face: Face, colour: RGB8) -> Part:
    """The backdrop's board."""
    across, along = face.half_width_mm, face.half_height_mm
    return box_at(name, "board", face, (-across, -along, -3.0), (across, along, 0.0), colour)


def stand_parts(name: str, hold: NDArray, over: NDArray, ground: NDArray) -> list[Part]:
    """A stand: an arm from where it takes hold to the point over its foot, a post down to the ground."""
    parts = []
    if float(np.linalg.norm(over - hold)) > 1.0:
        parts.append(rod(name, "arm", hold, over, 2.5, _FRAME))
    if float(np.linalg.norm(over - ground)) > 1.0:
        parts.append(rod(name, "post", over, ground, 2.5, _FRAME))
    up = over - ground
    length = float(np.linalg.norm(up))
    if length > 4.0:
        parts.append(rod(name, "foot", ground, ground + 3.0 * up / length, 22.0, _FRAME))
    return parts


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
