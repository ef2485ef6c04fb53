"""The solid things on the set: lens, tubes and camera, lamp heads, diffusers.

Each is a box or a round rod, in world coordinates. What a scene does not say is supposed: the functions that
give a measure say so in `supposed`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from lightsim.optics.lens_records import CameraGeometry
from lightsim.optics.lens_train import CLOSE_UP, LENS, SECOND
from lightsim.scene.camera import barrel_pieces
from lightsim.scene.faces import RING, light_face
from lightsim.scene.records import Camera, Lens, Light, Scene
from lightsim.scene.stage import Body, Face

CAMERA, HOLE = "camera", "hole"
HOLE_MM = 0.2  # how far that which stands for a ring's hole reaches before its face
_AXES = np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])

# What is supposed of things whose measures are not known: common practice, no source.
LENS_RADIUS_MM = 33.0
TUBE_RADIUS_MM = 31.0
RIM_MM = 2.0  # by which a close-up lens is wider than the lens
SECOND_LESS_MM = 3.0  # by which a second lens, reversed before the first, is narrower than it
CAMERA_LOW_MM, CAMERA_HIGH_MM = (-66.0, -48.0, 0.0), (66.0, 40.0, 58.0)  # from the mount's middle
FULL_WIDTH_MM = 36.0  # of the sensor that such a camera has
HOUSING_MM = 3.0  # by which a head reaches beyond its face
LEAST_HEAD_MM, MOST_HEAD_MM = 18.0, 80.0
LEAST_GAP_MM, MOST_GAP_MM = 25.0, 250.0  # between a diffuser and the head behind it
SHEET_MM = 1.5  # thickness of a diffuser
BEHIND_MM = 0.05  # a glowing face's own housing begins so far behind it
WINDOW_MM = 500.0  # a face as wide as this is a window or a wall of light, without a head


def bodies_of(scene: Scene, geometry: CameraGeometry) -> tuple[Body, ...]:
    """All solid things of a scene; none where its `bodies` is false."""
    if not scene.bodies:
        return ()
    lamps = (body for light in scene.lights for body in light_bodies(light, light_face(light)))
    return (*camera_bodies(scene.camera, scene.lens, geometry), *lamps)


def lens_radius_mm(lens: Lens | None) -> float:
    """Radius of the lens's barrel; supposed to be LENS_RADIUS_MM."""
    if lens is not None and lens.barrel_diameter_mm is not None:
        return 0.5 * lens.barrel_diameter_mm
    return LENS_RADIUS_MM


def camera_bodies(camera: Camera, lens: Lens | None, geometry: CameraGeometry) -> tuple[Body, ...]:
    """The barrel's pieces and the camera, from the front backward, along the scene's z."""
    pieces, radius = barrel_pieces(camera, lens, geometry), lens_radius_mm(lens)
    radii = {LENS: radius, CLOSE_UP: radius + RIM_MM, SECOND: radius - SECOND_LESS_MM}
    parts = [
        _rod(piece.what, piece.start_mm, piece.end_mm, radii.get(piece.what, TUBE_RADIUS_MM))
        for piece in pieces
    ]
    size = min(max(camera.sensor_mm[0] / FULL_WIDTH_MM, 0.75), 2.0)
    low, high = size * np.array(CAMERA_LOW_MM), size * np.array(CAMERA_HIGH_MM)
    half = 0.5 * (high - low)
    centre = np.array([0.0, 0.0, pieces[-1].end_mm]) + 0.5 * (low + high)
    parts.append(Body(CAMERA, "body", centre, *_AXES, float(half[0]), float(half[1]), float(half[2])))
    return tuple(parts)


def _rod(what: str, start_mm: float, end_mm: float, radius: float) -> Body:
    centre = np.array([0.0, 0.0, 0.5 * (start_mm + end_mm)])
    return Body(CAMERA, what, centre, *_AXES, radius, radius, 0.5 * (end_mm - start_mm), round=True)


def light_bodies(light: Light, face: Face) -> tuple[Body, ...]:
    """A light's diffuser and its head behind it, or its head alone; a face as wide as a window has neither. A
    ring's face is a disc whose middle, the lens's own place, is a body before it.

    The head stands half the diffuser's width behind it, which lights most of that.
    """
    if 2.0 * max(face.half_width_mm, face.half_height_mm) >= WINDOW_MM:
        return ()
    if light.shape == RING:
        hole = replace(face, half_width_mm=face.hole_mm, half_height_mm=face.hole_mm)
        return (
            _behind(light.name, HOLE, hole, 0.0, -HOLE_MM, 0.0),
            _behind(light.name, RING, face, HOUSING_MM, BEHIND_MM, head_depth_mm(light)),
        )
    if light.diffuser is None:
        return (_behind(light.name, "head", face, HOUSING_MM, BEHIND_MM, head_depth_mm(light)),)
    gap = min(max(face.half_width_mm, face.half_height_mm, LEAST_GAP_MM), MOST_GAP_MM)
    is_round = light.shape == "round"
    height = light.width_mm if is_round else light.height_mm
    front = face.centre - gap * face.out
    head = Face(front, face.right, face.up, face.out, 0.5 * light.width_mm, 0.5 * height, is_round)
    return (
        _behind(light.name, "diffuser", face, 0.0, BEHIND_MM, SHEET_MM),
        _behind(light.name, "head", head, HOUSING_MM, 0.0, head_depth_mm(light)),
    )


def head_depth_mm(light: Light) -> float:
    """Depth of a light's head; supposed to be about its lesser side, LEAST_HEAD_MM to MOST_HEAD_MM."""
    if light.head_depth_mm is not None:
        return light.head_depth_mm
    height = light.height_mm if light.shape == "rectangle" else light.width_mm
    return min(max(1.1 * (0.5 * min(light.width_mm, height) + HOUSING_MM), LEAST_HEAD_MM), MOST_HEAD_MM)


def _behind(thing: str, what: str, face: Face, wider: float, start_mm: float, depth_mm: float) -> Body:
    """A box or a rod from start_mm to depth_mm behind a face, so much wider on each side."""
    centre = face.centre - 0.5 * (start_mm + depth_mm) * face.out
    half = face.half_width_mm + wider, face.half_height_mm + wider, 0.5 * (depth_mm - start_mm)
    return Body(thing, what, centre, face.right, face.up, face.out, *half, round=face.round)


def supposed(scene: Scene, geometry: CameraGeometry) -> Iterator[str]:
    """One phrase for each measure of a solid thing that the scene does not give and that is supposed."""
    if not scene.bodies:
        return
    lens = scene.lens
    if lens is None or lens.barrel_diameter_mm is None:
        yield f"the lens is {2.0 * lens_radius_mm(lens):.0f} mm wide (lens.barrel_diameter_mm)"
    if lens is None or lens.barrel_length_mm is None:
        barrel = next(b for b in camera_bodies(scene.camera, lens, geometry) if b.what == "lens")
        yield f"the lens is {2.0 * barrel.half_depth_mm:.0f} mm long (lens.barrel_length_mm)"
    for light in scene.lights:
        if light.head_depth_mm is None and any(light_bodies(light, light_face(light))):
            yield f"the head of {light.name} is {head_depth_mm(light):.0f} mm deep (head_depth_mm)"
