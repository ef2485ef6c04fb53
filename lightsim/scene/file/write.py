"""Scenes as TOML: whole, or as a file to start from with a comment on every key."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from textwrap import dedent, wrap
from typing import Any

from lightsim.errors import OutputError, named
from lightsim.optics.lens_records import StackedLens
from lightsim.optics.marks import FLASH_POWERS, SHUTTER_TIMES
from lightsim.scene.file.keys import SECTIONS
from lightsim.scene.file.layout import Slot, sections, slots
from lightsim.scene.file.messages import hint
from lightsim.scene.file.typed_number import typed_number
from lightsim.scene.records import (
    Ambient,
    Backdrop,
    Camera,
    Card,
    Diffuser,
    Drops,
    Exposure,
    Focus,
    Lens,
    Light,
    Petal,
    PlacedDrop,
    Scene,
)
from lightsim.whole_file import replacing


def scene_to_toml(scene: Scene) -> str:
    """A scene as the text of a scene file, which loads as an equal scene."""
    return "\n".join(_section(scene, "", False)).strip("\n") + "\n"


def brief_toml(scene: Scene, matters: Mapping[type, Collection[str]]) -> str:
    """A scene as a file to start from: the keys that matter first, and the rest below as comments.

    matters : keys that are written for each record even where they are the usual ones.
    Every key is explained; those below are ready to be copied under their heading above.
    """
    above = list(_brief_section(scene, "", False, matters))
    below = list(_rest(scene, matters))
    return "\n".join([*above, "", *REST, *below]).strip("\n") + "\n"


REST = (
    "# " + "-" * 98,
    "# All else that a scene can say, with its usual value. To use a line, copy it up under its heading",
    "# without the # before it; a heading that is not above yet is copied with it.",
    "# " + "-" * 98,
)


def _brief_section(
    record: Any, heading: str, repeated: bool, matters: Mapping[type, Collection[str]]
) -> Iterator[str]:
    """The lines of the keys that matter or are not the usual ones, and of the sections inside."""
    if heading:
        yield ""
        yield from _explained(type(record))
        yield f"[[{heading}]]" if repeated else f"[{heading}]"
    held = [(slot, getattr(record, slot.field)) for slot in slots(type(record)).values()]
    for slot, value in held:
        if slot.record is None and value is not None and _is_above(slot, value, type(record), matters):
            yield f"# {_about(slot)}"
            yield f"{slot.key} = {value_to_toml(value, slot)}"
    for slot, value in held:
        if slot.record is None:
            continue
        inner = f"{heading}.{slot.key}" if heading else slot.key
        if slot.kind == "tables":
            for entry in value:
                yield from _brief_section(entry, inner, True, matters)
        elif value is not None and (slot.optional or any(_brief_section(value, "", False, matters))):
            yield from _brief_section(value, inner, False, matters)


def _is_above(slot: Slot, value: Any, record: type, matters: Mapping[type, Collection[str]]) -> bool:
    return value != slot.default or slot.key in matters.get(record, ())


def _rest(scene: Scene, matters: Mapping[type, Collection[str]]) -> Iterator[str]:
    """Every section with the keys that stand above for none of the scene's records, as comments."""
    for section in sections():
        there = list(_records(scene, section.record))
        usual = section.record() if section.record is not PlacedDrop else PlacedDrop(0.0, 0.0, 1.0)
        left = [
            slot
            for slot in slots(section.record).values()
            if slot.record is None
            and not any(_is_above(slot, getattr(one, slot.field), section.record, matters) for one in there)
        ]
        if not left:
            continue
        yield ""
        if section.heading:
            yield from _explained(section.record)
            yield f"# {section.shown}"
        for slot in left:
            value = getattr(usual, slot.field)
            yield f"# # {_about(slot)}"
            yield f"# {slot.key} = {'...' if value is None else value_to_toml(value, slot)}"


