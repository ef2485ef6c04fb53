"""What a sweep varies: one quantity of one light, over a list of values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from math import acos, atan2, degrees, floor, hypot, isfinite

from lightsim.errors import LightsimError
from lightsim.scene.records import Light, Scene

MOST_VALUES = 720


@dataclass(frozen=True)
class Quantity:
    """One thing of a light that can be varied.

    name : "angle", "clock", "distance" or "size"; file names and option names come from it.
    option : the command line's option.
    unit : unit of its values, "" for none.
    label : words for captions and axes.
    least, most : the allowed values; `least` itself is allowed only when includes_least.
    sorts : whether the values have one natural order (clock positions go round, so they keep theirs).
    """

    name: str
    option: str
    unit: str
    label: str
    least: float
    most: float
    includes_least: bool = True
    sorts: bool = True

    def check(self, value: float) -> float:
        """The value itself when it is allowed; LightsimError otherwise."""
        above = value >= self.least if self.includes_least else value > self.least
        if not (isfinite(value) and above and value <= self.most):
            raise LightsimError(f"{self.option}: found {value:g}, allowed {self.allowed()}")
        return value

    def allowed(self) -> str:
        """The allowed values in words."""
        unit = f" {self.unit}" if self.unit else ""
        start = f"{self.least:g}" if self.includes_least else f"above {self.least:g}"
        return f"{start} to {self.most:g}{unit}"

    def file_stem(self, value: float) -> str:
        """Name of a frame's file without its suffix, such as angle-075 or distance-250mm."""
        number = f"{value:.4f}".rstrip("0").rstrip(".")
        whole, point, rest = number.partition(".")
        width = 2 if self.name == "clock" else 3
        unit = self.unit if self.unit == "mm" else ""
        return f"{self.name}-{whole.zfill(width)}{point}{rest}{unit}"


QUANTITIES: Mapping[str, Quantity] = {
    "angle": Quantity("angle", "--angles", "deg", "angle off the lens axis", 0.0, 180.0),
    "clock": Quantity("clock", "--clock", "o'clock", "clock position", 0.0, 12.0, False, sorts=False),
    "distance": Quantity("distance", "--distance", "mm", "distance", 0.0, 100_000.0, False),
    "size": Quantity("size", "--size", "mm", "size of the light", 0.0, 100_000.0, False),
}


def parse_values(text: str, quantity: Quantity) -> tuple[float, ...]:
    """Values from text: numbers and start:stop:step ranges (the stop included), parted by commas.

    Returns them without repeats, in ascending order where the quantity has one.
    Raises LightsimError for anything else, and for a value that is not allowed.
    """
    values: list[float] = []
    for part in text.split(","):
        values += _range(part, quantity) if ":" in part else [_number(part, quantity)]
    return tidy_values(values, quantity)


def tidy_values(values: Iterable[float], quantity: Quantity) -> tuple[float, ...]:
    """Checked values without repeats, in ascending order where the quantity has one."""
    once = dict.fromkeys(quantity.check(round(float(value), 6)) for value in values)
    if not once:
        raise LightsimError(f"{quantity.option}: found no value, allowed {quantity.allowed()}")
    if len(once) > MOST_VALUES:
        raise LightsimError(f"{quantity.option}: found {len(once)} values, allowed up to {MOST_VALUES}")
    return tuple(sorted(once)) if quantity.sorts else tuple(once)


def _number(text: str, quantity: Quantity) -> float:
    try:
        return float(text)
    except ValueError:
        raise LightsimError(
            f"{quantity.option}: found {text.strip()!r}, allowed numbers such as 10,45,80 "
            "or a range start:stop:step such as 0:180:15"
        ) from None


def _range(text: str, quantity: Quantity) -> list[float]:
    parts = text.split(":")
    if len(parts) != 3:
        raise LightsimError(f"{quantity.option}: found {text.strip()!r}, allowed a range start:stop:step")
    start, stop, step = (_number(part, quantity) for part in parts)
    if not all(map(isfinite, (start, stop, step))) or step == 0.0 or (stop - start) * step < 0.0:
        raise LightsimError(
            f"{quantity.option}: found {text.strip()!r}, allowed a range whose step leads from start to stop"
        )
    count = floor((stop - start) / step + 1e-9) + 1
    if count > MOST_VALUES:
        raise LightsimError(f"{quantity.option}: found {count} values, allowed up to {MOST_VALUES}")
    return [start + i * step for i in range(count)]


def light_named(scene: Scene, name: str | None) -> Light:
    """The light of that name, the key when None. LightsimError names those there are."""
    if not scene.lights:
        raise LightsimError("the scene has no light to move, only ambient")
    if name is None:
        return scene.lights[0]
    for light in scene.lights:
        if light.name == name:
            return light
    names = [light.name for light in scene.lights]
    close = get_close_matches(name, names, 1)
    hint = f"; did you mean {close[0]!r}?" if close else ""
    raise LightsimError(f"--light: found {name!r}, allowed {', '.join(names)}{hint}")


def placed_by_angle(light: Light) -> Light:
    """The same light in the same place, given by angle, clock position and distance."""
    if light.position_mm is None:
        return light
    x, y, z = light.position_mm
    distance = hypot(x, y, z)
    angle = degrees(acos(max(-1.0, min(1.0, z / distance)))) if distance > 0.0 else 0.0
    clock = (degrees(atan2(x, y)) / 30.0) % 12.0 or 12.0
    return replace(light, position_mm=None, angle_deg=angle, clock=clock, distance_mm=distance)


def change_light(light: Light, changes: Mapping[str, float]) -> Light:
    """The light with some of angle, clock, distance and size changed, its output kept.

    A size is the face's width (a round one's diameter); its height follows in proportion. Output given
    as an illuminance at the subject is what it was at the old distance: I = E d^2 (inverse-square law).
    """
    light = placed_by_angle(light) if changes.keys() & {"angle", "clock", "distance"} else light
    if "distance" in changes and light.illuminance_lx is not None:
        candela = light.illuminance_lx * (light.distance_mm / 1000.0) ** 2
        light = replace(light, illuminance_lx=None, intensity=candela)
    if "size" in changes:
        height = light.height_mm * changes["size"] / light.width_mm
        light = replace(light, width_mm=changes["size"], height_mm=height)
    keys = {"angle": "angle_deg", "clock": "clock", "distance": "distance_mm"}
    return replace(light, **{keys[name]: value for name, value in changes.items() if name in keys})  # type: ignore[arg-type]


def change_scene(scene: Scene, light_name: str, changes: Mapping[str, float]) -> Scene:
    """The scene with one light changed as `change_light` does."""
    lights = tuple(change_light(it, changes) if it.name == light_name else it for it in scene.lights)
    return replace(scene, lights=lights)


def value_of(light: Light, quantity: Quantity) -> float:
    """What the light has now of the quantity."""
    light = placed_by_angle(light)
    values = {
        "angle": light.angle_deg,
        "clock": light.clock,
        "distance": light.distance_mm,
        "size": light.width_mm,
    }
    return values[quantity.name]
