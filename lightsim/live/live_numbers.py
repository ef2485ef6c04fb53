"""The numbers beside the picture: measured in it, worked out for the lens, and the cautions of the set."""

from __future__ import annotations

from dataclasses import asdict
from math import isfinite
from typing import Any

from lightsim.errors import LightsimError
from lightsim.live.live_picture import LivePicture
from lightsim.measures import MEASURES
from lightsim.optics.lens_figures import train_figures
from lightsim.planning.cautions import LAST_WORD, cautions
from lightsim.planning.levels import train_of
from lightsim.runs.photographing import measures_of, photograph
from lightsim.scene.obstruction import free_from_deg, not_buildable
from lightsim.scene.records import Scene
from lightsim.scene.stage import Stage

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
        "frame": for_json(frame),
        "drop": for_json(one),
        "missing": dict(found.missing),
        "not_buildable": not_buildable(stage),
        "free_from_deg": {} if picture.quality == "sketch" else free_from(scene, stage),
        "notes": for_json(
            {key: value for key, value in photo.notes.items() if isinstance(value, int | float)}
        ),
        "by_light": for_json(photo.notes.get("petal_mean_by_light")),
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
    return {key: for_json(found[key]) for key in LENS if key in found}


def caution_words(scene: Scene) -> list[dict[str, Any]]:
    """The set's cautions, the last word under them."""
    found = [{"words": caution.words, "on": list(caution.on)} for caution in cautions(scene)]
    return [*found, {"words": LAST_WORD, "on": []}] if found else []


def for_json(value: Any) -> Any:
    """Values as JSON holds them; what is not finite becomes null."""
    if isinstance(value, dict):
        return {str(key): for_json(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple)):
        return [for_json(entry) for entry in value]
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return value
    if isinstance(value, int):
        return value
    try:
        number = float(value)
    except (TypeError, ValueError):
        return str(value)
    return number if isfinite(number) else None
