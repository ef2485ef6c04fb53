"""The set-up and its exposure in a line, as it stands at the foot of a sheet."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from math import hypot
from typing import Any

from lightsim.optics.marks import ISO_SPEEDS, SHUTTER_TIMES
from lightsim.report.words import (
    card_kind,
    clock_words,
    degrees,
    face_words,
    fixed,
    plain,
    power_words,
    signed,
    significant,
)
from lightsim.scene.build import room_light_lx
from lightsim.scene.faces import angle_and_clock, position
from lightsim.scene.records import Card, Lens, Light, Scene
from lightsim.scene.settings.change_light import placed_by_angle
from lightsim.scene.settings.quantities import OF_THE_LENS
from lightsim.scene.stage import Stage

EXPOSING = frozenset(("f_number", "iso", "shutter", "power"))


def settings_words(scene: Scene, varied: Collection[str] = ()) -> str:
    """F-number, shutter and ISO as they are marked; what varies is left out."""
    words = {
        "f_number": f"f/{plain(scene.camera.f_number, 1)}",
        "shutter": SHUTTER_TIMES.label(scene.exposure.shutter_s),
        "iso": ISO_SPEEDS.label(scene.exposure.iso),
    }
    return ", ".join(text for name, text in words.items() if name not in varied)


def exposure_words(scene: Scene, gain_stops: float, own: bool, varied: Collection[str] = ()) -> str:
    """What the exposures of several frames have in common.

    varied : names of the quantities that differ from frame to frame.
    """
    settings = settings_words(scene, varied)
    exposing = EXPOSING.intersection(varied)
    if own:
        origin = "the settings" if exposing else settings
        return f"each frame at its own automatic exposure, in stops from {origin}"
    if scene.exposure.auto:
        origin = "what the settings give" if exposing else settings
        return f"one automatic exposure for all, {signed(gain_stops)} stops from {origin}"
    if exposing:
        return f"each frame exposed as its settings say, all at {settings}"
    return f"one exposure for all: {settings}"


def light_words(light: Light, varied: Collection[str] = ()) -> str:
    """A light's face, output and place.

    varied : names of the quantities that a sweep varies on this light, which are left out.
    """
    light = placed_by_angle(light)
    details = [output_words(light, varied), f"{light.colour_temperature_k:g} K", *_place(light, varied)]
    if not {"size", "diffuser"} & set(varied):
        details.insert(0, _face(light))
    elif light.diffuser is not None and "diffuser" not in varied:
        details.insert(0, _diffuser_words(light.diffuser.loss_stops))
    if light.kind != light.name:
        details.insert(0, light.kind)
    return f"{light.name} ({', '.join(details)})"


def _face(light: Light) -> str:
    """The glowing face: the diffuser where there is one."""
    sheet = light if light.diffuser is None else light.diffuser
    size = face_words(sheet.shape, sheet.width_mm, sheet.height_mm, light.inner_width_mm)
    return size if light.diffuser is None else f"{_diffuser_words(light.diffuser.loss_stops)}, {size}"


def _diffuser_words(loss_stops: float) -> str:
    return f"diffuser taking {plain(loss_stops)} stops"


def _place(light: Light, varied: Collection[str]) -> list[str]:
    where = {
        "angle": f"{degrees(light.angle_deg)} off the axis",
        "clock": f"at {clock_words(light.clock)}",
        "distance": f"{plain(light.distance_mm, 0)} mm away",
    }
    return [words for name, words in where.items() if name not in varied]


def card_words(card: Card) -> str:
    """What a card is called, its size and place."""
    angle, clock = angle_and_clock(position(card))
    size = face_words("rectangle", card.width_mm, card.height_mm)
    where = f"{degrees(angle)} off the axis, at {clock_words(clock)}"
    distance = f"{plain(hypot(*position(card)), 0)} mm away"
    kind = card_kind(card.reflectance)
    named = "" if card.name in (kind, "card") else f"{card.name}, "
    return f"{kind} ({named}{size}, {where}, {distance})"


def output_words(light: Light, varied: Collection[str] = ()) -> str:
    """How a light's output is given."""
    power = "" if "power" in varied else f" at {power_words(light.power)}"
    if light.guide_number_m is not None:
        return f"guide number {plain(light.guide_number_m, 1)} m{power}"
    if light.illuminance_lx is not None:
        return f"{significant(light.illuminance_lx, 3)} lx"
    if light.ev100 is not None:
        return f"EV {plain(light.ev100, 1)} at ISO 100"
    unit = "cd s" if light.kind == "flash" else "cd"
    shown = light.kind == "flash" and light.power != 1.0
    return f"{significant(light.intensity or 0.0, 3)} {unit}{power if shown else ''}"


