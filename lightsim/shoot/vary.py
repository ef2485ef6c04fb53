"""What a sweep varies: one quantity of one light, over a list of values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from math import floor, hypot, isfinite

from lightsim.errors import LightsimError
from lightsim.scene.faces import angle_and_clock, position
from lightsim.scene.keys import KEYS
from lightsim.scene.records import Light, Scene

MOST_VALUES = 720


@dataclass(frozen=True)
class Quantity:
    """One thing of a light that can be varied.

    name : "angle", "clock", "distance" or "size"; file names and option names come from it.
    option : the command line's option.
    key : the scene file's key, which also says what is allowed.
    label : words for captions and progress.
    unit : of its values as captions and tables have it, "deg", "clock" or "mm".
    sorts : whether the values have one natural order (clock positions go round, so they keep theirs).
    """

    name: str
    option: str
    key: str
    label: str
    unit: str
    sorts: bool = True

    def check(self, value: float, option: str | None = None) -> float:
        """The value itself when it is allowed; LightsimError, which names the option, otherwise."""
        low, high = self._limits()
        above = value > low if KEYS[Light][self.key].above else value >= low
        if not (isfinite(value) and above and value <= high):
            raise LightsimError(f"{option or self.option}: found {value:g}, allowed {self.allowed()}")
        return value

    def allowed(self) -> str:
        """The allowed values in words."""
        rule, (low, high) = KEYS[Light][self.key], self._limits()
        start = f"above {low:g}" if rule.above else f"{low:g}"
        return f"{start} to {high:.7g} {rule.unit}"

    def _limits(self) -> tuple[float, float]:
        rule = KEYS[Light][self.key]
        assert rule.low is not None
        assert rule.high is not None
        return rule.low, rule.high

    def file_stem(self, value: float) -> str:
        """Name of a frame's file without its suffix, such as angle-075 or distance-250mm."""
        number = f"{value:.4f}".rstrip("0").rstrip(".")
        whole, point, rest = number.partition(".")
        width = 2 if self.name == "clock" else 3
        unit = "mm" if self.unit == "mm" else ""
        return f"{self.name}-{whole.zfill(width)}{point}{rest}{unit}"


QUANTITIES: Mapping[str, Quantity] = {
    "angle": Quantity("angle", "--angles", "angle_deg", "angle", "deg"),
    "clock": Quantity("clock", "--clock", "clock", "clock position", "clock", sorts=False),
    "distance": Quantity("distance", "--distance", "distance_mm", "distance", "mm"),
    "size": Quantity("size", "--size", "width_mm", "size", "mm"),
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
    once = dict.fromkeys(_tidy(quantity.check(round(float(value), 6)), quantity) for value in values)
    if not once:
        raise LightsimError(f"{quantity.option}: found no value, allowed {quantity.allowed()}")
    if len(once) > MOST_VALUES:
        raise LightsimError(f"{quantity.option}: found {len(once)} values, allowed up to {MOST_VALUES}")
    return tuple(sorted(once)) if quantity.sorts else tuple(once)


def _tidy(value: float, quantity: Quantity) -> float:
    """Nought o'clock is twelve."""
    return 12.0 if quantity.name == "clock" and value == 0.0 else value


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
    angle, clock = angle_and_clock(position(light))
    return replace(
        light, position_mm=None, angle_deg=angle, clock=clock, distance_mm=hypot(*light.position_mm)
    )


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
