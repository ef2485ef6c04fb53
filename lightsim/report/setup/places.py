"""From a scene to what a tape measure and a protractor need."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from lightsim.report.setup.plan_records import CameraPlace, Place, room_axes
from lightsim.report.words import card_kind, face_words
from lightsim.scene.faces import angle_and_clock
from lightsim.scene.records import Light, Scene
from lightsim.scene.stage import Face, Stage

BACKDROP = "backdrop"
OVER_MM = 0.5  # nearer than this to the plumb line, a direction seen from above says nothing


def places(scene: Scene, stage: Stage) -> tuple[Place, ...]:
    """Where lights, cards and backdrop stand, in the scene's order."""
    return tuple(_places(scene, stage))


def _places(scene: Scene, stage: Stage) -> Iterator[Place]:
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
    return CameraPlace(
        scene.camera.looks_down_deg,
        front,
        sensor,
        front * toward,
        front * up,
        sensor * toward,
        sensor * up,
    )
