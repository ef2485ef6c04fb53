"""A sweep gathered for a handout: each frame's picture, its numbers, and its layers packed."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.photograph.mix import balance_kelvin, petal_colours, sources_of
from lightsim.photograph.tone import to_srgb8
from lightsim.picture import Layers
from lightsim.planning.levels import below_words
from lightsim.planning.settings_words import set_up_words
from lightsim.report.handout.handout_page import CHARTS
from lightsim.report.handout.handout_records import HandoutFrame, HandoutSet
from lightsim.report.viewer.packed_layer import PackedPlanes, packed_layer
from lightsim.report.words import clock_words, fixed, level_words, percent, quantity, significant, trade_name
from lightsim.runs.frame import Frame, make_frame
from lightsim.runs.job import JobProgress
from lightsim.runs.layer_store import open_store
from lightsim.runs.photographing import common_gain_stops, drawn_layers
from lightsim.runs.picture_notes import LEAST_HIDDEN
from lightsim.runs.sweep.schedule import Axis, Step, SweepPlan
from lightsim.runs.views import FRAME_WEIGHT, PATHS_WEIGHT, Views
from lightsim.scene.build import build
from lightsim.scene.records import Scene
from lightsim.scene.settings.change_light import light_named, placed_by_angle
from lightsim.scene.stage import Stage

JPEG_QUALITY = 84
THUMBNAIL_PX = 480  # width of the pictures that show without the script
KEY_LENGTH = 12


def handout_set(plan: SweepPlan, job: JobProgress, heading: str = "") -> HandoutSet:
    """Trace what is not kept and gather a set.

    heading : of the set; the scene's title when "".
    """
    traced = _traced(plan, job)
    scene = plan.scene
    shots = ((plan.scene_at(step), layers) for step, layers in traced.items())
    gain = common_gain_stops(shots) if scene.exposure.auto else 0.0
    packed: dict[str, PackedPlanes] = {}
    frames = tuple(_frame(plan, step, traced[step], gain, packed) for step in plan.steps)
    stage = build(plan.scene_at(plan.steps[0]))
    first = traced[plan.steps[0]]
    return HandoutSet(
        title=heading or scene.shown_title,
        about=" ".join(scene.about.split()),
        setting_words=f"{set_up_words(scene, stage, plan.light_name, plan.names)}.",
        axes=tuple((axis.quantity.label, axis.quantity.name, _words_of(axis)) for axis in plan.axes),
        frames=frames,
        lights=tuple(_lights(scene, stage)),
        settings=_settings(scene, stage, plan, gain),
        layers=packed,
        width_px=first.shape[1],
        height_px=first.shape[0],
        first=_first(plan),
    )


def _words_of(axis: Axis) -> tuple[str, ...]:
    return tuple(quantity(value, axis.quantity.unit) for value in axis.values)


def _traced(plan: SweepPlan, job: JobProgress) -> dict[Step, Layers]:
    found = {}
    with Views(plan.width_px, plan.samples, open_store()) as views:
        for step in plan.traced_in_order():
            scene = plan.scene_at(step)
            part = job.part(views.weight(scene), plan.words(step))
            found[step] = views.trace(scene, part)
            part(1.0)
    return found


def weight_of(plan: SweepPlan) -> float:
    """Weight of a set in the progress."""
    return PATHS_WEIGHT * plan.views + FRAME_WEIGHT * len(plan.steps)


def _frame(
    plan: SweepPlan, step: Step, layers: Layers, gain: float, packed: dict[str, PackedPlanes]
) -> HandoutFrame:
    scene = plan.scene_at(step)
    stage = build(scene)
    made = make_frame(
        layers, scene, stage, light=plan.light_name, values=step, gain_stops=gain, auto=False,
        with_photograph=True,
    )  # fmt: skip
    keys = {}
    for name, drawn in drawn_layers(layers, scene, stage).items():
        planes = packed_layer(drawn)
        keys[name] = hashlib.sha256(planes.data).hexdigest()[:KEY_LENGTH]
        packed.setdefault(keys[name], planes)
    petal = petal_colours(layers)
    photo = made.photograph
    assert photo is not None
    return HandoutFrame(
        heading=", ".join(
            quantity(value, axis.quantity.unit) for axis, value in zip(plan.axes, step, strict=True)
        ),
        trade_name=_trade_name(plan, made),
        picture=encode_jpeg(to_srgb8(photo), THUMBNAIL_PX),
        layers=keys,
        petal={name: tuple(float(part) for part in petal[name]) for name in keys},
        effective_f_number=stage.camera.effective_f_number,
        iso=scene.exposure.exact_iso * 2.0**gain,
        shutter_s=scene.exposure.shutter_s,
        outputs={name: source.output for name, source in sources_of(stage).items()},
        numbers=tuple((name, NUMBERS[name], words) for name, words in said_of(made).items()),
        plotted={key: getattr(made.measures, key) for key, _, _ in CHARTS},
        warning="" if made.not_buildable is None else f"Cannot be built so: {made.not_buildable}.",
    )


# name, what it is called beside a picture
NUMBERS = {
    "petal contrast": "petal contrast",
    "shadow depth": "shadow depth",
    "texture": "texture (0.25 to 1 mm)",
    "lighting ratio": "lighting ratio",
    "level": "petal’s level",
    "highlight": "highlight in a drop",
    "place": "its place",
    "hidden": "hidden by solid things",
    "room light": "room light",
    "smear": "smear by movement",
}


def said_of(frame: Frame) -> dict[str, str]:
    """What is measured, in words by its name; what cannot be had is left out."""
    found, said = frame.measures, dict[str, str]()

    def add(name: str, value: float | None, write: Callable[[float], str]) -> None:
        if value is not None:
            said[name] = write(value)

    add("petal contrast", found.petal_contrast_stops, lambda stops: f"{fixed(stops, 1)} stops")
    add("shadow depth", found.shadow_depth_stops, lambda stops: f"{fixed(stops, 1)} stops")
    add("texture", found.texture_fine_rms, percent)
    add("lighting ratio", found.lighting_ratio, lambda ratio: f"{significant(ratio)} : 1")
    add("level", found.petal_linear, level_words)
    long, short = found.highlight_long_mm_median, found.highlight_short_mm_median
    if long is not None and short is not None:
        said["highlight"] = f"{significant(long)} × {significant(short)} mm"
    place, clock = found.highlight_place_share_median, found.highlight_clock_median
    if place is not None:
        where = "" if clock is None else f", at {clock_words(clock)}"
        said["place"] = f"{percent(place)} of the way to the rim{where}"
    if frame.hidden_share is not None and frame.hidden_share >= LEAST_HIDDEN:
        said["hidden"] = f"{percent(frame.hidden_share)} of the light"
    add("room light", frame.notes.get("room_light_stops_below_flash"), below_words)
    add("smear", frame.notes.get("ghost_mm") or None, lambda mm: f"{significant(mm)} mm")
    return said


def _trade_name(plan: SweepPlan, made: Frame) -> str:
    """What the trade calls the light where its angle varies."""
    if made.light is None or "angle" not in plan.names:
        return ""
    return f"{trade_name(made.light.angle_deg)} light"


def _lights(scene: Scene, stage: Stage) -> list[dict[str, Any]]:
    powers = {light.name: light.power for light in scene.lights}
    return [
        {
            "name": name, "kind": source.kind, "output": source.output,
            "kelvin": source.colour_temperature_k, "power": powers.get(name, 1.0),
        }
        for name, source in sources_of(stage).items()
    ]  # fmt: skip


def _settings(scene: Scene, stage: Stage, plan: SweepPlan, gain: float) -> dict[str, Any]:
    sources = sources_of(stage)
    key = scene.lights[0].name if scene.lights else next(iter(sources))
    return {
        "iso": scene.exposure.exact_iso * 2.0**gain,
        "shutter_s": scene.exposure.shutter_s,
        "white_balance_k": balance_kelvin(scene.exposure.white_balance, sources, key),
        "auto": False,
    }


def _first(plan: SweepPlan) -> int:
    """The frame to begin with: the one nearest to where the scene has the light, else the first."""
    axis = plan.axes[0]
    if axis.quantity.name != "angle" or plan.light_name is None:
        return 0
    angle = placed_by_angle(light_named(plan.scene, plan.light_name)).angle_deg
    return min(range(len(axis.values)), key=lambda i: abs(axis.values[i] - angle))


def encode_jpeg(picture: NDArray[np.uint8], width_px: int, quality: int = JPEG_QUALITY) -> bytes:
    """A picture (h, w, 3) as JPEG, no wider than a width."""
    from PIL import Image

    image = Image.fromarray(picture)
    if image.width > width_px:
        image = image.resize(
            (width_px, round(image.height * width_px / image.width)), Image.Resampling.LANCZOS
        )
    file = io.BytesIO()
    image.save(file, "JPEG", quality=quality, optimize=True)
    return file.getvalue()
