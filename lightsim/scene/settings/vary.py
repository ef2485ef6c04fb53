"""Changing one thing of a set: a light's place, size or power, the camera's settings, the tubes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from difflib import get_close_matches
from math import hypot

from lightsim.errors import LightsimError
from lightsim.scene.build import output
from lightsim.scene.faces import angle_and_clock, position
from lightsim.scene.records import Light, Scene
from lightsim.scene.settings.quantity import QUANTITIES

OF_THE_LIGHT = frozenset(("angle", "clock", "distance", "size", "power"))


def light_named(scene: Scene, name: str | None) -> Light:
    """The light of that name, the key when None. LightsimError names those there are."""
    if not scene.lights:
        raise LightsimError("the scene has no light to move, only ambient")
    if name is None:
        return scene.lights[0]
    for light in scene.lights:
        if light.name == name:
            return light
    names = [light.name for light in scene.lights]
    close = get_close_matches(name, names, 1)
    hint = f"; did you mean {close[0]!r}?" if close else ""
    raise LightsimError(f"--light: found {name!r}, allowed {', '.join(names)}{hint}")


def placed_by_angle(light: Light) -> Light:
    """The same light in the same place, given by angle, clock position and distance."""
    if light.position_mm is None:
        return light
    angle, clock = angle_and_clock(position(light))
    return replace(
        light, position_mm=None, angle_deg=angle, clock=clock, distance_mm=hypot(*light.position_mm)
    )


def change_light(light: Light, changes: Mapping[str, float]) -> Light:
    """The light with some of angle, clock, distance, size and power changed, its output otherwise kept.

    A size is the width of the glowing face, the diffuser's where there is one (a round one's diameter); its
    height follows in proportion. Output given as an illuminance at the subject is what it was at the old
    distance: I = E d^2 (inverse-square law).
    """
    light = placed_by_angle(light) if changes.keys() & {"angle", "clock", "distance"} else light
    if "distance" in changes:
        light = _by_intensity(light)
    if "size" in changes:
        light = _resized(light, changes["size"])
    keys = {"angle": "angle_deg", "clock": "clock", "distance": "distance_mm", "power": "power"}
    return replace(light, **{keys[name]: value for name, value in changes.items() if name in keys})  # type: ignore[arg-type]


def _by_intensity(light: Light) -> Light:
    """A light whose output is given at the subject, given in candela instead."""
    if light.illuminance_lx is None and light.ev100 is None:
        return light
    taken = 1.0 if light.diffuser is None else 2.0**light.diffuser.loss_stops
    return replace(light, illuminance_lx=None, ev100=None, intensity=output(light) * taken)


def _resized(light: Light, width_mm: float) -> Light:
    if light.diffuser is not None:
        sheet = light.diffuser
        height = sheet.height_mm * width_mm / sheet.width_mm
        return replace(light, diffuser=replace(sheet, width_mm=width_mm, height_mm=height))
    return replace(light, width_mm=width_mm, height_mm=light.height_mm * width_mm / light.width_mm)


def change_scene(scene: Scene, light_name: str | None, changes: Mapping[str, float]) -> Scene:
    """The scene with some quantities changed, those of a light on the one named.

    LightsimError for an extension without a lens train.
    """
    of_light = {name: value for name, value in changes.items() if name in OF_THE_LIGHT}
    lights = tuple(change_light(it, of_light) if it.name == light_name else it for it in scene.lights)
    camera, exposure, lens = scene.camera, scene.exposure, scene.lens
    if "f_number" in changes:
        camera = replace(camera, f_number=changes["f_number"])
    if "iso" in changes:
        exposure = replace(exposure, iso=changes["iso"])
    if "shutter" in changes:
        exposure = replace(exposure, shutter_s=changes["shutter"])
    if "extension" in changes:
        length = changes["extension"]
        if lens is None:
            raise LightsimError(f"--extension: found {length:g} for a scene without [lens], allowed with one")
        lens = replace(lens, extension_tubes_mm=(length,) if length else ())
    return replace(scene, lights=lights, camera=camera, exposure=exposure, lens=lens)


def values_in(scene: Scene, light: Light | None) -> dict[str, float]:
    """What the scene has now of each quantity; those of a light only where one is given."""
    found = {
        "f_number": scene.camera.f_number,
        "iso": scene.exposure.iso,
        "shutter": scene.exposure.shutter_s,
    }
    if scene.lens is not None:
        found["extension"] = sum(scene.lens.extension_tubes_mm)
    if light is not None:
        placed = placed_by_angle(light)
        width = light.width_mm if light.diffuser is None else light.diffuser.width_mm
        found |= {"angle": placed.angle_deg, "clock": placed.clock, "distance": placed.distance_mm}
        found |= {"size": width, "power": light.power}
    return {name: found[name] for name in QUANTITIES if name in found}
