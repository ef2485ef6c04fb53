"""What the page knows of a scene without a trace: settings, lights, places, outlines, lens, cautions."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from lightsim.errors import LightsimError
from lightsim.live.live_numbers import caution_words, lens_numbers
from lightsim.optics.marks import F_NUMBERS, FLASH_POWERS, ISO_SPEEDS, SHUTTER_TIMES
from lightsim.photograph.mix import AMBIENT, Source, balance_kelvin
from lightsim.scene.build import output, room_light_lx
from lightsim.scene.camera import camera_geometry, up_in_picture
from lightsim.scene.faces import RING, angle_and_clock, card_face, corners, light_face, position
from lightsim.scene.file.keys import KEYS
from lightsim.scene.file.layout import sections, slots
from lightsim.scene.records import Card, Light, Scene
from lightsim.scene.solid_bodies import bodies_of
from lightsim.scene.stage import Body, Face

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
