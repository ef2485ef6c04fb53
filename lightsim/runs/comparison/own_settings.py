"""What stands under each picture of a comparison: its own settings, how far it was moved, the smears."""

from __future__ import annotations

from lightsim.optics.trade import FLASH, ROOM
from lightsim.planning.settings_words import settings_words
from lightsim.report.words import power_words, signed, significant
from lightsim.runs.comparison.shots import Shot
from lightsim.runs.frame import Frame

SAID_STOPS = 0.05  # a smaller change is not said
PARTS = {FLASH: "flash", ROOM: "room light"}


def own_settings(shot: Shot, frame: Frame) -> tuple[str, ...]:
    """The settings of one picture, and the smears that they make, in lines."""
    scene = shot.scene
    lines = [settings_words(scene)]
    flashes = [light for light in scene.lights if light.kind == "flash"]
    if flashes:
        named = [f"{light.name} {power_words(light.power)}" for light in flashes]
        lines.append(", ".join(named) if len(flashes) > 1 else f"power {power_words(flashes[0].power)}")
    if scene.exposure.auto and not shot.moved_stops:
        lines[0] += f", automatic {signed(frame.exposure_stops)} stops"
    lines += moved_words(shot)
    if "ghost_mm" in frame.notes:
        room, flash = frame.notes["ghost_mm"], frame.notes["flash_smear_px"] * frame.mm_per_px
        sharp = f", of the flash {significant(flash)} mm" if flash > 0.0 else ""
        lines.append(f"smear {significant(room)} mm{sharp}")
    return tuple(lines)


def moved_words(shot: Shot) -> list[str]:
    """By how many stops a picture was moved to the first one's exposure, part by part where they differ."""
    moved = shot.moved_stops
    if len({round(stops, 2) for stops in moved.values()}) == 1:
        moved = {"": next(iter(moved.values()))}
    return [
        f"{PARTS.get(part, '')} moved by {signed(stops)} stops".strip()
        for part, stops in moved.items()
        if abs(stops) > SAID_STOPS
    ]


def moved_row(shot: Shot) -> dict[str, float]:
    """The same for a row of measures."""
    return {f"{part}_moved_stops": stops for part, stops in shot.moved_stops.items()}
