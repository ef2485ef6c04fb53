"""The scene with other values of some quantities; every command changes a setting by this."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from lightsim.errors import LightsimError
from lightsim.scene.records import Scene
from lightsim.scene.settings.change_light import light_named
from lightsim.scene.settings.quantities import CHANGED_FIRST, OF_THE_LIGHT, QUANTITIES
from lightsim.scene.settings.value_list import Values, values_of


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
