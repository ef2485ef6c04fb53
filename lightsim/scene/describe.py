"""What is on the set, in numbers and in warnings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import FLATTENED_BOND_NUMBER
from lightsim.optics.depth import circle_of_confusion_mm, depth_of_field
from lightsim.optics.lens_figures import train_figures
from lightsim.optics.lens_records import CameraGeometry
from lightsim.optics.water import bond_number, capillary_length_mm
from lightsim.scene.build import room_light_lx
from lightsim.scene.camera import half_field_mm, in_view, lens_train, toward_lens
from lightsim.scene.faces import angle_and_clock, distance_from, points_on
from lightsim.scene.obstruction import hidden_share, not_buildable, unbuildable_words
from lightsim.scene.petal.pose import focused_drop
from lightsim.scene.petal.surface import Surface
from lightsim.scene.records import Scene
from lightsim.scene.solid_bodies import supposed
from lightsim.scene.stage import DropSet, Face, Stage, StagedLight

COLUMNS = 36  # places across the frame that are sampled for the petal's cover


def describe(scene: Scene, stage: Stage) -> dict[str, Any]:
    """The set in plain numbers, units in the names: petal, drops, camera, lens train, lights, room, movement,
    warnings."""
    outline = outline_seen(stage)
    return {
        "about": scene.about,
        "petal": _petal(scene, stage, outline),
        "drops": _drops(stage),
        "camera": _camera(scene, stage),
        "lens": lens_figures(scene),
        "focus": _focus(scene, stage),
        "lights": [_light(light, scene) for light in stage.lights],
        "cards": [
            {"name": card.name, "reflectance": card.reflectance, **_place(card.face)} for card in stage.cards
        ],
        "ambient": {
            "illuminance_lx": room_light_lx(scene.ambient),
            "gradient": scene.ambient.gradient,
            "colour_temperature_k": scene.ambient.colour_temperature_k,
        },
        "motion": movement_figures(scene, stage.camera.field_width_mm / scene.camera.width_px),
        "backdrop": None if scene.backdrop is None else {"distance_mm": scene.backdrop.distance_mm},
        "bodies": _bodies(scene, stage),
        "warnings": [
            *_warnings(scene, stage, outline),
            *(f"this cannot be built: {sentence}" for sentence in unbuildable_words(scene, stage)),
        ],
    }


def _bodies(scene: Scene, stage: Stage) -> dict[str, Any]:
    """Solid things: their measures, what is supposed of them, the share of each light's straight lines to the
    field that they cut, what cannot be built."""
    measures = [
        {
            "thing": body.thing,
            "what": body.what,
            "width_mm": 2.0 * body.half_width_mm,
            "height_mm": 2.0 * body.half_height_mm,
            "depth_mm": 2.0 * body.half_depth_mm,
        }
        for body in stage.bodies
    ]
    return {
        "solid": measures,
        "supposed": list(supposed(scene, stage.camera)),
        "hidden_share": {light.name: hidden_share(stage, light) for light in stage.lights},
        "not_buildable": not_buildable(stage),
    }


def _petal(scene: Scene, stage: Stage, outline: Surface) -> dict[str, Any]:
    size = np.ptp(stage.petal.vertices, axis=0)
    return {
        "form": scene.petal.form,
        "file": None if scene.petal.file is None else str(scene.petal.file),
        "tilt_deg": scene.petal.tilt_deg,
        "triangles": len(stage.petal.faces),
        "seen_width_mm": float(size[0]),
        "seen_height_mm": float(size[1]),
        "depth_mm": float(size[2]),
        "frame_share": petal_frame_share(outline, stage.camera),
    }


def petal_frame_share(outline: Surface, camera: CameraGeometry) -> float:
    """Share of the frame that the petal fills, 0..1, from a grid of lines of sight to the pupil's middle."""
    return float(np.mean([place is not None for place in outline.below(lines_of_sight(camera, COLUMNS))]))


def lines_of_sight(camera: CameraGeometry, columns: int) -> NDArray[np.float64]:
    """Places (n, 2) mm in the plane of sharp focus, spread evenly over the frame."""
    shape = columns, max(2, round(columns / camera.aspect))
    x, y = (
        ((np.arange(count) + 0.5) * (2.0 / count) - 1.0) * size
        for count, size in zip(shape, half_field_mm(camera), strict=True)
    )
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


