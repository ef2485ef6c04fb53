"""What a plan of the set-up holds: places for a tape measure and a protractor, settings, cautions.

The room's frame: right (seen from behind the camera), toward (the camera's side) and up (against gravity),
millimetres from the subject's point of sharp focus. The lens axis lies in the plane of toward and up.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.report.words import card_kind, face_words, plain, significant
from lightsim.scene.faces import angle_and_clock
from lightsim.scene.records import Light, Scene
from lightsim.scene.stage import Face, Stage


@dataclass(frozen=True)
class Place:
    """Place and direction of a light, a card or the backdrop.

    kind : "flash", "continuous", "card" or "backdrop".
    about : its face in words.
    distance_mm : straight from the subject's point to the face's centre.
    angle_deg, clock : off the lens axis (0 from the lens, 180 from behind), and clock position (12 above).
    right_mm, toward_mm, up_mm : from the subject, level with the table; negative is left, away, below.
    round_deg : seen from above, from the camera's side: 0 toward it, 90 right, -90 left, 180 away.
    raised_deg : seen from the subject, above (or, negative, below) its level.
    looks_up_deg : direction of the face, above (or below) the level.
    slope_deg : of the face's width against the level, its right end (as the face sees the subject) up.
    aims_off_mm : how far beside the subject's point the middle of the face aims.
    width_mm, height_mm, is_round : of the face.
    """

    name: str
    kind: str
    about: str
    distance_mm: float
    angle_deg: float
    clock: float
    right_mm: float
    toward_mm: float
    up_mm: float
    round_deg: float
    raised_deg: float
    looks_up_deg: float
    slope_deg: float
    aims_off_mm: float
    width_mm: float
    height_mm: float
    is_round: bool

    @property
    def is_light(self) -> bool:
        """Whether it shines by itself."""
        return self.kind in ("flash", "continuous")


@dataclass(frozen=True)
class CameraPlace:
    """Where the camera stands; millimetres from the subject's point of sharp focus.

    looks_down_deg : of the lens axis below the level; negative looks up.
    front_mm : along the lens axis to the front of the lens (the working distance).
    sensor_mm : along the lens axis to the sensor, as thin lenses have it.
    front_toward_mm, front_up_mm, sensor_toward_mm, sensor_up_mm : the same places level with the table.
    """

    looks_down_deg: float
    front_mm: float
    sensor_mm: float
    front_toward_mm: float
    front_up_mm: float
    sensor_toward_mm: float
    sensor_up_mm: float


@dataclass(frozen=True)
class Caution:
    """A caution and its cause. key : a short name. on : names of the things that bring it, "camera" too."""

    key: str
    words: str
    on: tuple[str, ...]


@dataclass(frozen=True)
class SetupPlan:
    """All that a page of the set-up says.

    about : what the scene shows.  camera, places : where everything stands.
    subject_above_table_mm : how high the subject's point must stand at least, so that all clears the table.
    settings : (thing, words).  cautions : each with its cause.  last_word : what stands under them.
    numbers : of frame and exposure, units in their names.
    """

    name: str
    about: str
    camera: CameraPlace
    places: tuple[Place, ...]
    subject_above_table_mm: float
    settings: tuple[tuple[str, str], ...]
    cautions: tuple[Caution, ...]
    last_word: str = ""
    numbers: dict[str, Any] = field(default_factory=dict)

    def marks_of(self, name: str) -> tuple[int, ...]:
        """Numbers, from 1, of the cautions that a thing brings."""
        return tuple(number for number, caution in enumerate(self.cautions, 1) if name in caution.on)


def room_axes(up: NDArray) -> NDArray[np.float64]:
    """Rows right, toward, up of the room in the scene's frame, (3, 3), for a direction against gravity (3,)
    that has no part along the picture's x."""
    return np.array([[1.0, 0.0, 0.0], [0.0, -up[2], up[1]], up], dtype=float)


def length_words(size_mm: float) -> str:
    """A length for a tape measure: whole millimetres, metres from ten metres on."""
    if abs(size_mm) >= 10_000.0:
        return f"{significant(size_mm / 1000.0, 3)} m"
    return f"{plain(size_mm, 0)} mm"


def bare_length(size_mm: float) -> str:
    """The same without its unit where that is the millimetre."""
    return length_words(size_mm).removesuffix(" mm")


BACKDROP = "backdrop"
OVER_MM = 0.5  # nearer than this to the plumb line, a direction seen from above says nothing


def places(scene: Scene, stage: Stage) -> Iterator[Place]:
    """Where lights, cards and backdrop stand, in the scene's order."""
    axes = room_axes(stage.up)
    for light, staged in zip(scene.lights, stage.lights, strict=True):
        yield _place(light.name, light.kind, light_about(light), staged.face, axes)
    for card in stage.cards:
        yield _place(
            card.name,
            "card",
            f"{card_kind(card.reflectance)} {face_words(card.face.shape, *card.face.size_mm)}",
            card.face,
            axes,
        )
    if stage.backdrop is not None:
        about = f"matt {face_words(stage.backdrop.shape, *stage.backdrop.size_mm)}, square to the lens axis"
        yield _place(BACKDROP, "backdrop", about, stage.backdrop, axes)


def _place(name: str, kind: str, about: str, face: Face, axes: NDArray) -> Place:
    right, toward, up = (axes @ face.centre).tolist()
    looks = axes @ face.out
    width = axes @ face.right
    angle, clock = angle_and_clock(face.centre)
    over = float(np.hypot(right, toward)) < OVER_MM
    return Place(
        name=name,
        kind=kind,
        about=about,
        distance_mm=float(np.linalg.norm(face.centre)),
        angle_deg=angle,
        clock=clock,
        right_mm=right,
        toward_mm=toward,
        up_mm=up,
        round_deg=0.0 if over else float(np.degrees(np.arctan2(right, toward))),
        raised_deg=float(np.degrees(np.arctan2(up, np.hypot(right, toward)))),
        looks_up_deg=float(np.degrees(np.arcsin(np.clip(looks[2], -1.0, 1.0)))),
        slope_deg=float(np.degrees(np.arcsin(np.clip(width[2], -1.0, 1.0)))),
        aims_off_mm=float(np.linalg.norm(np.cross(face.centre, face.out))),
        width_mm=2.0 * face.half_width_mm,
        height_mm=2.0 * face.half_height_mm,
        is_round=face.round,
    )


def light_about(light: Light) -> str:
    """A light's head, and the diffuser before it."""
    head = face_words(light.shape, light.width_mm, light.height_mm, light.inner_width_mm)
    if light.diffuser is None:
        return f"{'flash head' if light.kind == 'flash' else 'lit face'} {head}"
    sheet = light.diffuser
    return f"diffuser {face_words(sheet.shape, sheet.width_mm, sheet.height_mm)}, head {head} behind it"


def camera_place(scene: Scene, stage: Stage) -> CameraPlace:
    """Where the lens's front and the sensor stand."""
    _, toward, up = room_axes(stage.up)[:, 2].tolist()  # the lens axis in the room
    front, sensor = stage.camera.working_distance_mm, stage.camera.sensor_distance_mm
    level = front * toward, front * up, sensor * toward, sensor * up
    return CameraPlace(scene.camera.looks_down_deg, front, sensor, *level)
