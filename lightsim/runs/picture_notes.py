"""What a photograph is made with, in numbers and words: lens train, exposure, room light, movement, meter."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from math import isfinite
from typing import Any

from lightsim.optics.exposure_values import ev100
from lightsim.optics.marks import FLASH_POWERS, ISO_SPEEDS, SHUTTER_TIMES
from lightsim.photograph.camera_meter import MeterReading, meter
from lightsim.picture import Layers
from lightsim.planning.levels import below_words
from lightsim.planning.settings_words import lens_line, movement_line, settings_words, working_distance_words
from lightsim.report.words import level_words, percent, plain, power_words, signed, significant
from lightsim.runs.frame import CHANNELS, Frame
from lightsim.scene.describe import lens_figures, movement_figures
from lightsim.scene.records import Scene
from lightsim.scene.stage import Stage

Line = tuple[str, str]
LEAST_HIDDEN = 0.005  # share of a light that is said


def picture_figures(
    scene: Scene, stage: Stage, layers: Layers, frame: Frame, averaged_px: int = 1
) -> dict[str, Any]:
    """Numbers beside the measures of a photograph, units in the keys; null where there is none of a thing.

    averaged_px : side of the squares of pixels that the picture was averaged over to be measured.
    """
    reading = meter(layers, stage, scene.exposure)
    return {
        "settings": dict(frame.settings),
        "settings_ev100": ev100(
            stage.camera.effective_f_number, scene.exposure.shutter_s, scene.exposure.exact_iso
        ),
        "lens": lens_figures(scene),
        "movement": movement_figures(scene, frame.mm_per_px),
        "petal_linear": frame.measures.petal_linear,
        "petal_stops_from_mid_tone": frame.measures.petal_stops_from_mid_tone,
        "lighting_ratio": frame.measures.lighting_ratio,
        "automatic_exposure_stops": frame.notes.get("auto_stops") if scene.exposure.auto else None,
        "room_light_stops_below_flash": frame.notes.get("room_light_stops_below_flash"),
        "clipped_share": {name: frame.notes.get(f"clipped_share_{name}") for name in CHANNELS},
        "meter": asdict(reading),
        "measured_averaged_px": averaged_px,
    }


def picture_lines(scene: Scene, figures: Mapping[str, Any], frame: Frame) -> Iterator[Line]:
    """The same in words: (thing, words)."""
    yield "exposure", shifted_exposure_words(scene, figures["settings"]["effective_f_number"], frame)
    if figures["lens"] is not None:
        yield "lens", lens_line(scene, figures["lens"])
        yield "sharpness", depth_line(figures["lens"])
    if frame.not_buildable is not None:
        yield "not buildable", f"this cannot be built: {frame.not_buildable}"
    if (frame.hidden_share or 0.0) >= LEAST_HIDDEN:
        yield "hidden", f"{percent(frame.hidden_share or 0.0)} of the light, by solid things"
    yield "petal", petal_line(frame)
    yield "clipped", clipped_line(figures["clipped_share"])
    room = figures["room_light_stops_below_flash"]
    if room is not None:
        yield "room light", f"{below_words(room)}, on the petal"
    if figures["movement"] is not None:
        yield "movement", movement_line(figures["movement"])
    yield "camera’s meter", meter_line(MeterReading(**figures["meter"]))
    side = figures["measured_averaged_px"]
    if side > 1:
        yield "measured", f"on the picture averaged over {side} x {side} pixels, automatic exposure too"


def shifted_exposure_words(scene: Scene, effective_f_number: float, frame: Frame) -> str:
    """The settings, and how far automatic exposure moved."""
    words = f"{settings_words(scene)}, effective f/{plain(effective_f_number, 1)}"
    if scene.exposure.auto:
        words += f", moved by {signed(frame.exposure_stops)} stops to bring the petal to mid-tone"
        words += f" ({same_brightness_words(scene, frame)})"
    return words


ROOM_COUNTS_STOPS = 5.0  # room light further below the flash than this does not change the brightness


def same_brightness_words(scene: Scene, frame: Frame) -> str:
    """The setting that would give the brightness that automatic exposure came to.

    The power where one flash gives the light, the shutter where none does, else the ISO speed; the ISO speed
    too where the flash has no such power.
    """
    gain = 2.0**frame.exposure_stops
    below = frame.notes.get("room_light_stops_below_flash")
    flashes = [light for light in scene.lights if light.kind == "flash"]
    if not flashes:
        return f"as about {SHUTTER_TIMES.nearest(scene.exposure.shutter_s * gain).label} would"
    by_flash = len(scene.lights) == 1 and (below is None or below >= ROOM_COUNTS_STOPS)
    power = flashes[0].power * gain
    if by_flash and FLASH_POWERS.exact_at(FLASH_POWERS.thirds[-1]) <= power <= 1.0:
        return f"as flash power {power_words(power)} would"
    return f"as about {ISO_SPEEDS.nearest(scene.exposure.exact_iso * gain).label} would"


def petal_line(frame: Frame) -> str:
    """How bright the petal comes out."""
    mean, clipped = frame.measures.petal_linear, frame.measures.petal_clipped_share or 0.0
    if mean is None:
        return "not in the picture"
    words = f"{level_words(mean)} from mid-tone on average"
    return f"{words}, {percent(clipped)} of it clipped" if clipped > 0.0 else words


def clipped_line(shares: Mapping[str, float | None]) -> str:
    """The part of the picture that each channel clips."""
    known = {name: share for name, share in shares.items() if share is not None}
    if not any(known.values()):
        return "nothing"
    return ", ".join(f"{name} {percent(share)}" for name, share in known.items()) + " of the picture"


def depth_line(lens: Mapping[str, Any]) -> str:
    """Working distance, depth of field and finest detail of a lens train."""
    depth = f"depth of field {significant(lens['depth_of_field_mm'])} mm"
    detail = f"finest detail {significant(lens['resolved_detail_um'])} µm ({lens['limited_by']})"
    return f"{depth}; {detail}; {working_distance_words(lens)}"


def meter_line(reading: MeterReading) -> str:
    """What the camera's meter says to the room's light, and what the petal itself gets of it."""
    if not isfinite(reading.averaging_stops):
        return "reads no light but the flash’s"
    return (
        f"for the room light alone, {signed(reading.centre_weighted_stops)} stops centre-weighted and "
        f"{signed(reading.averaging_stops)} averaging from these settings; the petal itself gets "
        f"{signed(reading.petal_stops)} stops from mid-tone by it"
    )
