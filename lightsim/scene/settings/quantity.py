"""What can be varied on a set: places and sizes of a light, and the camera's settings, with lists of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import floor, isfinite

from lightsim.errors import LightsimError
from lightsim.optics.marks import F_NUMBERS, FLASH_POWERS, ISO_SPEEDS, SHUTTER_TIMES, Series, parse_number
from lightsim.scene.file.keys import KEYS, Rule
from lightsim.scene.records import Camera, Exposure, Lens, Light

MOST_VALUES = 720
AT_THE_MARK_STOPS = 0.02  # a value that near to a mark is that mark


@dataclass(frozen=True)
class Quantity:
    """One thing that can be varied.

    name : "angle", "f_number" and so on.
    option : the command line's option.
    key, record : the scene file's key and the record that it is in, which also say what is allowed.
    label : words for captions and progress.
    unit : of its values as captions and tables have it: "deg", "clock", "mm", "f/", "power", "ISO", "s".
    stem : word for file names.
    series : the marks of a setting that goes in stops; a range of it steps in stops.
    sorts : whether the values have one natural order (clock positions go round, so they keep theirs).
    traces : what has to be traced again for another value: "view" (all), "light" (that light), "" (nothing).
    """

    name: str
    option: str
    key: str
    label: str
    unit: str
    stem: str
    record: type = Light
    series: Series | None = None
    sorts: bool = True
    traces: str = "light"

    @property
    def rule(self) -> Rule:
        """What the scene file says of the key."""
        return KEYS[self.record][self.key]

    @property
    def exposes(self) -> bool:
        """Whether it is a setting of the exposure."""
        return self.series is not None

    @property
    def changes_level(self) -> bool:
        """Whether the petal comes out brighter or darker for it: by the exposure, or by longer tubes."""
        return self.exposes or self.traces == "view"

    def check(self, value: float, option: str | None = None) -> float:
        """The value itself when it is allowed; LightsimError, which names the option, otherwise."""
        low, high = self._limits()
        above = value > low if self.rule.above else value >= low
        if not (isfinite(value) and above and value <= high):
            raise LightsimError(f"{option or self.option}: found {value:.7g}, allowed {self.allowed()}")
        return value

    def allowed(self) -> str:
        """The allowed values in words."""
        low, high = self._limits()
        start = f"above {low:.10g}" if self.rule.above else f"{low:.10g}"
        example = {"s": ', as "1/125"', "power": ', as "1/16"', "f/": ', as "f/11"'}.get(self.unit, "")
        return f"{start} to {high:.10g} {self.rule.unit}".rstrip() + example

    def _limits(self) -> tuple[float, float]:
        assert self.rule.low is not None
        assert self.rule.high is not None
        return self.rule.low, self.rule.high

    def number(self, text: str, option: str | None = None) -> float:
        """A checked value from text, such as "75", "f/11", "1/125" or "1/16 + 1/3"."""
        return self.check(self.tidy(_number(text, self, option)), option)

    def tidy(self, value: float) -> float:
        """Rounded free of noise; a number near a mark is what stands on the dial or, of a time or a power,
        what the mark means. Nought o'clock is twelve."""
        if self.series is not None:
            return _at_mark(value, self.series)
        value = round(value, 6)
        return 12.0 if self.name == "clock" and value == 0.0 else value

    def words(self, value: float) -> str:
        """A value with its name, for progress and messages: "angle 75", "f-number f/11"."""
        return f"{self.label} {value:g}" if self.series is None else f"{self.label} {mark_words(value, self)}"

    def file_stem(self, value: float) -> str:
        """Part of a frame's file name, such as angle-075, distance-250mm, f-08 or power-1-016."""
        if self.series is not None:
            return f"{self.stem}-{_mark_stem(value, self)}"
        number = f"{value:.4f}".rstrip("0").rstrip(".")
        whole, point, rest = number.partition(".")
        width = 2 if self.name == "clock" else 3
        unit = "mm" if self.unit.startswith("mm") else ""
        return f"{self.stem}-{whole.zfill(width)}{point}{rest}{unit}"


def _at_mark(value: float, series: Series) -> float:
    if not (isfinite(value) and value > 0):
        return value
    exact = series.exact(value)
    mark = series.nearest(exact)
    if abs(mark.rest_stops) > AT_THE_MARK_STOPS:
        return value
    marked = series.marked[series.labels.index(mark.label)]
    return mark.exact if series in (SHUTTER_TIMES, FLASH_POWERS) else marked


def mark_words(value: float, quantity: Quantity) -> str:
    """A setting as it stands on the dial; one between the marks as a number."""
    assert quantity.series is not None
    mark = quantity.series.nearest(quantity.series.exact(value))
    return mark.label if abs(mark.rest_stops) <= AT_THE_MARK_STOPS else f"{value:.4g}"


def _mark_stem(value: float, quantity: Quantity) -> str:
    """f/8 -> 08, 1/16 -> 1-016, 1/125 s -> 1-0125s, ISO 100 -> 00100; names then sort along the series."""
    label = mark_words(value, quantity)
    label = label.removeprefix("f/").removeprefix("ISO ").replace(" ", "")
    width = {"f/": 2, "power": 3, "s": 4, "ISO": 5}[quantity.unit]
    first, plus, third = label.partition("+")
    above, slash, below = first.partition("/")
    padded = f"{above}-{below.zfill(width)}" if slash else above.zfill(min(width, 2) if plus else width)
    if quantity.unit == "s":
        padded = f"{above}-{below.removesuffix('s').zfill(width)}s" if slash else above
    if quantity.unit == "f/":
        whole, point, rest = above.partition(".")
        padded = f"{whole.zfill(width)}{point}{rest}"
    return padded + (plus + third.replace("/", "-") if plus else "")


