"""Holding the exposure of a frame: what was varied is made up for by the flash's power, then by ISO.

The flash's part of the exposure is held by power, within what a flash can be set to, and beyond that by ISO.
Where only the room light's part was changed (by the shutter, or in a room without flash) ISO holds that, and
power then holds the flash's part at that ISO.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from math import log2

from lightsim.errors import LightsimError
from lightsim.optics.marks import ISO_SPEEDS
from lightsim.optics.trade import FLASH, ROOM, change_stops
from lightsim.planning.equivalents import ISO_RANGE, LEAST_POWER
from lightsim.planning.levels import settings_of
from lightsim.report.words import power_words, signed
from lightsim.scene.records import Light, Scene
from lightsim.scene.settings.change_light import light_named, with_light
from lightsim.scene.settings.quantities import QUANTITIES

HOLDABLE = (
    "distance", "size", "diffuser", "f_number", "shutter", "extension", "close_up", "teleconverter",
    "reversed", "magnification", "room", "power", "iso",
)  # fmt: skip
UNCHANGED_STOPS = 1e-6
SAID_STOPS = 0.05  # what is left over and not said


@dataclass(frozen=True)
class Held:
    """A scene with its exposure held. words : by what, and by how many stops it fell short, a phrase each."""

    scene: Scene
    words: tuple[str, ...]


def require_holdable(varied: Collection[str]) -> None:
    """LightsimError where nothing varies that changes the exposure, or nothing is left to hold it by."""
    if not set(varied) & set(HOLDABLE):
        allowed = ", ".join(QUANTITIES[name].option for name in HOLDABLE)
        names = " and ".join(QUANTITIES[name].option for name in varied)
        raise LightsimError(f"--hold: found a sweep of {names}, allowed with {allowed}")
    if {"power", "iso"} <= set(varied):
        raise LightsimError("--hold: found --power and --iso, allowed with one of the two left to hold by")


def hold_exposure(base: Scene, changed: Scene, varied: Collection[str]) -> Held:
    """The changed scene with the exposure of the base: power and ISO as need be, but not what is varied."""
    needs = {
        light.name: -change_stops(
            settings_of(base, light_named(base, light.name)), settings_of(changed, light), FLASH
        )
        for light in changed.lights
        if light.kind == "flash"
    }
    room = -change_stops(settings_of(base, None), settings_of(changed, None), ROOM)
    by_power, by_iso = bool(needs) and "power" not in varied, "iso" not in varied
    wanted = _iso_stops(changed, needs, room, by_power, by_iso)
    iso = _iso_after(changed, wanted)
    gained = log2(ISO_SPEEDS.exact(iso) / changed.exposure.exact_iso)
    scene = replace(changed, exposure=replace(changed.exposure, iso=iso))
    said = []
    for light in changed.lights:
        if light.kind == "flash":
            power = _power_after(light, needs[light.name] - gained) if by_power else light.power
            scene = with_light(scene, replace(light, power=power))
            short = needs[light.name] - gained - log2(power / light.power)
            name = "" if len(needs) == 1 else f"{light.name} "
            said += [f"{name or 'power '}{power_words(power)}"] if by_power else []
            said += [f"{name}flash {signed(-short)} stops"] if abs(short) > SAID_STOPS else []
    if not needs and abs(room - gained) > SAID_STOPS:
        said.append(f"room light {signed(gained - room)} stops")
    if abs(gained) > UNCHANGED_STOPS or (by_iso and not by_power):
        said.append(ISO_SPEEDS.label(ISO_SPEEDS.exact(iso)))
    return Held(scene, tuple(said))


def _iso_stops(changed: Scene, needs: dict[str, float], room: float, by_power: bool, by_iso: bool) -> float:
    """Stops that ISO has to give."""
    if not by_iso:
        return 0.0
    if all(abs(stops) <= UNCHANGED_STOPS for stops in needs.values()):
        return room  # only the room light's part was changed, or there is no flash
    if not by_power:
        return next(stops for stops in needs.values() if abs(stops) > UNCHANGED_STOPS)
    powers = {light.name: light.power for light in changed.lights if light.name in needs}
    beyond = max(log2(powers[name]) + stops for name, stops in needs.items())
    below = min(log2(powers[name] / LEAST_POWER) + stops for name, stops in needs.items())
    return max(beyond, 0.0) if beyond > 0.0 else min(below, 0.0)


def _iso_after(changed: Scene, stops: float) -> float:
    """The speed so many stops on, within what cameras have."""
    if abs(stops) <= UNCHANGED_STOPS:
        return changed.exposure.iso
    low, high = ISO_RANGE
    return QUANTITIES["iso"].tidy(min(max(changed.exposure.exact_iso * 2.0**stops, low), high))


def _power_after(light: Light, stops: float) -> float:
    """The power so many stops on, within what flashes have."""
    if abs(stops) <= UNCHANGED_STOPS:
        return light.power
    return QUANTITIES["power"].tidy(min(max(light.power * 2.0**stops, LEAST_POWER), 1.0))
