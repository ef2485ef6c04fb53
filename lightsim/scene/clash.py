"""Collisions on the set: a light in a drop, in the lens's view, behind the backdrop."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.lens_records import CameraGeometry
from lightsim.optics.lens_refusals import no_room
from lightsim.scene.camera import half_field_mm, in_view, lens_train, view_end_mm
from lightsim.scene.faces import corners, distance_from, points_on
from lightsim.scene.records import Card, Light, Scene
from lightsim.scene.stage import DropSet, Face, Stage

STEPS = 41  # points along a face's edge that are tested for lying in the view
RIM = 32  # lines along the border of the view that are tested for crossing a face


def clashes(scene: Scene, stage: Stage) -> Iterator[str]:
    """One sentence for each thing that stands where it cannot."""
    yield from _petal(scene, stage)
    lights = zip(scene.lights, (light.face for light in stage.lights), strict=True)
    cards = zip(scene.cards, (card.face for card in stage.cards), strict=True)
    for number, (light, face) in enumerate(lights):
        yield from _face(f"light[{number}]", light, face, scene, stage)
    for number, (card, face) in enumerate(cards):
        yield from _face(f"card[{number}]", card, face, scene, stage)


def _petal(scene: Scene, stage: Stage) -> Iterator[str]:
    """The petal and its drops neither touch the lens nor reach through the backdrop."""
    working = stage.camera.working_distance_mm
    front = _nearest_to_lens(stage, working)
    if front >= working:
        yield _touches(scene, working, front)
    back = -float(stage.petal.vertices[:, 2].min())
    if scene.backdrop is not None and back >= scene.backdrop.distance_mm:
        yield (
            f"backdrop.distance_mm: found {scene.backdrop.distance_mm:g}, but from where it is sharp the "
            f"petal reaches {back:.1f} mm back, allowed more than that"
        )


def _touches(scene: Scene, working: float, front: float) -> str:
    """What to change where the subject reaches as far as the lens."""
    reaches = f"the subject reaches {front:.1f} mm toward the lens"
    if scene.lens is None:
        return (
            f"camera.working_distance_mm: found {working:g}, but from where it is sharp {reaches}, allowed "
            "more than that"
        )
    left = f"which leaves {working:.1f} mm free before the lens, but from where it is sharp {reaches}"
    return no_room(lens_train(scene.camera, scene.lens), front, left)


def _nearest_to_lens(stage: Stage, least: float) -> float:
    """How far the petal and the drops in front of the field reach toward the lens, mm; petal below `least`
    does not count."""
    reach = float(np.linalg.norm(half_field_mm(stage.camera)))
    vertices = stage.petal.vertices[stage.petal.vertices[:, 2] >= least]
    before = vertices[np.hypot(vertices[:, 0], vertices[:, 1]) <= reach]
    drops = stage.drops
    near = np.hypot(drops.centre[:, 0], drops.centre[:, 1]) <= reach + drops.radius
    tops = (drops.centre[:, 2] + drops.radius)[near]
    return max(float(before[:, 2].max(initial=-np.inf)), float(tops.max(initial=-np.inf)))


def _face(where: str, thing: Light | Card, face: Face, scene: Scene, stage: Stage) -> Iterator[str]:
    found = f'{where}: found "{thing.name}"'
    drop = drop_round(face, stage.drops)
    if drop is not None:
        size = 2.0 * stage.drops.radius[drop]
        yield f"{found} inside drop {drop} ({size:.2g} mm across), allowed a place clear of the drops"
    if blocks_view(face, stage.camera):
        yield (
            f"{found} between the lens and what it sees, allowed a place out of the view: farther off the "
            f"axis, farther away than the lens ({stage.camera.working_distance_mm:g} mm), or smaller"
        )
    backdrop = scene.backdrop
    if backdrop is not None and float(_outline(face)[:, 2].min()) <= -backdrop.distance_mm:
        yield (
            f"{found} behind the backdrop or through it, allowed a place before it "
            f"(backdrop.distance_mm is {backdrop.distance_mm:g})"
        )


def _outline(face: Face) -> NDArray:
    return points_on(face, 33) if face.round else corners(face)


def drop_round(face: Face, drops: DropSet) -> int | None:
    """The first drop whose sphere a face touches, or None."""
    inside = np.flatnonzero(distance_from(face, drops.centre) < drops.radius)
    return int(inside[0]) if len(inside) else None


def blocks_view(face: Face, camera: CameraGeometry) -> bool:
    """Whether a face hides part of the field from the lens's opening.

    Points over the face are tested for lying in the view, and lines along the view for crossing the face,
    which finds faces that are small and faces that are large against it.
    """
    points = points_on(face, STEPS)
    points = points[points[:, 2] > 0.0]
    if len(points) == 0:
        return False
    return bool(in_view(camera, points).any() or _crossed_by_lines(face, camera))


def _crossed_by_lines(face: Face, camera: CameraGeometry) -> bool:
    turn = np.linspace(0.0, 2.0 * np.pi, RIM, endpoint=False)
    rim = np.vstack([np.column_stack([np.cos(turn), np.sin(turn)]), [[0.0, 0.0]]])
    square = rim / np.maximum(np.abs(rim).max(axis=1, keepdims=True), 1e-12)
    field = np.column_stack([square * half_field_mm(camera), np.zeros(len(rim))])
    end = view_end_mm(camera)
    share = end / camera.pupil_distance_mm
    across = (1.0 - share) * field[:, :2] + abs(share) * camera.pupil_radius_mm * rim
    lens = np.column_stack([across, np.full(len(rim), end)])
    along = lens - field
    slope = along @ face.out
    share = np.divide(
        (face.centre - field) @ face.out, slope, out=np.full(len(rim), -1.0), where=np.abs(slope) > 1e-12
    )
    crossing = field + share[:, None] * along
    hit = distance_from(face, crossing) < 1e-9 * (1.0 + np.abs(face.centre).max())
    return bool((hit & (share > 0.0) & (share < 1.0)).any())
