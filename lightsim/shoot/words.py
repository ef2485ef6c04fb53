"""The set-up and its exposure in a line, as it stands at the foot of a sheet."""

from __future__ import annotations

from lightsim.optics.marks import FLASH_POWERS, ISO_SPEEDS, SHUTTER_TIMES
from lightsim.present.words import clock_words, degrees, plain, signed, significant
from lightsim.scene.records import Light, Scene
from lightsim.scene.stage import Stage
from lightsim.shoot.vary import placed_by_angle


def settings_words(scene: Scene) -> str:
    """F-number, shutter and ISO as they are marked."""
    f_number = f"f/{plain(scene.camera.f_number, 1)}"
    shutter = SHUTTER_TIMES.label(scene.exposure.shutter_s)
    return f"{f_number}, {shutter}, {ISO_SPEEDS.label(scene.exposure.iso)}"


def exposure_words(scene: Scene, gain_stops: float, own: bool) -> str:
    """What the exposures of several frames have in common."""
    if own:
        return f"each frame at its own automatic exposure, in stops from {settings_words(scene)}"
    if scene.exposure.auto:
        return f"one automatic exposure for all, {signed(gain_stops)} stops from {settings_words(scene)}"
    return f"one exposure for all: {settings_words(scene)}"


def light_words(light: Light, *, place: bool = True) -> str:
    """A light's face, output and, where wanted, its place."""
    if light.shape == "round":
        face = f"round, {plain(light.width_mm)} mm"
    else:
        face = f"{plain(light.width_mm)} × {plain(light.height_mm)} mm"
    words = f"{light.name} ({light.kind}, {face}, {output_words(light)}, {light.colour_temperature_k:g} K)"
    if not place:
        return words
    at = placed_by_angle(light)
    where = (
        f"{degrees(at.angle_deg)} off the axis at {clock_words(at.clock)}, {plain(at.distance_mm, 0)} mm away"
    )
    return f"{words} {where}"


def output_words(light: Light) -> str:
    """How a light's output is given."""
    if light.guide_number_m is not None:
        return f"guide number {plain(light.guide_number_m, 1)} m at {FLASH_POWERS.label(light.power)}"
    if light.illuminance_lx is not None:
        return f"{significant(light.illuminance_lx, 3)} lx"
    unit = "cd s" if light.kind == "flash" else "cd"
    power = f" at {FLASH_POWERS.label(light.power)}" if light.kind == "flash" and light.power != 1.0 else ""
    return f"{significant(light.intensity or 0.0, 3)} {unit}{power}"


def camera_words(scene: Scene, stage: Stage) -> str:
    """The camera's framing and settings."""
    camera = stage.camera
    return (
        f"field {plain(camera.field_width_mm)} mm wide (magnification {plain(camera.magnification)}), "
        f"{settings_words(scene)}, effective f/{plain(camera.effective_f_number, 1)}"
    )


def drops_words(stage: Stage) -> str:
    """How many drops there are and how large."""
    count = len(stage.drops)
    if count == 0:
        return "no drops"
    sizes = 2.0 * stage.drops.radius
    least, most = significant(float(sizes.min())), significant(float(sizes.max()))
    size = least if least == most else f"{least} to {most}"
    return f"{count} drop{'s' if count > 1 else ''}, {size} mm"


def ambient_words(scene: Scene) -> str:
    """The light of the room."""
    ambient = scene.ambient
    if ambient.illuminance_lx <= 0.0:
        return "no ambient light"
    return f"ambient {significant(ambient.illuminance_lx, 3)} lx, {ambient.colour_temperature_k:g} K"


def set_up_words(scene: Scene, stage: Stage, moved: str | None = None) -> str:
    """The whole set-up in a line; the light that is moved is described without its place."""
    lights = [light_words(light, place=light.name != moved) for light in scene.lights]
    return "; ".join([camera_words(scene, stage), *lights, ambient_words(scene), drops_words(stage)])
