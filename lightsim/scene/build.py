"""From a scene to a stage: everything in its place about the point of sharp focus.

`build` keeps the petals, the drops and the posed sets it made last: scenes that differ in their lights
alone share the same arrays (`stage.petal is other.petal`), which a sweep of a light rests on.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import SceneError
from lightsim.scene.drops import place_drops
from lightsim.scene.faces import backdrop_face, card_face, direction, light_face
from lightsim.scene.petal import petal_sheet
from lightsim.scene.records import Camera, CameraGeometry, Drops, Focus, Light, Petal, Scene
from lightsim.scene.stage import DropSet, PetalMesh, Stage, StagedCard, StagedLight
from lightsim.scene.surface import Surface

# A flash with guide number GN (metres, ISO 100) gives E t = C GN^2 / (S d^2) lx s at a distance d, from the
# incident-light equation N^2 / t = E S / C of ISO 2720 with GN = N d (ISO 1230): C = 250 for a flat receptor.
INCIDENT_CONSTANT = 250.0
ISO_OF_GUIDE_NUMBERS = 100.0


def build(scene: Scene) -> Stage:
    """The set in world coordinates, or a SceneError that says everything that is wrong with it."""
    petal, drops = _posed(scene.petal, scene.drops, scene.camera.focus)
    backdrop = scene.backdrop
    stage = Stage(
        petal=petal,
        drops=drops,
        camera=camera_geometry(scene.camera),
        lights=tuple(_staged(light) for light in scene.lights),
        cards=tuple(StagedCard(card.name, card_face(card), card.reflectance) for card in scene.cards),
        up=up_in_picture(scene.camera.looks_down_deg),
        ambient_illuminance_lx=scene.ambient.illuminance_lx,
        ambient_gradient=scene.ambient.gradient,
        ambient_colour_temperature_k=scene.ambient.colour_temperature_k,
        backdrop=None if backdrop is None else backdrop_face(backdrop),
        backdrop_reflectance=np.array((0, 0, 0) if backdrop is None else backdrop.reflectance, np.float32),
    )
    return stage


def camera_geometry(camera: Camera) -> CameraGeometry:
    """The camera's geometry for a field width: a thin lens with a pupil ratio of 1, its pupil at its front.

    m = sensor width / field width; effective N = N (1 + m); the object-side aperture m / (2 N_eff) (the
    tangent, paraxial) gives the pupil's radius at the working distance. Formulas: Hecht, Optics, ch. 5.
    """
    magnification = camera.sensor_mm[0] / camera.field_width_mm
    effective = camera.f_number * (1.0 + magnification)
    return CameraGeometry(
        field_width_mm=camera.field_width_mm,
        aspect=camera.sensor_mm[0] / camera.sensor_mm[1],
        pupil_distance_mm=camera.working_distance_mm,
        pupil_radius_mm=camera.working_distance_mm * magnification / (2.0 * effective),
        working_distance_mm=camera.working_distance_mm,
        magnification=magnification,
        effective_f_number=effective,
    )


def up_in_picture(looks_down_deg: float) -> NDArray[np.float64]:
    """The direction against gravity, (3,), for a camera that looks down by an angle."""
    angle = radians(looks_down_deg)
    return np.array([0.0, cos(angle), sin(angle)])


def output(light: Light) -> float:
    """A light's output on its axis far away: cd s for a flash, cd for a continuous light.

    From a guide number: C GN^2 power / S. From an illuminance: E d^2 with d the distance from the face's
    centre to the origin, as if all its light came from there.
    """
    if light.guide_number_m is not None:
        return INCIDENT_CONSTANT * light.guide_number_m**2 * light.power / ISO_OF_GUIDE_NUMBERS
    if light.illuminance_lx is not None:
        return light.illuminance_lx * (1e-3 * float(np.linalg.norm(light_face(light).centre))) ** 2
    assert light.intensity is not None
    return light.intensity * (light.power if light.kind == "flash" else 1.0)


def _staged(light: Light) -> StagedLight:
    return StagedLight(light.name, light.kind, light_face(light), output(light), light.colour_temperature_k)


@lru_cache(maxsize=4)
def _surface(petal: Petal) -> Surface:
    return Surface(petal_sheet(petal))


@lru_cache(maxsize=4)
def _drops(petal: Petal, drops: Drops) -> DropSet:
    return place_drops(drops, _surface(petal))


@lru_cache(maxsize=4)
def _posed(petal: Petal, drops: Drops, focus: Focus) -> tuple[PetalMesh, DropSet]:
    turn = pose(petal)
    mesh = _surface(petal).mesh
    mesh = replace(mesh, vertices=mesh.vertices @ turn.T, normals=mesh.normals @ turn.T)
    placed = _drops(petal, drops)
    placed = replace(
        placed, centre=placed.centre @ turn.T, foot=placed.foot @ turn.T, normal=placed.normal @ turn.T
    )
    point = focus_point(focus, mesh, placed)
    mesh = replace(mesh, vertices=mesh.vertices - point)
    return mesh, replace(placed, centre=placed.centre - point, foot=placed.foot - point)


def pose(petal: Petal) -> NDArray[np.float64]:
    """Rotation (3, 3) from the petal's own frame to the picture's: turned in its plane, then tilted."""
    turn = radians(petal.turn_deg)
    spin = np.array([[cos(turn), -sin(turn), 0.0], [sin(turn), cos(turn), 0.0], [0.0, 0.0, 1.0]])
    back = direction(90.0, petal.tilt_clock)
    level = np.cross([0.0, 0.0, 1.0], back)
    tilt = radians(petal.tilt_deg)
    # columns: where `back`, `level` and z go
    frame = np.stack([back, level, [0.0, 0.0, 1.0]], axis=1)
    leaning = np.stack(
        [cos(tilt) * back - sin(tilt) * frame[:, 2], level, cos(tilt) * frame[:, 2] + sin(tilt) * back],
        axis=1,
    )
    return leaning @ frame.T @ spin


def focus_point(focus: Focus, petal: PetalMesh, drops: DropSet) -> NDArray[np.float64]:
    """Where it is sharp, (3,) mm, in picture directions from the petal's centre."""
    if focus.on == "drop":
        return drop_front(_focused_drop(focus, drops), drops)
    place = Surface(petal).below(focus.x_mm, focus.y_mm)
    if place is None:
        raise SceneError(
            f"camera.focus: found x_mm {focus.x_mm:g}, y_mm {focus.y_mm:g}, which is off the petal as the "
            "camera sees it, allowed any place on it"
        )
    offset = focus.offset_mm if focus.on == "offset" else 0.0
    return place.point + np.array([0.0, 0.0, offset])


def _focused_drop(focus: Focus, drops: DropSet) -> int:
    if len(drops) == 0:
        raise SceneError(
            'camera.focus.on: found "drop", but no drop is on the petal, allowed "petal" or "offset"'
        )
    if focus.drop is None:
        return int(np.argmax(drops.radius))
    if focus.drop >= len(drops):
        raise SceneError(
            f"camera.focus.drop: found {focus.drop}, but {len(drops)} drops are on the petal, "
            f"allowed a whole number from 0 to {len(drops) - 1}"
        )
    return focus.drop


def drop_front(drop: int, drops: DropSet) -> NDArray[np.float64]:
    """The point of a drop's surface that is nearest to the lens, (3,) mm.

    The sphere's foremost point, or where the petal cuts that off, the foremost point of the cut's circle.
    """
    toward = np.array([0.0, 0.0, 1.0])
    front = drops.centre[drop] + drops.radius[drop] * toward
    normal = drops.normal[drop]
    if (front - drops.foot[drop]) @ normal >= 0.0:
        return front
    along = toward - (toward @ normal) * normal
    disc = drops.radius[drop] * sin(radians(drops.contact_angle_deg[drop]))
    return drops.foot[drop] + disc * along / np.linalg.norm(along)
