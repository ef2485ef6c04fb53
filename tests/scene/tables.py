"""Scene tables for property tests, drawn from the scene's own table of keys."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from lightsim.scene.layout import Slot, slots
from lightsim.scene.records import (
    Ambient,
    Backdrop,
    Camera,
    Card,
    Drops,
    Exposure,
    Focus,
    Light,
    Petal,
    PlacedDrop,
)

TEXT = st.text(st.characters(exclude_categories=("Cs",)), max_size=20)
NAMES = st.text(st.characters(categories=("L", "N")), min_size=1, max_size=12)


def number(slot: Slot) -> st.SearchStrategy[Any]:
    """A number that a key allows."""
    rule = slot.rule
    if slot.kind == "whole":
        return st.integers(int(rule.low or 0), int(rule.high or 0))
    return st.floats(rule.low, rule.high, exclude_min=rule.above)


def value(slot: Slot) -> st.SearchStrategy[Any]:
    """A value that a key allows, as a scene file gives it."""
    if slot.kind == "flag":
        return st.booleans()
    if slot.kind == "text":
        return st.sampled_from(slot.rule.choices) if slot.rule.choices else TEXT
    if slot.kind == "numbers":
        return st.lists(number(slot), min_size=slot.length, max_size=slot.length)
    if slot.kind == "named number":
        return st.one_of(st.sampled_from(["key", "ambient"]), number(slot))
    return number(slot)


def table(record: type, *left_out: str, given: tuple[str, ...] = ()) -> st.SearchStrategy[dict[str, Any]]:
    """Any of a record's own keys with allowed values; `given` ones always."""
    plain = {key: slot for key, slot in slots(record).items() if slot.record is None and key not in left_out}
    must = {key: value(slot) for key, slot in plain.items() if key in given}
    may = {key: value(slot) for key, slot in plain.items() if key not in given}
    return st.fixed_dictionaries(must, optional=may)


@st.composite
def petals(draw: st.DrawFn) -> dict[str, Any]:
    """A petal built here, its triangles few enough, its light no more than all."""
    found = draw(table(Petal, "file", "form", "mesh_spacing_mm"))
    found["form"] = draw(st.sampled_from(["flat", "cupped", "ruffled", "saddle"]))
    found["mesh_spacing_mm"] = draw(st.floats(1.0, 50.0))
    for end in ("foot", "tip"):
        reflected = found.setdefault(f"reflectance_{end}", [0.5, 0.5, 0.5])
        found[f"transmittance_{end}"] = [(1.0 - r) * draw(st.floats(0.0, 1.0)) for r in reflected]
    return found


@st.composite
def lights(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Lights with names of their own and one output each, none of which looks at where it stands."""
    names = draw(st.lists(NAMES.filter(lambda name: name not in ("key", "ambient")), unique=True, max_size=3))
    outputs = ("guide_number_m", "intensity", "illuminance_lx", "power", "kind", "position_mm", "aim_mm")
    found = []
    for name in names:
        light = draw(table(Light, *outputs, "name")) | {"name": name}
        light["kind"] = draw(st.sampled_from(["flash", "continuous"]))
        ways = ["intensity", "guide_number_m" if light["kind"] == "flash" else "illuminance_lx"]
        key = draw(st.sampled_from(ways))
        light[key] = draw(value(slots(Light)[key]))
        if light["kind"] == "flash":
            light["power"] = draw(st.one_of(value(slots(Light)["power"]), st.sampled_from(["1/16", "1/1"])))
        light["distance_mm"] = draw(st.floats(1.0, 1e6))
        found.append(light)
    return found


@st.composite
def scene_tables(draw: st.DrawFn) -> dict[str, Any]:
    """A whole scene as a file gives it, allowed in every way."""
    placed = st.lists(table(PlacedDrop, given=("x_mm", "y_mm", "diameter_mm")), max_size=2)
    card = table(Card, "name", "position_mm", "aim_mm", "distance_mm")
    return {
        "about": draw(TEXT),
        "petal": draw(petals()),
        "drops": draw(table(Drops)) | {"placed": draw(placed)},
        "camera": draw(table(Camera)) | {"focus": draw(table(Focus))},
        "exposure": draw(table(Exposure)),
        "light": draw(lights()),
        "card": draw(st.lists(card, max_size=2)),
        "ambient": draw(table(Ambient)) | {"illuminance_lx": draw(st.floats(0.1, 1e5))},
        "backdrop": draw(table(Backdrop)),
    }
