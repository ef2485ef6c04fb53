"""Flat faces in space: place and direction of a light, a card or the backdrop."""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.records import XYZ, Backdrop, Card, Light
from lightsim.scene.stage import Face

RING = "ring"
BEFORE_MM = 0.5  # how far a ring stands before the lens's front
INNER_SHARE = 0.75  # of a ring's diameter, its hole's where that is not given


def direction(angle_deg: float, clock: float) -> NDArray[np.float64]:
    """Unit vector (3,) toward an angle off the lens axis and a clock position (12 above, 3 right)."""
    angle, turn = radians(angle_deg), radians(30.0 * clock)
    return np.array([sin(angle) * sin(turn), sin(angle) * cos(turn), cos(angle)])


def angle_and_clock(vector: NDArray) -> tuple[float, float]:
    """Angle off the lens axis in degrees, and clock position (0 < clock <= 12; 12 on the axis itself)."""
    x, y, z = (float(part) for part in vector)
    off_axis = float(np.hypot(x, y))
    clock = float(np.degrees(np.arctan2(x, y))) / 30.0 % 12.0 if off_axis > 1e-9 * abs(z) else 0.0
    return float(np.degrees(np.arctan2(off_axis, z))), clock if clock > 0.0 else 12.0


def position(thing: Light | Card) -> NDArray[np.float64]:
    """Where a face's centre stands, (3,) mm: position_mm, or else by angle, clock position and distance."""
    if thing.position_mm is not None:
        return np.array(thing.position_mm, dtype=float)
    return thing.distance_mm * direction(thing.angle_deg, thing.clock)


def looking_at(centre: NDArray, aim_mm: XYZ, half_width: float, half_height: float, round: bool) -> Face:
    """A face at a centre, turned toward a point, its width level in the picture.

    A face that points straight up or down in the picture has its width along the picture's x.
    """
    out = np.array(aim_mm, dtype=float) - centre
    out /= np.linalg.norm(out)
    right = np.cross([0.0, 1.0, 0.0], out)
    length = np.linalg.norm(right)
    right = right / length if length > 1e-9 else np.array([1.0, 0.0, 0.0])
    return Face(centre, right, np.cross(out, right), out, half_width, half_height, round)


def light_face(light: Light) -> Face:
    """The glowing face of a light in its place: its diffuser, or its head."""
    sheet = light if light.diffuser is None else light.diffuser
    is_round = sheet.shape != "rectangle"
    height = sheet.width_mm if is_round else sheet.height_mm
    face = looking_at(position(light), light.aim_mm, 0.5 * sheet.width_mm, 0.5 * height, is_round)
    return replace(face, hole_mm=0.5 * inner_width_mm(light)) if light.shape == RING else face


def inner_width_mm(light: Light) -> float:
    """Inner diameter of a ring."""
    return INNER_SHARE * light.width_mm if light.inner_width_mm is None else light.inner_width_mm


def at_the_lens(light: Light, front_mm: float) -> Light:
    """A ring in its place just before the lens's front, front_mm from the focus; others as they are."""
    if light.shape != RING:
        return light
    return replace(light, position_mm=(0.0, 0.0, front_mm - BEFORE_MM), aim_mm=(0.0, 0.0, 0.0))


def card_face(card: Card) -> Face:
    """The white side of a reflector card in its place."""
    return looking_at(position(card), card.aim_mm, 0.5 * card.width_mm, 0.5 * card.height_mm, False)


def backdrop_face(backdrop: Backdrop) -> Face:
    """The backdrop, square to the lens axis and centred on it."""
    half = 0.5 * backdrop.width_mm
    return looking_at(np.array([0.0, 0.0, -backdrop.distance_mm]), (0.0, 0.0, 0.0), half, half, False)


def corners(face: Face) -> NDArray[np.float64]:
    """Four corners (4, 3) mm of a face, or of the square round a round one."""
    across = face.half_width_mm * face.right
    along = face.half_height_mm * face.up
    return face.centre + np.array([-across - along, across - along, across + along, along - across])


def points_on(face: Face, steps: int) -> NDArray[np.float64]:
    """Points (n, 3) mm spread over a face, its rim among them."""
    share = np.linspace(-1.0, 1.0, steps)
    s, t = (grid.ravel() for grid in np.meshgrid(share, share))
    if face.round:
        longest = np.maximum(np.abs(s), np.abs(t))
        scale = longest / np.maximum(np.hypot(s, t), 1e-12)
        s, t = s * scale, t * scale
    kept = np.hypot(s, t) * face.half_width_mm >= face.hole_mm
    s, t = s[kept], t[kept]
    across, along = face.half_width_mm * face.right, face.half_height_mm * face.up
    return face.centre + s[:, None] * across + t[:, None] * along


def distance_from(face: Face, points: NDArray) -> NDArray[np.float64]:
    """Distance (n,) mm of points (n, 3) from the nearest point of a face."""
    offset = points - face.centre
    s, t, height = offset @ face.right, offset @ face.up, offset @ face.out
    if face.round:
        off = np.hypot(s, t)
        beyond = np.maximum(np.maximum(off - face.half_width_mm, face.hole_mm - off), 0.0)
    else:
        beyond = np.hypot(
            np.maximum(np.abs(s) - face.half_width_mm, 0.0), np.maximum(np.abs(t) - face.half_height_mm, 0.0)
        )
    return np.hypot(beyond, height)


def same_direction(angle_deg: float, clock: float) -> tuple[float, float]:
    """The same direction with its angle from 0 to 180 degrees and its clock position above 0, up to 12.

    An angle below 0 or above 180 lies at the opposite clock position; whole turns are left out.

    >>> same_direction(-15.0, 10.0), same_direction(370.0, 3.0), same_direction(200.0, 3.0)
    ((15.0, 4.0), (10.0, 3.0), (160.0, 9.0))
    """
    turned = angle_deg % 360.0
    if turned > 180.0:
        turned, clock = 360.0 - turned, clock + 6.0
    return turned, clock % 12.0 or 12.0