def outline_seen(stage: Stage) -> Surface:
    """The petal, either side of it, drawn onto the plane of sharp focus from the middle of the pupil."""
    petal = stage.petal
    flat = petal.vertices.copy()
    flat[:, :2] /= 1.0 - flat[:, 2:] / stage.camera.pupil_distance_mm
    return Surface(replace(petal, vertices=flat), both_sides=True)


def _drops(stage: Stage) -> dict[str, Any]:
    drops = stage.drops
    found: dict[str, Any] = {
        "placed": len(drops),
        "wanted": drops.wanted,
        "in_frame": int(np.count_nonzero(drops_in_frame(stage))),
        "flattened": int(np.count_nonzero(bond_number(drops.radius) > FLATTENED_BOND_NUMBER)),
    }
    if len(drops):
        diameter = 2.0 * drops.radius
        found["diameter_least_mm"] = float(diameter.min())
        found["diameter_median_mm"] = float(np.median(diameter))
        found["diameter_most_mm"] = float(diameter.max())
        found["contact_angle_least_deg"] = float(drops.contact_angle_deg.min())
        found["contact_angle_most_deg"] = float(drops.contact_angle_deg.max())
        found["bond_number_most"] = float(bond_number(drops.radius).max())
    return found


def drops_in_frame(stage: Stage) -> NDArray[np.bool_]:
    """Which drops have their middle inside the frame, (n,), seen from the middle of the pupil."""
    centre, camera = stage.drops.centre, stage.camera
    at_focus = centre[:, :2] / (1.0 - centre[:, 2:] / camera.pupil_distance_mm)
    return np.asarray((np.abs(at_focus) <= half_field_mm(camera)).all(axis=1))


def _camera(scene: Scene, stage: Stage) -> dict[str, Any]:
    camera, width_px = stage.camera, scene.camera.width_px
    lens = scene.lens
    circle = circle_of_confusion_mm(scene.camera.sensor_mm)
    if lens is not None and lens.circle_mm is not None:
        circle = lens.circle_mm
    depth = depth_of_field(
        camera.pupil_distance_mm, 2.0 * camera.pupil_radius_mm, camera.magnification, circle
    )
    width, height = (2.0 * half_field_mm(camera)).tolist()
    blur = 2.0 * camera.pupil_radius_mm / abs(camera.pupil_distance_mm)
    return {
        "field_width_mm": width,
        "field_height_mm": height,
        "width_px": width_px,
        "height_px": max(1, round(width_px / camera.aspect)),
        "mm_per_px": width / width_px,
        "magnification": camera.magnification,
        "f_number": scene.camera.f_number,
        "effective_f_number": camera.effective_f_number,
        "pupil_diameter_mm": 2.0 * camera.pupil_radius_mm,
        "working_distance_mm": camera.working_distance_mm,
        "looks_down_deg": scene.camera.looks_down_deg,
        "blur_mm_per_mm": blur,
        "depth_of_field_mm": depth.total_mm,
    }


def lens_figures(scene: Scene) -> dict[str, Any] | None:
    """All that follows from the lens train, as `optics.lens_figures` has it; None without one."""
    return None if scene.lens is None else asdict(train_figures(lens_train(scene.camera, scene.lens)))


def movement_figures(scene: Scene, mm_per_px: float) -> dict[str, float] | None:
    """How far the subject moves while each light shines; None where it stands still."""
    if scene.motion is None:
        return None
    speed, shutter_s = scene.motion.speed_mm_s, scene.exposure.shutter_s
    flashes = [min(light.flash_duration_s, shutter_s) for light in scene.lights if light.kind == "flash"]
    return {
        "speed_mm_s": speed,
        "clock": scene.motion.clock,
        "ghost_mm": speed * shutter_s,
        "ghost_px": speed * shutter_s / mm_per_px,
        "flash_smear_mm": speed * max(flashes, default=0.0),
    }


