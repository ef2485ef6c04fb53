"""What the page is told: of a scene without a trace, and the numbers measured in a traced picture."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

import numpy as np

from lightsim.errors import LightsimError
from lightsim.live.live_picture import LivePicture
from lightsim.measures import MEASURES
from lightsim.optics.lens_figures import train_figures
from lightsim.optics.marks import F_NUMBERS, FLASH_POWERS, ISO_SPEEDS, SHUTTER_TIMES
from lightsim.photograph.mix import AMBIENT, Source, balance_kelvin
from lightsim.planning.cautions import LAST_WORD, cautions
from lightsim.planning.levels import train_of
from lightsim.report.files.formats import plain_value
from lightsim.runs.photographing import measures_of, photograph
from lightsim.scene.build import output, room_light_lx
from lightsim.scene.camera import camera_geometry, up_in_picture
from lightsim.scene.faces import RING, angle_and_clock, card_face, corners, light_face, position
from lightsim.scene.file.keys import KEYS
from lightsim.scene.file.layout import sections, slots
from lightsim.scene.obstruction import free_from_deg, not_buildable
from lightsim.scene.records import Card, Light, Scene
from lightsim.scene.solid_bodies import bodies_of
from lightsim.scene.stage import Body, Face, Stage

ROUND_POINTS = 24
SERIES = {"f_number": F_NUMBERS, "shutter_s": SHUTTER_TIMES, "iso": ISO_SPEEDS, "power": FLASH_POWERS}


def scene_state(scene: Scene) -> dict[str, Any]:
    """Plain values for JSON. SceneError for a lens that cannot be."""
    geometry = camera_geometry(scene.camera, scene.lens)
    return {
        "lights": [_light(light) for light in scene.lights],
        "cards": [_card(card) for card in scene.cards],
        "room": {
            "name": AMBIENT, "kind": AMBIENT, "output": room_light_lx(scene.ambient),
            "kelvin": scene.ambient.colour_temperature_k,
        },
        "settings": {
            "iso": scene.exposure.exact_iso,
            "shutter_s": scene.exposure.shutter_s,
            "effective_f_number": geometry.effective_f_number,
            "white_balance_k": _balance_k(scene),
            "auto": scene.exposure.auto,
        },
        "marks": marks_of(scene),
        "lens": lens_numbers(scene),
        "cautions": caution_words(scene),
        "set": {
            "up": up_in_picture(scene.camera.looks_down_deg).tolist(),
            "looks_down_deg": scene.camera.looks_down_deg,
            "working_distance_mm": geometry.working_distance_mm,
            "bodies": [_body(body) for body in bodies_of(scene, geometry)],
            "field_mm": [geometry.field_width_mm, geometry.field_width_mm / geometry.aspect],
            "petal_mm": [scene.petal.width_mm, scene.petal.length_mm],
            "petal_tilt": [scene.petal.tilt_deg, scene.petal.tilt_clock],
            "backdrop_mm": None if scene.backdrop is None else scene.backdrop.distance_mm,
        },
    }  # fmt: skip


def _light(light: Light) -> dict[str, Any]:
    face = light_face(light)
    return {
        "name": light.name, "kind": light.kind, "output": output(light), "power": light.power,
        "kelvin": light.colour_temperature_k, "fixed": light.shape == RING, **_place(light, face),
    }  # fmt: skip


def _card(card: Card) -> dict[str, Any]:
    return {"name": card.name, "kind": "card", "fixed": False, **_place(card, card_face(card))}


def _place(thing: Light | Card, face: Face) -> dict[str, Any]:
    centre = position(thing)
    angle, clock = angle_and_clock(centre)
    return {
        "angle": round(angle, 6),
        "clock": round(clock, 6),
        "distance": round(float(np.linalg.norm(centre)), 6),
        "centre": centre.tolist(),
        "size": [2.0 * face.half_width_mm, 2.0 * face.half_height_mm],
        "outline": [[round(float(x), 2) for x in point] for point in _outline(face)],
    }


def _body(body: Body) -> dict[str, Any]:
    """A solid thing by points round both its ends, whose convex hull is its outline from any side."""
    if body.round:
        turn = np.linspace(0.0, 2.0 * np.pi, ROUND_POINTS, endpoint=False)
        rim = body.half_width_mm * (np.outer(np.cos(turn), body.right) + np.outer(np.sin(turn), body.up))
    else:
        wide, high = body.half_width_mm * body.right, body.half_height_mm * body.up
        rim = np.array([-wide - high, wide - high, wide + high, high - wide])
    ends = [body.centre + rim + side * body.half_depth_mm * body.out for side in (-1.0, 1.0)]
    return {"thing": body.thing, "what": body.what, "points": np.round(np.vstack(ends), 1).tolist()}


def _outline(face: Face) -> np.ndarray:
    if not face.round:
        return corners(face)
    turn = np.linspace(0.0, 2.0 * np.pi, ROUND_POINTS, endpoint=False)
    across, along = face.half_width_mm * face.right, face.half_height_mm * face.up
    return np.asarray(face.centre + np.outer(np.cos(turn), across) + np.outer(np.sin(turn), along))


def _balance_k(scene: Scene) -> float:
    sources = {light.name: Source(light.kind, 1.0, light.colour_temperature_k) for light in scene.lights}
    sources[AMBIENT] = Source(AMBIENT, 1.0, scene.ambient.colour_temperature_k)
    key = scene.lights[0].name if scene.lights else AMBIENT
    return balance_kelvin(scene.exposure.white_balance, sources, key)


def marks_of(scene: Scene) -> dict[str, str]:
    """The settings as they are marked, with what is left over."""
    return {
        "f_number": F_NUMBERS.label(F_NUMBERS.exact(scene.camera.f_number)),
        "shutter_s": SHUTTER_TIMES.label(scene.exposure.shutter_s),
        "iso": ISO_SPEEDS.label(scene.exposure.exact_iso),
        **{f"power {light.name}": FLASH_POWERS.label(light.power) for light in scene.lights},
    }


def page_rules() -> dict[str, Any]:
    """Every key of a scene file by section: words, unit, limits, choices; and the marks of the settings."""
    return {
        "keys": {section.heading: dict(_rules(section.record)) for section in sections()},
        "marks": {name: _series(name) for name in SERIES},
    }


def _rules(record: type) -> Iterator[tuple[str, dict[str, Any]]]:
    for key, slot in slots(record).items():
        if slot.record is None and slot.field in KEYS[record]:
            rule = slot.rule
            yield key, {
                "kind": slot.kind, "about": rule.about, "unit": rule.unit, "low": rule.low, "high": rule.high,
                "choices": list(rule.choices),
            }  # fmt: skip


def _series(name: str) -> list[dict[str, Any]]:
    """Marks in the order of more light, with the value that a scene holds for each."""
    series = SERIES[name]
    held = (
        series.marked if name in ("f_number", "iso") else [series.exact_at(third) for third in series.thirds]
    )
    exact = [series.exact_at(third) for third in series.thirds]
    return [
        {"label": label, "value": value, "exact": true}
        for label, value, true in zip(series.labels, held, exact, strict=True)
    ]


def state_or_problems(scene: Scene) -> tuple[dict[str, Any] | None, list[str]]:
    """The state, or why there is none."""
    try:
        return scene_state(scene), []
    except LightsimError as error:
        return None, list(getattr(error, "problems", None) or [str(error)])


LENS = (
    "magnification", "field_width_mm", "field_height_mm", "working_distance_mm", "effective_f_number",
    "depth_of_field_mm", "diffraction_detail_um", "resolved_detail_um",
)  # fmt: skip


def measured(picture: LivePicture, drop: int | None) -> dict[str, Any]:
    """Measures of a traced picture at its scene's exposure, plain values for JSON.

    drop : the one whose highlight is told of; the reference drop when None or out of range.
    """
    assert picture.traced is not None
    scene, stage = picture.scene, picture.stage
    if drop is not None and drop >= len(stage.drops):
        drop = None
    photo = photograph(picture.traced, scene, stage)
    found = measures_of(photo, picture.traced, scene, stage, drop)
    told = found.reference_drop
    frame = {key: getattr(found, key) for key in MEASURES if hasattr(found, key)}
    one = None if told is None else asdict(found.drops[told])
    return {
        "kind": "numbers",
        "revision": picture.revision,
        "quality": picture.quality,
        "frame": plain_value(frame),
        "drop": plain_value(one),
        "missing": dict(found.missing),
        "not_buildable": not_buildable(stage),
        "free_from_deg": {} if picture.quality == "sketch" else free_from(scene, stage),
        "notes": plain_value(
            {key: value for key, value in photo.notes.items() if isinstance(value, int | float)}
        ),
        "by_light": plain_value(photo.notes.get("petal_mean_by_light")),
        "drops": [] if picture.traced.maps is None else drop_circles(picture),
    }


def free_from(scene: Scene, stage: Stage) -> dict[str, float | None]:
    """For each light the angle off the lens axis from which on it stands clear of all else, at its clock
    position and distance; None where it does nowhere."""
    return {light.name: free_from_deg(stage, light) for light in scene.lights}


def drop_circles(picture: LivePicture) -> list[list[float]]:
    """For each drop of the set its centre and radius in the picture, as shares of the picture's width."""
    assert picture.traced is not None
    seen, width = picture.traced.maps.drops, picture.width
    rows = zip(seen.centre_px.tolist(), seen.radius_px.tolist(), seen.radius_mm.tolist(), strict=True)
    return [
        [round(x / width, 5), round(y / width, 5), round(r / width, 5), round(mm, 4)]
        for (x, y), r, mm in rows
    ]


def lens_numbers(scene: Scene) -> dict[str, Any]:
    """Figures of the lens train; empty where it cannot be."""
    try:
        found = asdict(train_figures(train_of(scene)))
    except LightsimError:
        return {}
    return {key: plain_value(found[key]) for key in LENS if key in found}


def caution_words(scene: Scene) -> list[dict[str, Any]]:
    """The set's cautions, the last word under them."""
    found = [{"words": caution.words, "on": list(caution.on)} for caution in cautions(scene)]
    return [*found, {"words": LAST_WORD, "on": []}] if found else []
