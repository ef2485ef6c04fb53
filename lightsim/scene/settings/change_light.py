"""A scene's lights by name, and one of them with another place, size or output."""

from __future__ import annotations

from dataclasses import replace
from difflib import get_close_matches
from math import hypot

from lightsim.errors import LightsimError, named
from lightsim.scene.build import output
from lightsim.scene.faces import RING, angle_and_clock, position, same_direction
from lightsim.scene.records import Diffuser, Light, Scene


def light_named(scene: Scene, name: str | None) -> Light:
    """The light of that name, the key when None. LightsimError names those there are."""
    if not scene.lights:
        file = f"{named(scene.path)}: " if scene.path else ""
        raise LightsimError(f"{file}found no light to move, allowed a scene with a [[light]]")
    if name is None:
        return scene.lights[0]
    for light in scene.lights:
        if light.name == name:
            return light
    names = [light.name for light in scene.lights]
    close = get_close_matches(name, names, 1)
    hint = f"; did you mean {close[0]!r}?" if close else ""
    raise LightsimError(f"--light: found {name!r}, allowed {', '.join(names)}{hint}")


def flash_traded(scene: Scene, name: str | None) -> Light | None:
    """The flash that is traded: the one named, else the key if it is a flash, else the first flash.

    None where there is no flash."""
    flashes = [light for light in scene.lights if light.kind == "flash"]
    if name is None:
        return flashes[0] if flashes else None
    light = light_named(scene, name)
    if light.kind != "flash":
        names = ", ".join(flash.name for flash in flashes) or "no light of this scene"
        raise LightsimError(f"--light: found {name!r}, a continuous light, allowed a flash: {names}")
    return light


def with_light(scene: Scene, light: Light) -> Scene:
    """The scene with the light of that name replaced."""
    lights = tuple(light if other.name == light.name else other for other in scene.lights)
    return replace(scene, lights=lights)


def placed_by_angle(light: Light) -> Light:
    """The same light in the same place, given by angle, clock position and distance."""
    if light.position_mm is None:
        return light
    angle, clock = angle_and_clock(position(light))
    return replace(
        light, position_mm=None, angle_deg=angle, clock=clock, distance_mm=hypot(*light.position_mm)
    )


def turned_to_angle(light: Light, angle_deg: float) -> Light:
    """The light at that angle off the lens axis; below 0 or above 180 at the opposite clock position.

    LightsimError for a ring, which stays at the lens.
    """
    _not_a_ring(light, "--angle")
    light = placed_by_angle(light)
    angle, clock = same_direction(angle_deg, light.clock)
    return replace(light, angle_deg=angle, clock=clock)


def turned_to_clock(light: Light, clock: float) -> Light:
    """The light at that clock position; LightsimError for a ring."""
    _not_a_ring(light, "--clock")
    return replace(placed_by_angle(light), clock=clock)


def moved_to_distance(light: Light, distance_mm: float) -> Light:
    """The light at that distance, its output kept.

    One that is given as an illuminance at the subject is what it was at the old distance: I = E d^2
    (inverse-square law).
    """
    _not_a_ring(light, "--distance")
    light = placed_by_angle(light)
    if light.illuminance_lx is not None or light.ev100 is not None:
        taken = 1.0 if light.diffuser is None else 2.0**light.diffuser.loss_stops
        light = replace(light, illuminance_lx=None, ev100=None, intensity=output(light) * taken)
    return replace(light, distance_mm=distance_mm)


def _not_a_ring(light: Light, option: str) -> None:
    if light.shape == RING:
        raise LightsimError(
            f"{option}: found {light.name!r}, a ring that is held at the lens's front, "
            "allowed lights that can be moved"
        )


def resized(light: Light, width_mm: float) -> Light:
    """The light with that width of its glowing face, the diffuser's where there is one (a round one's
    diameter); the height follows in proportion, and the output is kept."""
    if light.diffuser is not None:
        sheet = light.diffuser
        height = sheet.height_mm * width_mm / sheet.width_mm
        return replace(light, diffuser=replace(sheet, width_mm=width_mm, height_mm=height))
    share = width_mm / light.width_mm
    inner = None if light.inner_width_mm is None else light.inner_width_mm * share
    return replace(light, width_mm=width_mm, height_mm=light.height_mm * share, inner_width_mm=inner)


def with_diffuser(light: Light, is_on: bool) -> Light:
    """The light with its diffuser, a usual one where the scene has none, or without."""
    if not is_on:
        return replace(light, diffuser=None)
    return light if light.diffuser is not None else replace(light, diffuser=Diffuser())
