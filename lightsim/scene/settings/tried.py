"""Another setting tried without a change to the file: options of the command line into a scene."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from lightsim.errors import LightsimError
from lightsim.optics.marks import ISO_SPEEDS, SHUTTER_TIMES, parse_number
from lightsim.scene.build import room_light_lx
from lightsim.scene.file.check import check_scene
from lightsim.scene.file.keys import KEYS, Rule
from lightsim.scene.records import Ambient, Camera, Diffuser, Exposure, Lens, Light, Scene
from lightsim.scene.settings.vary import change_light, light_named

# option: record and key that say what is allowed
_KEYS: Mapping[str, tuple[type, str]] = {
    "f-number": (Camera, "f_number"),
    "iso": (Exposure, "iso"),
    "shutter": (Exposure, "shutter_s"),
    "power": (Light, "power"),
    "distance": (Light, "distance_mm"),
    "extension": (Lens, "extension_tubes_mm"),
    "close-up": (Lens, "close_up_dioptres"),
    "magnification": (Lens, "native_magnification"),
    "room": (Ambient, "illuminance_lx"),
}
_WRITTEN = {
    "f-number": "22 or f/22",
    "iso": "400",
    "shutter": "1/125",
    "power": "1/16 or 1/16 + 1/3",
}
_MAY_BE_0 = ("extension", "close-up", "magnification")
_ABOVE_0 = ("room",)  # changes are counted in stops
_OF_LENS = {
    "extension": "extension_tubes_mm",
    "close-up": "close_up_dioptres",
    "magnification": "native_magnification",
}
OF_FLASH = ("power", "distance", "diffuser")
OF_LENS = ("f-number", "extension", "close-up", "magnification")
OF_EXPOSURE = ("f-number", "iso", "shutter", "power", "distance", "extension", "diffuser", "room")
DIFFUSER = ("on", "off")


def as_texts(
    options: Mapping[str, str | float | None], allowed: Collection[str] = OF_EXPOSURE
) -> dict[str, str]:
    """Options given by name (f_number or f-number), numbers or texts, as texts; those that are None left out.

    LightsimError for a name that is not allowed.
    """
    found = {name.replace("_", "-"): str(value) for name, value in options.items() if value is not None}
    for name in found:
        if name not in allowed:
            raise LightsimError(f"found the setting {name!r}, allowed {', '.join(allowed)}")
    return found


def number_of(option: str, text: str) -> float:
    """An option's number; LightsimError, which says what is allowed, for anything else."""
    record, key = _KEYS[option]
    rule = KEYS[record][key]
    allowed = _allowed(option, rule)
    try:
        value = 0.0 if _is_0(text) and option in _MAY_BE_0 else parse_number(text)
    except (ValueError, OverflowError):
        raise LightsimError(f"--{option}: found {text.strip()!r}, allowed {allowed}") from None
    low, high = rule.low, rule.high
    if (low is not None and value < low) or (high is not None and value > high * (1 + 1e-9)):
        raise LightsimError(f"--{option}: found {text.strip()}, allowed {allowed}")
    return value


def _is_0(text: str) -> bool:
    try:
        return float(text) == 0.0
    except ValueError:
        return False


def _allowed(option: str, rule: Rule) -> str:
    low = f"above {rule.low:g}" if rule.above or option in _ABOVE_0 else f"{rule.low:.10g}"
    written = f", as {_WRITTEN[option]}" if option in _WRITTEN else ""
    return f"{low} to {rule.high:.10g} {rule.unit}".rstrip() + written


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


def tried_scene(scene: Scene, options: Mapping[str, str | None], light: str | None = None) -> Scene:
    """The scene with other settings, checked.

    options : texts by the option's name without dashes; None for what stays.  light : the flash that power,
    distance and diffuser belong to.
    LightsimError for a value that is not allowed or belongs to nothing on the set; SceneError for values
    that cannot be together.
    """
    given = {name: text for name, text in options.items() if text is not None}
    for name in _OF_LENS:
        if name in given and scene.lens is None:
            raise LightsimError(f"--{name}: found {given[name]}, allowed with a [lens] section only")
    for name in OF_FLASH:
        if name in given and flash_traded(scene, light) is None:
            raise LightsimError(f"--{name}: found {given[name]}, allowed where a flash is on the set")
    if "room" in given and room_light_lx(scene.ambient) <= 0.0:
        raise LightsimError(f"--room: found {given['room']}, allowed where the scene has a room light")
    numbers = {name: number_of(name, text) for name, text in given.items() if name in _KEYS}
    changed = _flash_changed(_set_up_changed(scene, numbers), numbers, given.get("diffuser"), light)
    return check_scene(changed)


def _set_up_changed(scene: Scene, numbers: Mapping[str, float]) -> Scene:
    camera, exposure, ambient, lens = scene.camera, scene.exposure, scene.ambient, scene.lens
    if "f-number" in numbers:
        camera = replace(camera, f_number=numbers["f-number"])
    if "iso" in numbers:
        exposure = replace(exposure, iso=ISO_SPEEDS.exact(numbers["iso"]))
    if "shutter" in numbers:
        exposure = replace(exposure, shutter_s=SHUTTER_TIMES.exact(numbers["shutter"]))
    if "room" in numbers:
        ambient = replace(ambient, illuminance_lx=numbers["room"], ev100=None)
    if lens is not None:
        if "extension" in numbers:
            length = numbers["extension"]
            lens = replace(lens, extension_tubes_mm=(length,) if length > 0 else ())
        if "close-up" in numbers:
            lens = replace(lens, close_up_dioptres=numbers["close-up"])
        if "magnification" in numbers:
            lens = replace(lens, native_magnification=numbers["magnification"])
    return replace(scene, camera=camera, exposure=exposure, ambient=ambient, lens=lens)


def _flash_changed(
    scene: Scene, numbers: Mapping[str, float], diffuser: str | None, name: str | None
) -> Scene:
    flash = flash_traded(scene, name)
    if flash is None:
        return scene
    changed = flash
    if "power" in numbers:
        changed = replace(changed, power=numbers["power"])
    if "distance" in numbers:
        changed = change_light(changed, {"distance": numbers["distance"]})
    if diffuser == "off":
        changed = replace(changed, diffuser=None)
    if diffuser == "on" and changed.diffuser is None:
        changed = replace(changed, diffuser=Diffuser())
    return with_light(scene, changed)


def with_light(scene: Scene, light: Light) -> Scene:
    """The scene with the light of that name replaced."""
    return replace(
        scene, lights=tuple(light if other.name == light.name else other for other in scene.lights)
    )


def with_solved(scene: Scene, name: str, value: float, light: Light | None) -> Scene:
    """The scene with a solved value, exact, in its place; power and distance belong to the light."""
    if name == "f-number":
        return replace(scene, camera=replace(scene.camera, f_number=value))
    if name == "iso":
        return replace(scene, exposure=replace(scene.exposure, iso=value))
    if name == "shutter":
        return replace(scene, exposure=replace(scene.exposure, shutter_s=value))
    assert light is not None
    current = next(each for each in scene.lights if each.name == light.name)
    changed = replace(current, power=value) if name == "power" else change_light(current, {"distance": value})
    return with_light(scene, changed)
