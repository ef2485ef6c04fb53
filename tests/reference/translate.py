"""From a stage to a scene of Mitsuba 3, a general-purpose path tracer.

A drop is a dielectric sphere; the petal's surface inside it is its wet base. Under a petal that lets light
through, the part of the sphere below the petal is left away, since the petal is dry from below. Lights are
area emitters of one candela on their axis, the dome an emitter of 1 lx. The cuticle's gloss is not
translated: sets that are compared have none. Solid bodies are black there as they are here.
"""

from __future__ import annotations

from math import atan, degrees, pi
from typing import Any

import mitsuba
import numpy as np

from lightsim.constants import WATER_INDEX
from lightsim.scene.stage import Body, Face, PetalMesh, Stage

DEPTH = {"max_depth": 40, "rr_depth": 60}
DOME_WEIGHT = 0.1  # how often the dome is asked for, against other lights
DOME_ROWS = 256
NEAR_CLIP_MM = 0.5  # before the lens's front, at which its own barrel stands
CUT_ROWS = 2048  # of the picture that tells which part of a sphere is there


def mitsuba_scene(stage: Stage, width_px: int, lights: tuple[str, ...] | None, samples: int) -> Any:
    """Some lights of the stage, or its dome (None), as a loaded Mitsuba scene."""
    scene: dict[str, Any] = {
        "type": "scene",
        "integrator": {"type": "path", **DEPTH},
        "petal": _petal(stage.petal),
        "sensor": sensor(stage, width_px, samples),
    }
    see_through = bool(stage.petal.transmittance.max() > 0.0)
    for k in range(len(stage.drops)):
        angle = float(stage.drops.contact_angle_deg[k])
        water = f"water {angle:g}".replace(".", "_")
        scene.setdefault(water, _water(angle, open_below=see_through))
        scene[f"drop{k}"] = {**_sphere(stage, k), "bsdf": {"type": "ref", "id": water}}
    for k, card in enumerate(stage.cards):
        scene[f"card{k}"] = _face(card.face, bsdf=_matt((card.reflectance,) * 3))
    for k, body in enumerate(stage.bodies):
        scene |= {f"body{k} {part}": shape for part, shape in enumerate(_body(body))}
    if stage.backdrop is not None:
        scene["backdrop"] = _face(stage.backdrop, bsdf=_matt(stage.backdrop_reflectance))
    if lights is None:
        scene["dome"] = _dome(stage)
    for staged in stage.lights:
        if lights is not None and staged.name in lights:
            glow = {"type": "rgb", "value": 1e6 / staged.face.area_mm2}
            lamp = {"type": "area", "radiance": glow}
            scene[f"lamp {staged.name}"] = _face(staged.face, bsdf=_matt((0.0,) * 3), emitter=lamp)
    return mitsuba.load_dict(scene)


def sensor(stage: Stage, width_px: int, samples: int) -> dict[str, Any]:
    """The lens as a thin one, and a film of square pixels."""
    camera = stage.camera
    return {
        "type": "thinlens",
        "aperture_radius": camera.pupil_radius_mm,
        "focus_distance": camera.pupil_distance_mm,
        "fov_axis": "x",
        "near_clip": NEAR_CLIP_MM + max(camera.pupil_distance_mm - camera.working_distance_mm, 0.0),
        "fov": degrees(2.0 * atan(0.5 * camera.field_width_mm / camera.pupil_distance_mm)),
        "to_world": mitsuba.ScalarTransform4f().look_at(
            origin=[0, 0, camera.pupil_distance_mm], target=[0, 0, 0], up=[0, 1, 0]
        ),
        "film": {
            "type": "hdrfilm",
            "width": width_px,
            "height": max(1, round(width_px / camera.aspect)),
            "rfilter": {"type": "box"},
            "component_format": "float32",
        },
        "sampler": {"type": "independent", "sample_count": samples},
    }


def _matt(colour: Any) -> dict[str, Any]:
    return {"type": "diffuse", "reflectance": {"type": "rgb", "value": [float(a) for a in colour]}}


def _frame(right: Any, up: Any, out: Any, centre: Any) -> Any:
    to_world = np.eye(4)
    to_world[:3, 0], to_world[:3, 1], to_world[:3, 2], to_world[:3, 3] = right, up, out, centre
    return mitsuba.ScalarTransform4f(to_world)


def _face(face: Face, **more: Any) -> dict[str, Any]:
    out = np.cross(face.right, face.up)
    assert np.dot(out, face.out) > 0.99
    right, up = face.right * face.half_width_mm, face.up * face.half_height_mm
    shape = "disk" if face.round else "rectangle"
    return {"type": shape, "to_world": _frame(right, up, out, face.centre), **more}