def arriving(light: StagedLight) -> float:
    """What a light gives at the point of sharp focus by the inverse square, lx or lx s."""
    distance = float(np.linalg.norm(light.face.centre))
    toward = float(light.face.out @ -light.face.centre) / distance
    return light.output * max(toward, 0.0) / (1e-3 * distance) ** 2


def _focus(scene: Scene, stage: Stage) -> dict[str, Any]:
    focus = scene.camera.focus
    drop = focused_drop(focus, stage.drops) if focus.on == "drop" else None
    return {"on": focus.on, "drop": drop, "offset_mm": focus.offset_mm if focus.on == "offset" else 0.0}


def _place(face: Face) -> dict[str, Any]:
    angle, clock = angle_and_clock(face.centre)
    return {
        "angle_deg": round(angle, 6),
        "clock": round(clock, 6),
        "distance_mm": round(float(np.linalg.norm(face.centre)), 6),
        "width_mm": 2.0 * face.half_width_mm,
        "height_mm": 2.0 * face.half_height_mm,
        "inner_width_mm": 2.0 * face.hole_mm,
    }


def _light(light: StagedLight, scene: Scene) -> dict[str, Any]:
    place = _place(light.face)
    flash = light.kind == "flash"
    given = next(it for it in scene.lights if it.name == light.name)
    sheet = given if given.diffuser is None else given.diffuser
    return {
        "name": light.name,
        "kind": light.kind,
        "shape": sheet.shape,
        "diffuser_loss_stops": None if given.diffuser is None else given.diffuser.loss_stops,
        **place,
        "seen_deg": float(np.degrees(2.0 * np.arctan(light.face.half_width_mm / place["distance_mm"]))),
        "power": given.power if flash else None,
        "output_cd_s" if flash else "output_cd": light.output,
        "exposure_lx_s" if flash else "illuminance_lx": arriving(light),
        "colour_temperature_k": light.colour_temperature_k,
    }


def warnings(scene: Scene, stage: Stage) -> list[str]:
    """Sentences on what is allowed but may not be meant."""
    return list(_warnings(scene, stage, outline_seen(stage)))


def _warnings(scene: Scene, stage: Stage, outline: Surface) -> Iterator[str]:
    drops = stage.drops
    if len(drops) < drops.wanted:
        yield (
            f"{len(drops)} of {drops.wanted} drops found a place on the petal; "
            "fewer or smaller drops would all fit"
        )
    yield from _flattened(drops)
    if len(drops) and not drops_in_frame(stage).any():
        yield "no drop is in the frame"
    share = petal_frame_share(outline, stage.camera)
    if share < 0.5:
        yield f"the petal fills {100.0 * share:.0f} % of the frame"
    for light in stage.lights:
        if float(distance_from(light.face, stage.petal.vertices).min()) < 0.5:
            yield f'light "{light.name}" touches the petal'
        if seen_directly(light.face, stage.camera, outline):
            yield f'light "{light.name}" may itself be seen in the picture'


def _flattened(drops: DropSet) -> Iterator[str]:
    number = bond_number(drops.radius)
    flat = int(np.count_nonzero(number > FLATTENED_BOND_NUMBER))
    if flat:
        limit = 2.0 * capillary_length_mm() * FLATTENED_BOND_NUMBER**0.5
        yield (
            f"{flat} of {len(drops)} drops {'is' if flat == 1 else 'are'} over {limit:.2f} mm across, where "
            f"gravity flattens a drop (Bond number up to {number.max():.2f}, it shows above "
            f"{FLATTENED_BOND_NUMBER:g}); here they stay parts of spheres"
        )


def seen_directly(face: Face, camera: CameraGeometry, outline: Surface) -> bool:
    """Whether a face behind the field is turned toward the lens and shows beside the petal, in the view."""
    if toward_lens(camera, face.centre) @ face.out <= 0.0:
        return False
    points = points_on(face, 9)
    points = points[(points[:, 2] < 0.0)]
    points = points[in_view(camera, points)]
    if len(points) == 0:
        return False
    at_focus = points[:, :2] / (1.0 - points[:, 2:] / camera.pupil_distance_mm)
    return any(place is None for place in outline.below(at_focus))
