"""The words of everything that can be wrong with a scene: where, what was found, what is allowed."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import PurePath
from typing import Any

from lightsim.errors import named, printable
from lightsim.scene.file.layout import Slot, sections, slots

LONGEST = 60
# What photographers call a key otherwise.
SYNONYMS = {
    "aperture": ("f_number",),
    "f_stop": ("f_number",),
    "time": ("shutter_s",),
    "shutter_speed": ("shutter_s",),
    "exposure_time": ("shutter_s",),
    "sensitivity": ("iso",),
    "speed": ("iso",),
    "tubes": ("extension_tubes_mm",),
    "extension": ("extension_tubes_mm",),
    "extension_mm": ("extension_tubes_mm",),
    "bellows": ("extension_tubes_mm",),
    "close_up": ("close_up_dioptres",),
    "dioptres": ("close_up_dioptres",),
    "diopters": ("close_up_dioptres",),
    "focal_length": ("focal_length_mm",),
    "magnification": ("native_magnification",),
    "guide_number": ("guide_number_m",),
    "lux": ("illuminance_lx",),
    "illuminance": ("illuminance_lx",),
    "kelvin": ("colour_temperature_k",),
    "color_temperature_k": ("colour_temperature_k",),
    "temperature_k": ("colour_temperature_k",),
    "distance": ("distance_mm",),
    "angle": ("angle_deg",),
    "width": ("width_mm", "width_px"),
    "height": ("height_mm",),
    "diameter": ("diameter_mm",),
    "number": ("count",),
}
MANY_SIGNS = 100  # more of a text or a list need not be looked at to cut it short
MOST_BITS = (
    14_000  # of a larger whole number the message gives the size: Python writes no more than 4300 digits
)
MANY = 1e5  # a limit from here on up goes unsaid in comments


def shown(value: Any) -> str:
    """A value as a scene file would write it, cut short when long (a file's name later than others)."""
    if isinstance(value, PurePath):
        return f'"{named(value)}"'
    text = _written(value)
    return text if len(text) <= LONGEST else text[: LONGEST - 3] + "..."


def _written(value: Any) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (str, PurePath)):
        return f'"{printable(str(value)[:MANY_SIGNS])}"'
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, (list, tuple)):
        tables = bool(value) and all(isinstance(entry, Mapping) for entry in value)
        return "a list of tables" if tables else "[" + ", ".join(map(_written, value[:MANY_SIGNS])) + "]"
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, int) and value.bit_length() > MOST_BITS:
        return f"a whole number of {value.bit_length():,} bits"
    return printable(value)


def allowed(slot: Slot) -> str:
    """What a key allows, in words."""
    unit = f" {slot.rule.unit}" if slot.rule.unit and slot.kind != "named number" else ""
    span = _span(slot)
    return {
        "number": f"a number{span}{unit}" + _or_text(slot),
        "whole": f"a whole number{span}{unit}",
        "flag": "true or false",
        "text": _text(slot),
        "file": "the name of a file in quotes",
        "named number": f"a name in quotes, or a number{span} {slot.rule.unit}",
        "numbers": f"a list of {slot.length or ''} numbers{span}{unit}".replace("  ", " "),
        "wholes": f"a list of {slot.length} whole numbers{span}{unit}",
        "table": "one table",
        "tables": "tables",
    }[slot.kind]


def _span(slot: Slot) -> str:
    low, high = slot.rule.low, slot.rule.high
    if low is None or high is None:
        return ""
    return f" above {low:.10g}, up to {high:.10g}" if slot.rule.above else f" from {low:.10g} to {high:.10g}"


def hint(slot: Slot) -> str:
    """What a key allows, as short as a comment wants it."""
    rule = slot.rule
    if rule.choices:
        return _text(slot)
    if rule.low is None or rule.high is None:
        return ""
    if rule.high < MANY:
        span = (
            f"above {rule.low:.10g}, up to {rule.high:.10g}"
            if rule.above
            else f"{rule.low:.10g} to {rule.high:.10g}"
        )
    else:
        span = "" if rule.low < 0.0 else f"above {rule.low:g}" if rule.above else f"{rule.low:g} or more"
    return f"{span} {rule.unit}".strip()


def _or_text(slot: Slot) -> str:
    example = {"shutter": "1/125", "fraction": "1/16", "f-number": "f/8"}.get(slot.rule.written)
    return f', or text such as "{example}"' if example else ""


def _text(slot: Slot) -> str:
    if slot.rule.choices:
        return _either([f'"{choice}"' for choice in slot.rule.choices])
    lengths = {"name": "1 to 60", "name or nothing": "up to 100"}
    length = lengths.get(slot.rule.written)
    return f"{length} printable characters in quotes" if length else "text in quotes"


def _either(words: list[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " or " + words[-1]


def wrong_value(where: str, value: Any, slot: Slot, meant: str = "") -> str:
    """The sentence for a value that is not allowed, with what was probably meant."""
    meant = f" (meant is {meant})" if meant else ""
    return f"{where}: found {shown(value)}, allowed {allowed(slot)}{meant}"


def wrong_table(where: str, value: Any, slot: Slot, heading: str) -> str:
    """The sentence for a section given in the wrong form."""
    as_list = slot.kind == "tables"
    head = f"[[{heading}]]" if as_list else f"[{heading}]"
    return f"{where}: found {shown(value)}, allowed {'tables' if as_list else 'one table'} headed {head}"


def missing_key(where: str, slot: Slot) -> str:
    """The sentence for a key that must be given."""
    return f"{where}: found nothing, allowed {allowed(slot)}"


def unknown_key(where: str, key: str, record: type) -> str:
    """The sentence for a key that there is not: the nearest, the section it belongs to, or all there are."""
    known = list(slots(record))
    other = SYNONYMS.get(key.lower(), ())
    close = [name for name in other if name in known] or get_close_matches(key, known, 1)
    if close:
        return f'{where}: found an unknown key, allowed "{close[0]}" (the nearest of the known ones)'
    homes = [section.shown for section in sections() if section.heading and key in slots(section.record)]
    if homes:
        return f"{where}: found an unknown key, allowed in {_either(homes)}"
    for name in other:
        homes = [section.shown for section in sections() if section.heading and name in slots(section.record)]
        if homes:
            return f'{where}: found an unknown key, allowed "{name}" in {_either(homes)}'
    return f"{where}: found an unknown key, allowed {_either(known)}"