QUANTITIES: Mapping[str, Quantity] = {
    quantity.name: quantity
    for quantity in (
        Quantity("angle", "--angles", "angle_deg", "angle", "deg", "angle"),
        Quantity("clock", "--clock", "clock", "clock position", "clock", "clock", sorts=False),
        Quantity("distance", "--distance", "distance_mm", "distance", "mm", "distance"),
        Quantity("size", "--size", "width_mm", "size", "mm", "size"),
        Quantity("f_number", "--f-number", "f_number", "f-number", "f/", "f", Camera, F_NUMBERS,
                 traces="view"),
        Quantity("extension", "--extension", "extension_tubes_mm", "extension", "mm of tubes", "extension",
                 Lens, traces="view"),
        Quantity("power", "--power", "power", "power", "power", "power", Light, FLASH_POWERS, traces=""),
        Quantity("iso", "--iso", "iso", "ISO speed", "ISO", "iso", Exposure, ISO_SPEEDS, traces=""),
        Quantity("shutter", "--shutter", "shutter_s", "shutter", "s", "shutter", Exposure, SHUTTER_TIMES,
                 traces=""),
    )
}  # fmt: skip


def parse_values(text: str, quantity: Quantity) -> tuple[float, ...]:
    """Values from text: numbers and start:stop:step ranges (the stop included), parted by commas.

    The step of a setting that is marked in stops is in stops: "8:22:1" is f/8, f/11, f/16, f/22.
    Returns them without repeats, in ascending order where the quantity has one.
    Raises LightsimError for anything else, and for a value that is not allowed.
    """
    values: list[float] = []
    for part in text.split(","):
        values += _range(part, quantity) if ":" in part else [_number(part, quantity)]
    return tidy_values(values, quantity)


def tidy_values(values: Iterable[float], quantity: Quantity) -> tuple[float, ...]:
    """Checked values without repeats, in ascending order where the quantity has one."""
    once = dict.fromkeys(quantity.check(quantity.tidy(float(value))) for value in values)
    if not once:
        raise LightsimError(f"{quantity.option}: found no value, allowed {quantity.allowed()}")
    if len(once) > MOST_VALUES:
        raise LightsimError(f"{quantity.option}: found {len(once)} values, allowed up to {MOST_VALUES}")
    return tuple(sorted(once)) if quantity.sorts else tuple(once)


def _number(text: str, quantity: Quantity, option: str | None = None) -> float:
    try:
        return float(text)
    except ValueError:
        pass
    try:
        if quantity.series is not None:
            return parse_number(text)
    except (ValueError, OverflowError):
        pass
    raise LightsimError(f"{option or quantity.option}: found {text.strip()!r}, allowed {_example(quantity)}")


def _example(quantity: Quantity) -> str:
    shown = {
        "f/": ("8,11,16", "8:22:1 with the step in stops"),
        "power": ("1/64,1/16", "1/128:1/8:1 with the step in stops"),
        "ISO": ("100,400", "100:800:1 with the step in stops"),
        "s": ("1/250,1/60", "1/500:1/30:1 with the step in stops"),
    }
    numbers, steps = shown.get(quantity.unit, ("10,45,80", "0:180:15"))
    return f"numbers such as {numbers} or a range start:stop:step such as {steps}"


def _range(text: str, quantity: Quantity) -> list[float]:
    parts = text.split(":")
    if len(parts) != 3:
        raise LightsimError(f"{quantity.option}: found {text.strip()!r}, allowed a range start:stop:step")
    start, stop, step = (_number(part, quantity) for part in parts)
    if quantity.series is not None:
        return _stops_range(text, start, stop, step, quantity)
    if not all(map(isfinite, (start, stop, step))) or step == 0.0 or (stop - start) * step < 0.0:
        raise _leads_nowhere(text, quantity)
    count = floor((stop - start) / step + 1e-9) + 1
    _require_few(count, quantity)
    return [start + i * step for i in range(count)]


def _stops_range(text: str, start: float, stop: float, step: float, quantity: Quantity) -> list[float]:
    """Exact numbers so many stops apart, from one setting to another, whichever way that is."""
    series = quantity.series
    assert series is not None
    for value in (start, stop):
        quantity.check(value)
    if not (isfinite(step) and step > 0.0):
        raise _leads_nowhere(text, quantity)
    first, last = series.exact(start), series.exact(stop)
    stops = series.stops_between(first, last)
    count = floor(abs(stops) / step + 1e-6) + 1
    _require_few(count, quantity)
    signed = (step if stops >= 0 else -step) * series.more_light / series.stops_per_octave
    return [first * 2.0 ** (signed * i) for i in range(count)]


def _require_few(count: int, quantity: Quantity) -> None:
    if count > MOST_VALUES:
        raise LightsimError(f"{quantity.option}: found {count} values, allowed up to {MOST_VALUES}")


def _leads_nowhere(text: str, quantity: Quantity) -> LightsimError:
    allowed = "a range whose step leads from start to stop"
    if quantity.series is not None:
        allowed = "a range start:stop:step with the step in stops, above 0"
    return LightsimError(f"{quantity.option}: found {text.strip()!r}, allowed {allowed}")
