"""The set-up and its exposure in a line, as it stands at the foot of a sheet."""

from __future__ import annotations

from math import hypot

from lightsim.optics.marks import FLASH_POWERS, ISO_SPEEDS, SHUTTER_TIMES
from lightsim.present.words import clock_words, degrees, plain, signed, significant
from lightsim.scene.build import room_light_lx
from lightsim.scene.faces import angle_and_clock, position
from lightsim.scene.records import Card, Light, Scene
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


def light_words(light: Light, moved: str | None = None) -> str:
    """A light's face, output and place.

    moved : name of the quantity that a sweep varies on this light, which is left out.
    """
    light = placed_by_angle(light)
    details = [output_words(light), f"{light.colour_temperature_k:g} K", *_place(light, moved)]
    if moved != "size":
        details.insert(0, _face(light))
    if light.kind != light.name:
        details.insert(0, light.kind)
    return f"{light.name} ({', '.join(details)})"


def _face(light: Light) -> str:
    if light.shape == "round":
        return f"round, {plain(light.width_mm)} mm"
    return f"{plain(light.width_mm)} × {plain(light.height_mm)} mm"


def _place(light: Light, moved: str | None) -> list[str]:
    where = {
        "angle": f"{degrees(light.angle_deg)} off the axis",
        "clock": f"at {clock_words(light.clock)}",
        "distance": f"{plain(light.distance_mm, 0)} mm away",
    }
    return [words for name, words in where.items() if name != moved]


def card_words(card: Card) -> str:
    """A card's size and place."""
    angle, clock = angle_and_clock(position(card))
    size = f"{plain(card.width_mm)} × {plain(card.height_mm)} mm"
    where = f"{degrees(angle)} off the axis, at {clock_words(clock)}"
    distance = f"{plain(hypot(*position(card)), 0)} mm away"
    kind = "" if "card" in card.name else "card, "
    return f"{card.name} ({kind}{size}, {where}, {distance})"


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
    if room_light_lx(ambient) <= 0.0:
        return "no ambient light"
    return f"ambient {significant(room_light_lx(ambient), 3)} lx, {ambient.colour_temperature_k:g} K"


def set_up_words(scene: Scene, stage: Stage, light: str | None = None, moved: str | None = None) -> str:
    """The whole set-up in a line; what a sweep varies (`moved`, of `light`) is left out."""
    lights = [light_words(each, moved if each.name == light else None) for each in scene.lights]
    cards = [card_words(card) for card in scene.cards]
    parts = [camera_words(scene, stage), *lights, *cards, ambient_words(scene), drops_words(stage)]
    return "; ".join(parts)