def lens_words(lens: Lens, varied: Collection[str] = ()) -> str:
    """The lens and what is put on it: "100 mm lens with 36 + 12 mm of tubes"."""
    extras = list(_put_on(lens, varied))
    with_them = f" with {' and '.join(extras)}" if extras else ""
    turned = ", reversed" if lens.reversed and "reversed" not in varied else ""
    return f"{plain(lens.focal_length_mm)} mm lens{turned}{with_them}"


def _put_on(lens: Lens, varied: Collection[str]) -> Iterator[str]:
    if any(lens.extension_tubes_mm) and "extension" not in varied:
        yield f"{' + '.join(plain(tube) for tube in lens.extension_tubes_mm)} mm of tubes"
    if lens.teleconverter > 1.0 and "teleconverter" not in varied:
        yield f"a {plain(lens.teleconverter)}× teleconverter"
    if any(lens.close_up_dioptres) and "close_up" not in varied:
        yield close_up_words(lens.close_up_dioptres)
    if lens.stacked is not None:
        yield f"a {plain(lens.stacked.focal_length_mm)} mm lens reversed before it"


def close_up_words(dioptres: Collection[float]) -> str:
    """Close-up lenses by their strengths: "a close-up lens of +4", "close-up lenses of +4 and +2"."""
    strengths = [f"+{plain(each)}" for each in dioptres if each > 0.0]
    if len(strengths) == 1:
        return f"a close-up lens of {strengths[0]}"
    return f"close-up lenses of {' and '.join(strengths)}"


def camera_words(scene: Scene, stage: Stage, varied: Collection[str] = ()) -> str:
    """The camera's framing and settings."""
    camera = stage.camera
    parts = [] if scene.lens is None else [lens_words(scene.lens, varied)]
    if not ({*OF_THE_LENS} - {"f_number"}) & {*varied}:
        field = f"field {plain(camera.field_width_mm, 1)} mm wide"
        parts.append(f"{field} (magnification {plain(camera.magnification)})")
    parts.append(settings_words(scene, varied))
    if not {*OF_THE_LENS} & {*varied}:
        parts.append(f"effective f/{plain(camera.effective_f_number, 1)}")
    return ", ".join(parts)


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


def motion_words(scene: Scene, varied: Collection[str] = ()) -> str:
    """How the subject moves, and how far while the shutter is open."""
    if scene.motion is None:
        return ""
    speed = f"moving {significant(scene.motion.speed_mm_s)} mm/s toward {clock_words(scene.motion.clock)}"
    way = scene.motion.speed_mm_s * scene.exposure.shutter_s
    return speed if "shutter" in varied else f"{speed}, {significant(way)} mm during the exposure"


def set_up_words(scene: Scene, stage: Stage, light: str | None = None, varied: Collection[str] = ()) -> str:
    """The whole set-up in a line; what a sweep varies (some of it of `light`) is left out."""
    lights = [light_words(each, varied if each.name == light else ()) for each in scene.lights]
    cards = [] if "card" in varied else [card_words(card) for card in scene.cards]
    room = "" if "room" in varied else ambient_words(scene)
    drops = "" if {"drops", "drop_size"} & {*varied} else drops_words(stage)
    parts = [camera_words(scene, stage, varied), *lights, *cards, room, motion_words(scene, varied), drops]
    return "; ".join(filter(None, parts))


def lens_line(scene: Scene, lens: Mapping[str, Any]) -> str:
    """The lens train and what follows from it."""
    assert scene.lens is not None
    stops = lens["light_lost_stops"]
    lost = f"{plain(stops, 1)} stops of light lost" if stops >= 0.05 else "no light lost"
    magnification = f"magnification {with_range(lens['magnification'], lens['magnification_range'], 2)}"
    effective = f"effective f/{plain(lens['effective_f_number'], 1)}"
    return f"{lens_words(scene.lens)}; {magnification}, {effective}, {lost}"


def with_range(value: float, span: Sequence[float], digits: int, unit: str = "") -> str:
    """A figure, and the least and most that it may be over what is supposed where they differ."""
    words = f"{plain(value, digits)}{unit}"
    low, high = (fixed(end, digits) for end in span)
    return words if low == high else f"{words} ({low} to {high})"


def working_distance_words(lens: Mapping[str, Any]) -> str:
    """The free distance of a lens train."""
    span = lens["working_distance_range_mm"]
    return f"working distance {with_range(lens['working_distance_mm'], span, 0, ' mm')}"


def movement_line(movement: Mapping[str, float]) -> str:
    """How long the smears are."""
    flash = movement["flash_smear_mm"]
    sharp = f"; what the flash records, {significant(flash)} mm" if flash > 0.0 else ""
    smear = f"{significant(movement['ghost_mm'])} mm ({plain(movement['ghost_px'], 1)} pixels)"
    return f"at {significant(movement['speed_mm_s'])} mm/s the room’s light smears {smear}{sharp}"
