"""The table of all that can be changed on a set, used by every command that takes another value of something.

One line for each: its name and option, how its values are written, what is traced again for another value,
and how it changes a scene. Sweeps, comparisons, previews, lens figures and exposures take theirs from here.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from typing import Any

from lightsim.errors import LightsimError
from lightsim.optics.marks import F_NUMBERS, FLASH_POWERS, ISO_SPEEDS, SHUTTER_TIMES
from lightsim.scene.records import Ambient, Camera, Drops, Exposure, Lens, Light, Scene
from lightsim.scene.settings.change_light import (
    light_named,
    moved_to_distance,
    resized,
    turned_to_angle,
    turned_to_clock,
    with_diffuser,
    with_light,
)
from lightsim.scene.settings.quantity import ON, Change, Quantity, parts_of
from lightsim.scene.settings.value_list import Values, values_of


def _on_light(change: Callable[[Light, float], Light]) -> Change:
    """A change of the light that is named, the key where none is."""
    return lambda scene, name, value: with_light(scene, change(light_named(scene, name), value))


def _of_section(section: str, key: str) -> Change:
    """Another value of one key of a section that every scene has."""

    def change(scene: Scene, name: str | None, value: float) -> Scene:
        record: Any = getattr(scene, section)
        return replace(scene, **{section: replace(record, **{key: value})})

    return change


def _of_lens(option: str, changes: Callable[[float], dict[str, Any]]) -> Change:
    """A change of the lens train. LightsimError for a scene without one."""

    def change(scene: Scene, name: str | None, value: float) -> Scene:
        if scene.lens is None:
            raise LightsimError(f"{option}: found {value:g}, allowed with a [lens] section only")
        return replace(scene, lens=replace(scene.lens, **changes(value)))

    return change


def _refocused(scene: Scene, name: str | None, value: float) -> Scene:
    """Another setting of the focus ring; what is known of the lens where it stood is not known there."""
    if scene.lens is not None and scene.lens.native_magnification == value:
        return scene
    unknown = (
        "native_working_distance_mm",
        "native_focus_distance_mm",
        "focal_length_close_mm",
        "barrel_length_mm",
    )
    change = _of_lens(
        "--magnification", lambda given: {"native_magnification": given, **dict.fromkeys(unknown)}
    )
    return change(scene, name, value)


def _with_drops(scene: Scene, name: str | None, value: float) -> Scene:
    return replace(scene, drops=replace(scene.drops, count=round(value)))


def _with_room(scene: Scene, name: str | None, value: float) -> Scene:
    return replace(scene, ambient=replace(scene.ambient, illuminance_lx=value, ev100=None))


def _with_cards(scene: Scene, name: str | None, value: float) -> Scene:
    if value == ON and not scene.cards:
        raise LightsimError("--card: found on, allowed where the scene has a [[card]]")
    return scene if value == ON else replace(scene, cards=())


_TABLE = (
    Quantity("angle", "--angles", "angle", "deg", "angle", (Light, "angle_deg"),
             _on_light(turned_to_angle), of_light=True, single_option="--angle", limits=(-360.0, 720.0),
             about="angle of the light off the lens axis in degrees: 0 from the lens, 90 from the side",
             example="10,45,80 or 0:180:15"),
    Quantity("clock", "--clock", "clock position", "clock", "clock", (Light, "clock"),
             _on_light(turned_to_clock), of_light=True, sorts=False,
             about="clock position of the light, seen from the camera: 12 above, 3 right",
             example="9,12,3 or 1:12:1"),
    Quantity("distance", "--distance", "distance", "mm", "distance", (Light, "distance_mm"),
             _on_light(moved_to_distance), of_light=True,
             about="distance of the light from the subject in mm", example="100:400:50"),
    Quantity("size", "--size", "size", "mm", "size", (Light, "width_mm"), _on_light(resized), of_light=True,
             about="width of the light's face (or diffuser) in mm; its height follows",
             example="20:120:20"),
    Quantity("power", "--power", "power", "power", "power", (Light, "power"),
             _on_light(lambda light, value: replace(light, power=value)), traces="", of_light=True,
             series=FLASH_POWERS, about="flash power as a fraction of full power",
             example="1/64,1/16 or 1/128:1/8:1 in steps of a stop"),
    Quantity("diffuser", "--diffuser", "diffuser", "switch", "diffuser", None,
             _on_light(lambda light, value: with_diffuser(light, value == ON)), of_light=True, sorts=False,
             about="the light's diffuser: on or off", example="on,off", column="diffuser"),
    Quantity("f_number", "--f-number", "f-number", "f/", "f", (Camera, "f_number"),
             _of_section("camera", "f_number"), traces="view", series=F_NUMBERS,
             about="f-number as marked", example="8,11,16 or 8:22:1 in steps of a stop"),
    Quantity("shutter", "--shutter", "shutter", "s", "shutter", (Exposure, "shutter_s"),
             _of_section("exposure", "shutter_s"), traces="", series=SHUTTER_TIMES,
             about="shutter time", example="1/250,1/60 or 1/500:1/30:1 in steps of a stop"),
    Quantity("iso", "--iso", "ISO speed", "ISO", "iso", (Exposure, "iso"),
             _of_section("exposure", "iso"), traces="", series=ISO_SPEEDS,
             about="ISO speed", example="100,400 or 100:800:1 in steps of a stop"),
    Quantity("extension", "--extension", "extension", "mm of tubes", "extension",
             (Lens, "extension_tubes_mm"),
             _of_lens("--extension", lambda value: {"extension_tubes_mm": parts_of(value)}),
             traces="view", stacks=True, about="length of all tubes together in mm", example="0:60:12"),
    Quantity("close_up", "--close-up", "close-up lens", "dioptres", "closeup", (Lens, "close_up_dioptres"),
             _of_lens("--close-up", lambda value: {"close_up_dioptres": parts_of(value)}),
             traces="view", stacks=True, caption="close-up lens +{}",
             about="strength of a close-up lens in dioptres; 0 takes it off", example="0,4,8",
             column="close_up_dioptres"),
    Quantity("teleconverter", "--teleconverter", "teleconverter", "times", "teleconverter",
             (Lens, "teleconverter"), _of_lens("--teleconverter", lambda value: {"teleconverter": value}),
             traces="view", caption="teleconverter {}×",
             about="factor of a teleconverter; 1 takes it off", example="1,1.4,2", column="teleconverter"),
    Quantity("reversed", "--reversed", "lens reversed", "switch", "reversed", None,
             _of_lens("--reversed", lambda value: {"reversed": value == ON}), traces="view", sorts=False,
             about="the lens reversed: on or off", example="on,off", column="lens_reversed"),
    Quantity("magnification", "--magnification", "magnification of the lens alone", "",
             "magnification", (Lens, "native_magnification"),
             _refocused, traces="view",
             caption="lens alone at {}", about="magnification of the lens alone where its focus ring stands",
             example="0.5,1", column="native_magnification"),
    Quantity("card", "--card", "cards", "switch", "card", None, _with_cards, traces="view", sorts=False,
             about="the scene's cards: on or off", example="on,off", column="cards"),
    Quantity("room", "--room", "room light", "lx", "room", (Ambient, "illuminance_lx"), _with_room,
             traces="", caption="room {} lx", about="illuminance of the room in lux", example="0,150,600",
             column="room_lx"),
    Quantity("drops", "--drops", "number of drops", "drops", "drops", (Drops, "count"), _with_drops,
             traces="view", whole=True, about="number of scattered drops; those placed by hand stay",
             example="10,40,160", column="scattered_drops"),
    Quantity("drop_size", "--drop-size", "size of the drops", "mm", "dropsize", (Drops, "diameter_mm"),
             _of_section("drops", "diameter_mm"), traces="view", caption="drops of {} mm",
             about="median diameter of the scattered drops in mm", example="0.5,1,2",
             column="scattered_drops_diameter_mm"),
    Quantity("contact_angle", "--contact-angle", "contact angle", "°", "contact",
             (Drops, "contact_angle_deg"), _of_section("drops", "contact_angle_deg"), traces="view",
             caption="contact angle {}°", about="contact angle of the drops in degrees",
             example="70,90,110", column="contact_angle_deg"),
)  # fmt: skip

# What is changed before all else where several things are: an angle below 0 lies opposite to the clock
# position that is given, and a size is that of a diffuser which is put on.
CHANGED_FIRST = ("diffuser", "clock")
QUANTITIES: Mapping[str, Quantity] = {quantity.name: quantity for quantity in _TABLE}
OF_THE_LIGHT = frozenset(quantity.name for quantity in _TABLE if quantity.of_light)
OF_THE_LENS = ("f_number", "extension", "close_up", "teleconverter", "reversed", "magnification")
OF_THE_EXPOSURE = (
    "f_number",
    "iso",
    "shutter",
    "power",
    "distance",
    "extension",
    "close_up",
    "teleconverter",
    "diffuser",
    "room",
)


def change_scene(scene: Scene, changes: Mapping[str, float], light: str | None = None) -> Scene:
    """The scene with other values by the quantity's name, those of a light on the one named (None: the key).

    The values are taken as they are; the scene is not checked. LightsimError for a light that is not there,
    and for what the scene has no place for (a close-up lens without a lens train).
    """
    for name in sorted(changes, key=lambda name: name not in CHANGED_FIRST):
        scene = QUANTITIES[name].change(scene, light, changes[name])
    return scene


def read_changes(options: Mapping[str, float | str | None]) -> dict[str, float]:
    """Checked values by the quantity's name; those that are None left out.

    options : numbers, or texts as they are marked, by name (f_number or f-number).
    LightsimError, which names the option, for a value that is not allowed.
    """
    found = {}
    for given, value in options.items():
        if value is not None:
            quantity = QUANTITIES[given.replace("-", "_")]
            read = (
                quantity.number(value)
                if isinstance(value, str)
                else quantity.check(float(value), quantity.one_option)
            )
            found[quantity.name] = read
    return found


def read_lists(wanted: Mapping[str, Values | None]) -> dict[str, tuple[float, ...]]:
    """Checked lists of values by the quantity's name (angles stands for angle); those that are None left out.

    LightsimError for an unknown name, and for a value that is not allowed.
    """
    given = {"angle" if name == "angles" else name: value for name, value in wanted.items()}
    require_known(given, tuple(QUANTITIES))
    order = [name for name in QUANTITIES if given.get(name) is not None]
    return {name: values_of(given[name], QUANTITIES[name]) for name in order}  # type: ignore[arg-type]


def require_known(options: Collection[str], allowed: Collection[str]) -> None:
    """LightsimError for an option (f_number or f-number) that is not among those allowed."""
    for given in options:
        if given.replace("-", "_") not in allowed:
            names = ", ".join(name.replace("_", "-") for name in allowed)
            raise LightsimError(f"found the setting {given.replace('_', '-')!r}, allowed {names}")


def changed_scene(scene: Scene, options: Mapping[str, float | str | None], light: str | None = None) -> Scene:
    """The scene with other values, checked one by one; options as for `read_changes`.

    light : the light that some of them belong to; the key when None.
    """
    changes = read_changes(options)
    if light is not None or changes.keys() & OF_THE_LIGHT:
        light = light_named(scene, light).name
    return change_scene(scene, changes, light)