def _body(body: Body) -> list[dict[str, Any]]:
    """A black box, or a black rod of a side and two ends."""
    black = {"type": "twosided", "nested": _matt((0.0,) * 3)}
    right, up, out = (
        half * axis
        for half, axis in zip(
            (body.half_width_mm, body.half_height_mm, body.half_depth_mm),
            (body.right, body.up, body.out),
            strict=True,
        )
    )
    if not body.round:
        return [{"type": "cube", "to_world": _frame(right, up, out, body.centre), "bsdf": black}]
    side = {
        "type": "cylinder",
        "p0": (body.centre - out).tolist(),
        "p1": (body.centre + out).tolist(),
        "radius": body.half_width_mm,
        "bsdf": black,
    }
    ends = [
        {"type": "disk", "to_world": _frame(right, up, body.out, body.centre + end), "bsdf": black}
        for end in (-out, out)
    ]
    return [side, *ends]


def _petal(mesh: PetalMesh) -> Any:
    """The triangles with their smooth normals and the colours of their vertices."""
    held = mitsuba.Properties()
    see_through = bool(mesh.transmittance.max() > 0.0)
    held["mesh_bsdf"] = mitsuba.load_dict(_thin() if see_through else _opaque())
    made = mitsuba.Mesh("petal", len(mesh.vertices), len(mesh.faces), has_vertex_normals=True, props=held)
    twice = 2.0 if see_through else 1.0  # halved by the blend
    made.add_attribute("vertex_rho", 3, (twice * mesh.reflectance).astype(np.float32).ravel())
    made.add_attribute("vertex_tau", 3, (2.0 * mesh.transmittance).astype(np.float32).ravel())
    told = mitsuba.traverse(made)
    told["vertex_positions"] = mesh.vertices.astype(np.float32).ravel()
    told["vertex_normals"] = mesh.normals.astype(np.float32).ravel()
    told["faces"] = mesh.faces.astype(np.uint32).ravel()
    told.update()
    return made


def _opaque() -> dict[str, Any]:
    matt = {"type": "diffuse", "reflectance": {"type": "mesh_attribute", "name": "vertex_rho"}}
    return {"type": "twosided", "nested": matt}


def _thin() -> dict[str, Any]:
    """Half of a matt sheet of twice the reflectance, half of one that only lets through, twice as much."""
    through = {
        "type": "principledthin",
        "base_color": {"type": "mesh_attribute", "name": "vertex_tau"},
        "diff_trans": 2.0,
        "spec_trans": 0.0,
    }
    return {"type": "blendbsdf", "weight": 0.5, "matt": _opaque(), "through": through}


def _water(contact_angle_deg: float, open_below: bool) -> dict[str, Any]:
    """A surface of water, left away below the contact angle when open."""
    water = {"type": "dielectric", "int_ior": WATER_INDEX, "ext_ior": 1.0}
    return {"type": "mask", "opacity": _above(contact_angle_deg), "nested": water} if open_below else water


def _sphere(stage: Stage, k: int) -> dict[str, Any]:
    normal, radius = stage.drops.normal[k], float(stage.drops.radius[k])
    away = np.array([1.0, 0.0, 0.0]) if abs(normal[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    right = np.cross(away, normal)
    right /= np.linalg.norm(right)
    up = np.cross(normal, right)
    placed = _frame(right * radius, up * radius, normal * radius, stage.drops.centre[k])
    return {"type": "sphere", "to_world": placed}


def _above(contact_angle_deg: float) -> dict[str, Any]:
    """1 from the pole of a sphere down to the contact angle, 0 below; v runs with the polar angle."""
    angle = (np.arange(CUT_ROWS) + 0.5) / CUT_ROWS * 180.0
    there = (angle < contact_angle_deg + 0.5).astype(np.float32)
    rows = np.repeat(there[:, None, None], 2, axis=1)
    return {
        "type": "bitmap",
        "bitmap": mitsuba.Bitmap(np.ascontiguousarray(rows)),
        "raw": True,
        "filter_type": "nearest",
        "wrap_mode": "clamp",
    }


def _dome(stage: Stage) -> dict[str, Any]:
    """Radiance 1 / pi, or in proportion to 1 + gradient cos(angle from up)."""
    if stage.ambient_gradient == 0.0:
        glow = {"type": "rgb", "value": 1.0 / pi}
        return {"type": "constant", "radiance": glow, "sampling_weight": DOME_WEIGHT}
    polar = (np.arange(DOME_ROWS) + 0.5) / DOME_ROWS * pi
    rows = (1.0 + stage.ambient_gradient * np.cos(polar)) / pi
    picture = np.broadcast_to(rows[:, None, None], (DOME_ROWS, 8, 3)).astype(np.float32)
    up = stage.up
    right = np.cross(up, [0.0, 0.0, 1.0] if abs(up[2]) < 0.9 else [1.0, 0.0, 0.0])
    right /= np.linalg.norm(right)
    return {
        "type": "envmap",
        "bitmap": mitsuba.Bitmap(np.ascontiguousarray(picture)),
        "to_world": _frame(right, up, np.cross(right, up), np.zeros(3)),  # a map's own up is y
        "sampling_weight": DOME_WEIGHT,
    }