def _records(record: Any, wanted: type) -> Iterator[Any]:
    """Every record of a kind inside a scene."""
    if isinstance(record, wanted):
        yield record
    for slot in slots(type(record)).values():
        if slot.record is None:
            continue
        value = getattr(record, slot.field)
        for one in value if slot.kind == "tables" else [value] if value is not None else []:
            yield from _records(one, wanted)


def save_scene(scene: Scene, path: str | Path, force: bool = False) -> Path:
    """Write a scene file: whole, or not at all. A mesh file is named as seen from there.

    Raises OutputError when the place cannot be written or, unless `force`, when the file is there already.
    """
    path = Path(path)
    file = scene.petal.file
    if file is not None and not file.is_absolute():
        beside = Path(os.path.relpath(file, path.parent))
        scene = replace(scene, petal=replace(scene.petal, file=beside))
    return write_text(scene_to_toml(scene), path, force)


def write_text(text: str, path: Path, force: bool = False) -> Path:
    """Write a text file, whole or not at all. Raises OutputError as `save_scene` does."""
    if path.is_dir():
        raise OutputError(f"{named(path)}: found a folder, allowed the name of a file")
    if path.exists() and not force:
        raise OutputError(
            f"{named(path)}: found a file there already, allowed a new name (or overwriting, if asked for)"
        )
    with replacing(path) as part:
        part.write_text(text, encoding="utf-8", newline="\n")
    return path


def _section(record: Any, heading: str, repeated: bool) -> Iterator[str]:
    """The lines of a record: its own keys first, then the sections inside it; what is unset is left out."""
    if heading:
        yield ""
        yield f"[[{heading}]]" if repeated else f"[{heading}]"
    given = [(slot, getattr(record, slot.field)) for slot in slots(type(record)).values()]
    for slot, value in given:
        if slot.record is None and value is not None:
            yield f"{slot.key} = {value_to_toml(value, slot)}"
    for slot, value in given:
        if slot.record is None or value is None:
            continue
        inner = f"{heading}.{slot.key}" if heading else slot.key
        for one in value if slot.kind == "tables" else [value]:
            yield from _section(one, inner, slot.kind == "tables")


def _explained(record: type) -> Iterator[str]:
    yield from (f"# {line}" for line in wrap(SECTIONS[record], 100))


def _about(slot: Slot) -> str:
    """What a key is, and what it allows."""
    words = hint(slot)
    return f"{slot.rule.about} ({words})" if words else slot.rule.about


def value_to_toml(value: Any, slot: Slot | None = None) -> str:
    """A value in TOML. Shutter times and powers that stand on the dial are written as their marks."""
    mark = _mark(value, slot)
    if mark is not None:
        return f'"{mark}"'
    import tomlkit

    plain = (
        value.as_posix() if isinstance(value, Path) else list(value) if isinstance(value, tuple) else value
    )
    return tomlkit.item(plain).as_string()


def _mark(value: Any, slot: Slot | None) -> str | None:
    """The mark that a number has on the dial, such as "1/125" or "1/16 + 1/3", or None."""
    series = {"shutter": SHUTTER_TIMES, "fraction": FLASH_POWERS}
    if slot is None or slot.rule.written not in series or not isinstance(value, float):
        return None
    mark = series[slot.rule.written].nearest(value).label.removesuffix(" s")
    return mark if typed_number(mark, slot.rule.unit, slot.rule.written) == value else None


HEADER = dedent("""\
    # A set-up for a close-up photograph of a wet petal: what stands on the table, and the light on it.
    #
    # Lengths in mm, angles in degrees, times in seconds; a key's unit is in its name or in brackets above it,
    # and a number may carry its own in quotes: "f/8", "60 mm", "1/60s", "25 %". Colours are shares of light,
    # red, green and blue, from 0 to 1 (linear sRGB). Directions are those of the picture: x right, y up,
    # z toward the lens. A light stands at an angle off the lens axis (0 from the lens, 90 from the side,
    # 180 from behind) and a clock position (12 above, 3 right, seen from the camera).
    """)

