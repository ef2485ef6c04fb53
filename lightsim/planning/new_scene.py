"""A scene file to start from, made with the gear that someone has."""

from __future__ import annotations

from math import isfinite
from pathlib import Path

from lightsim.errors import LightsimError, OutputError, SceneError, named
from lightsim.optics.lens_records import StackedLens
from lightsim.optics.marks import FLASH_POWERS
from lightsim.planning.exposure.exposure import exposure
from lightsim.report.files.writable import require_file
from lightsim.scene.file.check import check_scene
from lightsim.scene.file.keys import KEYS
from lightsim.scene.file.layout import slots
from lightsim.scene.file.typed_number import NotTyped, typed_number
from lightsim.scene.file.values import NotAllowed, converted
from lightsim.scene.file.write import Gear, template_scene, template_text
from lightsim.scene.records import Ambient, Camera, Diffuser, Lens, Light
from lightsim.whole_file import replacing

DEMO = "dewy-petal.toml"

# option -> field of the gear, record and key of the scene file that say what is allowed
KEY_OF: dict[str, tuple[str, type, str]] = {
    "lens": ("lens_mm", Lens, "focal_length_mm"),
    "magnification": ("magnification", Lens, "native_magnification"),
    "free-distance": ("free_distance_mm", Lens, "native_working_distance_mm"),
    "tubes": ("tubes_mm", Lens, "extension_tubes_mm"),
    "close-up": ("close_up_dioptres", Lens, "close_up_dioptres"),
    "teleconverter": ("teleconverter", Lens, "teleconverter"),
    "reversed": ("reversed", Lens, "reversed"),
    "second-lens": ("second_lens_mm", StackedLens, "focal_length_mm"),
    "f-number": ("f_number", Camera, "f_number"),
    "guide-number": ("guide_number_m", Light, "guide_number_m"),
    "diffuser": ("diffuser_mm", Diffuser, "width_mm"),
    "room": ("room_lx", Ambient, "illuminance_lx"),
}
EXAMPLES = {
    "tubes": "36,12 (none for no tubes)",
    "close-up": "4 or 4,2, up to 100 dioptres each (none for no close-up lens)",
    "diffuser": "60x40 (none for a bare flash)",
    "teleconverter": "1 to 4 (none for no teleconverter)",
    "reversed": "on, off",
    "second-lens": "1 to 5000 mm (none for no second lens)",
}
NONE = "none"
NAMED = {
    "tubes": (),
    "diffuser": None,
    "free-distance": None,
    "close-up": (),
    "teleconverter": 1.0,
    "second-lens": None,
}
SWITCHES = {"on": True, "off": False}
LISTS = ("tubes", "close-up")


def gear_value(option: str, text: str) -> object:
    """One piece of gear from the text of its option, such as "100", "36,12" or "60x40".

    LightsimError, with what is allowed, for anything else.
    """
    _, record, key = KEY_OF[option]
    if text.strip().lower() == NONE and option in NAMED:
        return NAMED[option]
    if option == "reversed":
        if text.strip().lower() not in SWITCHES:
            raise LightsimError(_refused(option, text, ""))
        return SWITCHES[text.strip().lower()]
    slot = slots(record)[key]
    signs = {**dict.fromkeys(LISTS, ","), "diffuser": "x"}
    parts = text.lower().replace("×", "x").split(signs[option]) if option in signs else [text]
    try:
        if option == "diffuser" and len(parts) != 2:
            raise NotAllowed
        numbers = tuple(typed_number(part, slot.rule.unit, slot.rule.written) for part in parts)
        if option in LISTS:
            return tuple(number for number in converted(numbers, slot) if number > 0.0)
        checked = tuple(converted(number, slot) for number in numbers)
    except (NotTyped, NotAllowed) as error:
        raise LightsimError(_refused(option, text, str(error.meant))) from None
    return checked if option == "diffuser" else checked[0]


def _refused(option: str, text: str, meant: str) -> str:
    _, record, key = KEY_OF[option]
    rule = KEYS[record][key]
    above = "above " if rule.above else ""
    allowed = EXAMPLES.get(option) or f"{above}{rule.low:.10g} to {rule.high:.10g} {rule.unit}".rstrip()
    meant = f" (meant is {meant})" if meant else ""
    return f"--{option}: found {text.strip()!r}, allowed {allowed}{meant}"


def gear_of(given: dict[str, str]) -> Gear:
    """Gear from the texts of the options that were given; the rest as usual.

    The free distance belongs to the usual lens: with another lens and none given it is not known.
    """
    values = {KEY_OF[option][0]: gear_value(option, text) for option, text in given.items()}
    if {"lens", "magnification"} & given.keys() and "free-distance" not in given:
        values["free_distance_mm"] = None
    return Gear(**values)  # type: ignore[arg-type]


def write_demo(path: Path, *, force: bool = False) -> Path:
    """Write the demo scene; OutputError when there is a file already and force is not given."""
    _require_new(path, force)
    with replacing(path) as part:
        part.write_bytes(demo_file().read_bytes())
    return path


def demo_file() -> Path:
    """The demo scene: in the installed package, else among the scenes beside its sources."""
    package = Path(__file__).parents[1]
    places = [package / "demo" / DEMO, package.parent / "scenes" / DEMO]
    return next((place for place in places if place.is_file()), places[0])


def _require_new(path: Path, force: bool) -> None:
    require_file(path)
    if path.exists() and not force:
        raise OutputError(
            f"{named(path)}: found a file of that name, allowed a new name (or --force to replace it)"
        )


def write_template(path: Path, gear: Gear | None = None, *, force: bool = False) -> Path:
    """Write the commented scene file, its flash at the power that brings the petal to the mid-tone.

    Raises OutputError when there is a file already and force is not given; SceneError for gear that
    cannot be.
    """
    _require_new(path, force)
    scene = template_scene(gear)
    try:
        check_scene(scene)
        scene = template_scene(gear, _mid_tone_power(gear))
    except SceneError as error:
        raise SceneError(error.problems) from None
    with replacing(path) as part:
        part.write_text(template_text(scene), encoding="utf-8")
    return path


def _mid_tone_power(gear: Gear | None) -> float:
    """The marked power nearest to what the closed form gives for a petal at the mid-tone, within the dial."""
    trade = exposure(template_scene(gear), solve="power", to_mid_tone=True).trade
    power = 1.0 if trade is None or trade.after is None else trade.after.power
    least = FLASH_POWERS.exact_at(FLASH_POWERS.thirds[-1])
    return FLASH_POWERS.nearest(min(max(power, least), 1.0) if isfinite(power) else 1.0).exact
