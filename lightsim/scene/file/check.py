"""What must hold between the keys of a scene, beyond the range of each."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from lightsim.errors import SceneError
from lightsim.optics.colour import TEMPERATURE_RANGE_K
from lightsim.scene.camera import camera_geometry, lens_train
from lightsim.scene.faces import RING, at_the_lens, inner_width_mm, position
from lightsim.scene.file.messages import shown
from lightsim.scene.file.values import Problems, record_from_table, table_from_record
from lightsim.scene.petal.outline import triangles_needed
from lightsim.scene.records import Card, Light, Scene

MOST_TRIANGLES = 8_000_000
OUTPUTS = ("guide_number_m", "intensity", "illuminance_lx", "ev100")
NEAREST_AIM_MM = 1e-3
CHANNELS = ("red", "green", "blue")


@dataclass(frozen=True)
class Finding:
    """One thing wrong: where, the rest of the sentence, and the keys that it rests on."""

    where: str
    sentence: str
    rests_on: tuple[str, ...]


def check_scene(scene: Scene) -> Scene:
    """A scene made in Python, checked as a scene file is; SceneError says everything that is wrong.

    Returns an equal scene whose values have their records' own types (lists turned into tuples, text into
    paths).
    """
    return scene_from_table(table_from_record(scene), scene.path)


def scene_from_table(table: dict, path: str | Path | None = None) -> Scene:
    """A scene from nested tables, checked; SceneError says everything that is wrong."""
    problems = Problems()
    scene = record_from_table(Scene, table, "", "", problems)
    for rule in RULES:
        for finding in rule(scene):
            if not problems.about(*finding.rests_on):
                problems.add(finding.where, f"{finding.where}: {finding.sentence}")
    if problems.sentences:
        raise SceneError(problems.sentences, path)
    front_mm = camera_geometry(scene.camera, scene.lens).working_distance_mm
    lights = tuple(at_the_lens(light, front_mm) for light in scene.lights)
    return replace(scene, lights=lights, path=None if path is None else Path(path))


def _mesh_file(scene: Scene) -> Iterator[Finding]:
    petal, rests_on = scene.petal, ("petal.file", "petal.form")
    if petal.form == "mesh" and petal.file is None:
        yield Finding(
            "petal.file", 'found nothing, allowed with form = "mesh" the name of a mesh file', rests_on
        )
    if petal.form != "mesh" and petal.file is not None:
        found = f'found {shown(petal.file)} with form = "{petal.form}"'
        yield Finding("petal.file", f'{found}, allowed only with form = "mesh"', rests_on)


def _triangles(scene: Scene) -> Iterator[Finding]:
    petal = scene.petal
    if petal.form == "mesh":
        return
    needed = triangles_needed(petal.outline, petal.width_mm, petal.length_mm, petal.mesh_spacing_mm)
    if needed > MOST_TRIANGLES:
        yield Finding(
            "petal.mesh_spacing_mm",
            f"found {petal.mesh_spacing_mm:g} mm, which makes {needed:,} triangles, "
            f"allowed a spacing that makes at most {MOST_TRIANGLES:,}",
            ("petal.mesh_spacing_mm", "petal.width_mm", "petal.length_mm", "petal.outline", "petal.form"),
        )


def _shares(scene: Scene) -> Iterator[Finding]:
    """Light reflected and light let through add up to no more than all of it."""
    for end in ("foot", "tip"):
        keys = f"petal.reflectance_{end}", f"petal.transmittance_{end}"
        reflected = getattr(scene.petal, f"reflectance_{end}")
        through = getattr(scene.petal, f"transmittance_{end}")
        over = [
            f"found {r:g} in {channel} with {t:g} in transmittance_{end}, allowed a sum of at most 1"
            for channel, r, t in zip(CHANNELS, reflected, through, strict=True)
            if r + t > 1.0 + 1e-9
        ]
        if over:
            yield Finding(keys[0], over[0], keys)


def _outputs(scene: Scene) -> Iterator[Finding]:
    for number, light in enumerate(scene.lights):
        where = f"light[{number}]"
        given = [name for name in OUTPUTS if getattr(light, name) is not None]
        if len(given) != 1:
            found = " and ".join(given) if given else "no output"
            keys = tuple(f"{where}.{name}" for name in OUTPUTS)
            sentence = f"found {found}, allowed exactly one of {', '.join(OUTPUTS[:-1])} or {OUTPUTS[-1]}"
            yield Finding(where, sentence, keys)
        yield from _fitting_kind(light, where)


def _fitting_kind(light: Light, where: str) -> Iterator[Finding]:
    """Guide number and power belong to a flash, an illuminance to a continuous light."""
    wrong = {"illuminance_lx": light.illuminance_lx, "ev100": light.ev100}
    if light.kind == "continuous":
        power = None if light.power == 1.0 else light.power
        wrong = {"guide_number_m": light.guide_number_m, "power": power}
    here, there = (
        ("a flash", "a continuous light") if light.kind == "flash" else ("a continuous light", "a flash")
    )
    for key, value in wrong.items():
        if value is not None:
            place = f"{where}.{key}"
            yield Finding(
                place, f"found {value:g} for {here}, allowed for {there} only", (place, f"{where}.kind")
            )


def _names(scene: Scene) -> Iterator[Finding]:
    seen: dict[str, int] = {}
    for number, light in enumerate(scene.lights):
        place = f"light[{number}].name"
        if light.name == "ambient":
            yield Finding(
                place, 'found "ambient", allowed any other name (it means the room\'s light)', (place,)
            )
        if light.name == "key" and number > 0:
            yield Finding(
                place, 'found "key", allowed for the first light only (it means that one)', (place,)
            )
        if light.name in seen:
            first = f"light[{seen[light.name]}]"
            sentence = f"found {shown(light.name)} as in {first}, allowed a name of its own"
            yield Finding(place, sentence, (place, f"{first}.name"))
        seen.setdefault(light.name, number)


def _white_balance(scene: Scene) -> Iterator[Finding]:
    wanted = scene.exposure.white_balance
    known = list(dict.fromkeys(["key", "ambient", *(light.name for light in scene.lights)]))
    if isinstance(wanted, str) and wanted not in known:
        names, (low, high) = ", ".join(shown(name) for name in known), TEMPERATURE_RANGE_K
        rests_on = [f"light[{number}].name" for number in range(len(scene.lights))]
        yield Finding(
            "exposure.white_balance",
            f"found {shown(wanted)}, allowed {names} or a colour temperature from {low:g} to {high:g} K",
            ("exposure.white_balance", *rests_on),
        )


def _some_light(scene: Scene) -> Iterator[Finding]:
    if not scene.lights and scene.ambient.illuminance_lx == 0.0 and scene.ambient.ev100 is None:
        sentence = "found no light, allowed at least one [[light]], or an ambient.illuminance_lx above 0"
        yield Finding("light", sentence, ("light", "ambient"))


def _room_light(scene: Scene) -> Iterator[Finding]:
    ambient = scene.ambient
    if ambient.illuminance_lx is not None and ambient.ev100 is not None:
        keys = ("ambient.ev100", "ambient.illuminance_lx")
        sentence = f"found {ambient.ev100:g} beside illuminance_lx, allowed only one of the two"
        yield Finding(keys[0], sentence, keys)


def _lens(scene: Scene) -> Iterator[Finding]:
    """A lens train that can be, and sets the framing alone."""
    if scene.lens is None:
        return
    for key in ("field_width_mm", "working_distance_mm"):
        given, place = getattr(scene.camera, key), f"camera.{key}"
        if given is not None:
            sentence = f"found {given:g} beside a [lens] section, allowed without one only"
            yield Finding(place, sentence, (place, "lens"))
    try:
        lens_train(scene.camera, scene.lens)
    except SceneError as error:
        for problem in error.problems:
            place, _, sentence = problem.partition(": ")
            yield Finding(place, sentence, ("lens", "camera"))


def _aims(scene: Scene) -> Iterator[Finding]:
    """A face must not aim at its own place, which gives no direction."""
    things: list[tuple[str, Light | Card]] = [(f"light[{i}]", light) for i, light in enumerate(scene.lights)]
    things += [(f"card[{i}]", card) for i, card in enumerate(scene.cards)]
    for where, thing in things:
        gap = position(thing) - thing.aim_mm
        if float(gap @ gap) < NEAREST_AIM_MM**2:
            keys = tuple(
                f"{where}.{key}" for key in ("aim_mm", "position_mm", "angle_deg", "clock", "distance_mm")
            )
            sentence = f"found {shown(thing.aim_mm)}, where its own face stands, allowed any other point"
            yield Finding(keys[0], sentence, keys)


def _rings(scene: Scene) -> Iterator[Finding]:
    """A ring has a hole that is less than itself, and no diffuser."""
    for number, light in enumerate(scene.lights):
        keys = tuple(f"light[{number}].{key}" for key in ("inner_width_mm", "width_mm", "shape", "diffuser"))
        if light.shape != RING:
            if light.inner_width_mm is not None:
                found = f'found {light.inner_width_mm:g} with shape = "{light.shape}"'
                yield Finding(keys[0], f'{found}, allowed only with shape = "ring"', keys)
            continue
        if inner_width_mm(light) >= light.width_mm:
            found = f"found {inner_width_mm(light):g} beside width_mm {light.width_mm:g}"
            yield Finding(keys[0], f"{found}, allowed less than that", keys)
        if light.diffuser is not None:
            yield Finding(keys[3], 'found a diffuser with shape = "ring", allowed with other shapes', keys)


# To add a rule that ties keys together, write such a function and name it here.
RULES: tuple[Callable[[Scene], Iterator[Finding]], ...] = (
    _mesh_file,
    _triangles,
    _shares,
    _outputs,
    _names,
    _white_balance,
    _some_light,
    _room_light,
    _lens,
    _aims,
    _rings,
)
