"""From a stage to a scene dictionary of Mitsuba 3, a general-purpose path tracer.

A drop is a whole dielectric sphere; the petal's surface inside it is its wet base. Lights are area emitters
of one candela on their axis, the dome a constant emitter of 1 lx.
"""

from __future__ import annotations

from math import atan, degrees, pi
from pathlib import Path
from typing import Any

import mitsuba
import numpy as np
import trimesh

from lightsim.constants import WATER_INDEX
from lightsim.scene.stage import Face, Stage


def _face(face: Face, emitter: dict[str, Any]) -> dict[str, Any]:
    to_world = np.eye(4)
    to_world[:3, 0] = face.right * face.half_width_mm
    to_world[:3, 1] = face.up * face.half_height_mm
    to_world[:3, 2] = np.cross(face.right, face.up)
    to_world[:3, 3] = face.centre
    assert np.dot(to_world[:3, 2], face.out) > 0.99
    shape = "disk" if face.round else "rectangle"
    black = {"type": "diffuse", "reflectance": {"type": "rgb", "value": 0.0}}
    return {
        "type": shape,
        "to_world": mitsuba.ScalarTransform4f(to_world),
        "emitter": emitter,
        "bsdf": black,
    }


def _petal(stage: Stage, folder: Path) -> dict[str, Any]:
    """A petal of one colour, opaque."""
    mesh = stage.petal
    assert np.ptp(mesh.reflectance) == 0.0
    assert np.max(mesh.transmittance) == 0.0
    path = folder / "petal.ply"
    made = trimesh.Trimesh(mesh.vertices, mesh.faces, vertex_normals=mesh.normals, process=False)
    path.write_bytes(trimesh.exchange.ply.export_ply(made, vertex_normal=True))
    matt = {"type": "diffuse", "reflectance": {"type": "rgb", "value": float(mesh.reflectance[0, 0])}}
    return {"type": "ply", "filename": str(path), "bsdf": {"type": "twosided", "nested": matt}}


def mitsuba_scene(stage: Stage, folder: Path, width_px: int, light: str | None, samples: int) -> Any:
    """One light of the stage, or its dome (None), as a loaded Mitsuba scene."""
    camera = stage.camera
    height_px = max(1, round(width_px / camera.aspect))
    scene: dict[str, Any] = {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": 40, "rr_depth": 60},
        "petal": _petal(stage, folder),
        "sensor": {
            "type": "thinlens",
            "aperture_radius": camera.pupil_radius_mm,
            "focus_distance": camera.pupil_distance_mm,
            "fov_axis": "x",
            "fov": degrees(2.0 * atan(0.5 * camera.field_width_mm / camera.pupil_distance_mm)),
            "to_world": mitsuba.ScalarTransform4f().look_at(
                origin=[0, 0, camera.pupil_distance_mm], target=[0, 0, 0], up=[0, 1, 0]
            ),
            "film": {
                "type": "hdrfilm",
                "width": width_px,
                "height": height_px,
                "rfilter": {"type": "box"},
                "component_format": "float32",
            },
            "sampler": {"type": "independent", "sample_count": samples},
        },
    }
    for k in range(len(stage.drops)):
        scene[f"drop{k}"] = {
            "type": "sphere",
            "center": [float(a) for a in stage.drops.centre[k]],
            "radius": float(stage.drops.radius[k]),
            "bsdf": {"type": "dielectric", "int_ior": WATER_INDEX, "ext_ior": 1.0},
        }
    if light is None:
        scene["dome"] = {"type": "constant", "radiance": {"type": "rgb", "value": 1.0 / pi}}
    else:
        face = next(staged.face for staged in stage.lights if staged.name == light)
        glow = {"type": "rgb", "value": 1e6 / face.area_mm2}
        scene["lamp"] = _face(face, {"type": "area", "radiance": glow})
    return mitsuba.load_dict(scene)
