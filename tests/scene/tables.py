"""Scene tables for property tests, drawn from the scene's own table of keys."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from lightsim.scene.file.layout import Slot, slots
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
    Motion,
    Noise,
    Petal,
    PlacedDrop,
)

TEXT = st.text(st.characters(exclude_categories=("Cs",)), max_size=20)
NAMES = st.text(st.characters(categories=("L", "N")), min_size=1, max_size=12)


def number(slot: Slot) -> st.SearchStrategy[Any]:
    """A number that a key allows."""
    rule = slot.rule
    if slot.kind in ("whole", "wholes"):
        return st.integers(int(rule.low or 0), int(rule.high or 0))
    return st.floats(rule.low, rule.high, exclude_min=rule.above)


def value(slot: Slot) -> st.SearchStrategy[Any]:
    """A value that a key allows, as a scene file gives it."""
    if slot.kind == "flag":
        return st.booleans()
    if slot.kind == "text":
        return st.sampled_from(slot.rule.choices) if slot.rule.choices else TEXT
    if slot.kind in ("numbers", "wholes"):
        return st.lists(number(slot), min_size=slot.length, max_size=slot.length or 4)
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
    outputs = ("guide_number_m", "intensity", "illuminance_lx", "ev100", "power", "kind")
    places, ring = ("position_mm", "aim_mm"), ("shape", "inner_width_mm")  # a ring fits few other keys
    found = []
    for name in names:
        light = draw(table(Light, *outputs, *places, *ring, "name")) | {"name": name}
        light["shape"] = draw(st.sampled_from(["rectangle", "round"]))
        light["kind"] = draw(st.sampled_from(["flash", "continuous"]))
        ways = ["guide_number_m"] if light["kind"] == "flash" else ["illuminance_lx", "ev100"]
        key = draw(st.sampled_from(["intensity", *ways]))
        light[key] = draw(value(slots(Light)[key]))
        if light["kind"] == "flash":
            light["power"] = draw(st.one_of(value(slots(Light)["power"]), st.sampled_from(["1/16", "1/1"])))
        light["distance_mm"] = draw(st.floats(1.0, 1e6))
        light |= draw(st.fixed_dictionaries({}, optional={"diffuser": table(Diffuser)}))
        found.append(light)
    return found


# Keys of a lens that drawn at random may leave the subject inside it, or no image.
_MAY_NOT_FIT = (
    "native_working_distance_mm",
    "native_focus_distance_mm",
    "focal_length_close_mm",
    "close_up_spacing_mm",
    "reversed",
    "stacked",
)


@st.composite
def cameras(draw: st.DrawFn) -> dict[str, Any]:
    """A camera framed by a field width, or by a lens train whose subject stands before its front."""
    framing = ("field_width_mm", "working_distance_mm")
    with_lens = draw(st.booleans())
    camera = draw(table(Camera, *(framing if with_lens else ()))) | {"focus": draw(table(Focus))}
    if not with_lens:
        return {"camera": camera}
    lens = draw(table(Lens, "widest_f_number", *_MAY_NOT_FIT))
    lens["native_magnification"] = draw(st.floats(0.01, 20.0))
    return {"camera": camera, "lens": lens}


@st.composite
def scene_tables(draw: st.DrawFn) -> dict[str, Any]:
    """A whole scene as a file gives it, allowed in every way."""
    placed = st.lists(table(PlacedDrop, given=("x_mm", "y_mm", "diameter_mm")), max_size=2)
    card = table(Card, "name", "position_mm", "aim_mm", "distance_mm")
    rooms = st.fixed_dictionaries({}, optional={"motion": table(Motion), "noise": table(Noise)})
    room = st.sampled_from(["illuminance_lx", "ev100"])
    return {
        "about": draw(TEXT),
        "petal": draw(petals()),
        "drops": draw(table(Drops)) | {"placed": draw(placed)},
        **draw(cameras()),
        "exposure": draw(table(Exposure)),
        "light": draw(lights()),
        "card": draw(st.lists(card, max_size=2)),
        "ambient": draw(table(Ambient, "illuminance_lx", "ev100")) | {draw(room): draw(st.floats(0.1, 30.0))},
        "backdrop": draw(table(Backdrop)),
        **draw(rooms),
    }