# Keys that are written first, even where they are as usual.
MATTERS: dict[type, tuple[str, ...]] = {
    Petal: ("form", "width_mm", "length_mm", "tilt_deg", "tilt_clock"),
    Drops: ("count", "diameter_mm", "contact_angle_deg"),
    Camera: ("f_number",),
    Focus: ("on", "drop"),
    Lens: (
        "focal_length_mm",
        "native_magnification",
        "native_working_distance_mm",
        "extension_tubes_mm",
        "close_up_dioptres",
    ),
    StackedLens: ("focal_length_mm",),
    Exposure: ("iso", "shutter_s"),
    Light: ("name", "angle_deg", "clock", "distance_mm", "guide_number_m", "power"),
    Diffuser: ("width_mm", "height_mm", "loss_stops"),
    Card: ("angle_deg", "clock", "distance_mm"),
    Ambient: ("illuminance_lx", "colour_temperature_k"),
    Backdrop: ("distance_mm",),
}


@dataclass(frozen=True)
class Gear:
    """What a photographer has at hand, in the scene file's units.

    lens_mm : focal length.  magnification : what the lens gives by itself at its nearest.
    free_distance_mm : before the bare lens there, None where it is not known.
    tubes_mm : lengths.  close_up_dioptres : strengths.  teleconverter : its factor, 1 for none.
    reversed : whether the lens is mounted back to front.  second_lens_mm : focal length of one screwed
        back to front before it, None for none.
    diffuser_mm : width and height, None for a bare flash.
    """

    lens_mm: float = 100.0
    magnification: float = 1.0
    free_distance_mm: float | None = 140.0
    tubes_mm: tuple[float, ...] = (36.0, 12.0)
    close_up_dioptres: tuple[float, ...] = ()
    teleconverter: float = 1.0
    reversed: bool = False
    second_lens_mm: float | None = None
    f_number: float = 11.0
    guide_number_m: float = 20.0
    diffuser_mm: tuple[float, float] | None = (100.0, 80.0)
    room_lx: float = 150.0


def template_scene(gear: Gear | None = None, power: float = 1 / 4) -> Scene:
    """The scene of the template, made with some gear.

    power : of the flash, as a share of its full power.
    """
    gear = gear or Gear()
    diffuser = None if gear.diffuser_mm is None else Diffuser("rectangle", *gear.diffuser_mm)
    return Scene(
        about="A dewy petal in side light.",
        petal=Petal(tilt_deg=15.0, tilt_clock=10.0, mottle=0.06, mesh_spacing_mm=0.12),
        drops=Drops(count=60, diameter_mm=0.7, diameter_spread=1.4, placed=(PlacedDrop(0.0, 2.0, 1.5),)),
        camera=Camera(f_number=gear.f_number, focus=Focus(on="drop", drop=0)),
        lens=Lens(
            focal_length_mm=gear.lens_mm,
            native_magnification=gear.magnification,
            extension_tubes_mm=gear.tubes_mm,
            close_up_dioptres=gear.close_up_dioptres,
            teleconverter=gear.teleconverter,
            reversed=gear.reversed,
            stacked=None if gear.second_lens_mm is None else StackedLens(gear.second_lens_mm),
            native_working_distance_mm=gear.free_distance_mm,
        ),
        exposure=Exposure(),
        lights=(
            Light(
                name="flash", guide_number_m=gear.guide_number_m, power=power, angle_deg=75.0, clock=10.0,
                distance_mm=200.0, diffuser=diffuser,
            ),
        ),
        cards=(Card(angle_deg=70.0, clock=4.0, distance_mm=120.0),),
        ambient=Ambient(illuminance_lx=gear.room_lx),
        backdrop=Backdrop(),
    )  # fmt: skip


def template_text(scene: Scene | None = None) -> str:
    """The commented scene file; it loads as the scene, `template_scene` when None."""
    return HEADER + "\n" + brief_toml(scene or template_scene(), MATTERS)
