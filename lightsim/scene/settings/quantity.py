"""One thing of a set that can be changed: its name, allowed values, and how they are read and written."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import isfinite

from lightsim.errors import LightsimError
from lightsim.optics.marks import FLASH_POWERS, SHUTTER_TIMES, Series
from lightsim.scene.file.keys import KEYS, Rule
from lightsim.scene.file.typed_number import NotTyped, meant_by_seconds, typed_number
from lightsim.scene.records import Scene

LEAST_MARKED = 1e-12  # smaller numbers, or larger than its inverse, lie nowhere near a mark
AT_THE_MARK_STOPS = 0.02  # a value that near to a mark is that mark
# beside the settings in stops
LEVEL_CHANGERS = ("extension", "close_up", "teleconverter", "reversed", "magnification", "diffuser", "room")
OFF, ON = 0.0, 1.0  # of what is put on or taken off


class Stack(float):
    """Several tubes or close-up lenses one behind the other: as a number their sum. parts : of each."""

    parts: tuple[float, ...]

    def __new__(cls, parts: Iterable[float]) -> Stack:
        """From the values of all, the one next to the subject or to the lens first, as in scene files."""
        several = tuple(parts)
        stack = super().__new__(cls, sum(several))
        stack.parts = several
        return stack


def parts_of(value: float) -> tuple[float, ...]:
    """What a value is made of, those that are 0 left out."""
    return tuple(part for part in (value.parts if isinstance(value, Stack) else (value,)) if part)


# scene, name of the light that is changed, value -> scene
Change = Callable[[Scene, str | None, float], Scene]


@dataclass(frozen=True)
class Quantity:
    """One thing that can be changed, by a sweep, a comparison or an option of a command.

    name : "angle", "f_number" and so on.
    option : the command line's option for a list of values; `single_option` takes its place for one value.
    label : words for progress and messages.
    unit : of its values as captions and tables have it: "deg", "clock", "mm", "f/", "power", "ISO", "s",
        "switch" for what is put on (1) or taken off (0).
    stem : word for file names.
    place : the record and the key of the scene file, which say what is allowed; None for a switch.
    change : makes the scene that has another value of it.
    traces : what has to be traced again for another value: "view" (all), "light" (that light), "" (nothing).
    of_light : whether it belongs to one light.
    series : the marks of a setting that goes in stops; a range of it steps in stops.
    sorts : whether the values have one natural order (clock positions go round, so they keep theirs).
    whole : whether its values are whole numbers.
    stacks : whether one value may be several things one behind the other, such as tubes of 36 and 12 mm.
    caption : how captions write a value, where its unit after it is not enough: "drops of {} mm".
    limits : take the place of the scene file's.
    about, example : for help texts: what it is, and a list of values.
    column : key of its values in rows of measures, where a frame's light and settings do not hold them.
    """

    name: str
    option: str
    label: str
    unit: str
    stem: str
    place: tuple[type, str] | None
    change: Change
    traces: str = "light"
    of_light: bool = False
    series: Series | None = None
    sorts: bool = True
    whole: bool = False
    stacks: bool = False
    caption: str = ""
    single_option: str = ""
    limits: tuple[float, float] | None = None
    about: str = ""
    example: str = ""
    column: str = ""

    @property
    def rule(self) -> Rule:
        """What the scene file says of the key."""
        if self.place is None:
            return Rule("on or off", low=OFF, high=ON)
        record, key = self.place
        return KEYS[record][key]

    @property
    def key(self) -> str:
        """The scene file's key; a switch's own name."""
        return self.name if self.place is None else self.place[1]

    @property
    def is_switch(self) -> bool:
        """Whether it is on or off."""
        return self.unit == "switch"

    @property
    def exposes(self) -> bool:
        """Whether it is a setting of the exposure."""
        return self.series is not None

    @property
    def changes_level(self) -> bool:
        """Whether the petal comes out brighter or darker for it whatever the light's place."""
        return self.exposes or self.name in LEVEL_CHANGERS

    @property
    def one_option(self) -> str:
        """The command line's option for a single value."""
        return self.single_option or self.option

    def check(self, value: float, option: str | None = None) -> float:
        """The value itself when it is allowed; LightsimError, which names the option, otherwise."""
        low, high = self._limits()
        above = value > low if self.rule.above else value >= low
        if not (isfinite(value) and above and value <= high) or (self.whole and value != round(value)):
            raise LightsimError(f"{option or self.option}: found {value:.7g}, allowed {self.allowed()}")
        return value

    def allowed(self) -> str:
        """The allowed values in words."""
        if self.is_switch:
            return "on, off"
        low, high = self._limits()
        start = f"above {low:.10g}" if self.rule.above else f"{low:.10g}"
        kind = "whole numbers " if self.whole else ""
        example = {"s": ', as "1/125"', "power": ', as "1/16"', "f/": ', as "f/11"'}.get(self.unit, "")
        return f"{kind}{start} to {high:.10g} {self.rule.unit}".rstrip() + example

    def _limits(self) -> tuple[float, float]:
        if self.limits is not None:
            return self.limits
        assert self.rule.low is not None
        assert self.rule.high is not None
        return self.rule.low, self.rule.high

    def number(self, text: str, option: str | None = None) -> float:
        """A checked value from text, such as "75", "f/11", "1/125", "1/16 + 1/3", "off", or "36,12" of what
        stacks."""
        option = option or self.one_option
        if self.stacks and "," in text:
            return Stack(self._one_number(part, text, option) for part in text.split(","))
        return self._one_number(text, text, option)

    def _one_number(self, text: str, whole: str, option: str) -> float:
        try:
            value = self.parse(text)
        except NotTyped as error:
            meant = f" ({error.meant})" if error.meant else ""
            allowed = f"{self.allowed()}{', or several with commas' if self.stacks else ''}"
            raise LightsimError(f"{option}: found {whole.strip()!r}, allowed {allowed}{meant}") from None
        return self.check(self.tidy(value), option)

    def parse(self, text: str) -> float:
        """A value from text, not checked. NotTyped for what is no number, or neither on nor off."""
        if self.is_switch:
            word = text.strip().lower()
            if word not in ("on", "off"):
                raise NotTyped
            return ON if word == "on" else OFF
        value = typed_number(text, self.rule.unit, self.rule.written)
        if self.unit == "s" and "/" not in text and "s" not in text.lower() and meant_by_seconds(value):
            raise NotTyped(meant_by_seconds(value))
        return value

    def tidy(self, value: float) -> float:
        """Rounded free of noise; a number near a mark is what stands on the dial or, of a time or a power,
        what the mark means. Nought o'clock is twelve."""
        if self.series is not None:
            return _at_mark(value, self.series)
        value = round(value, 6)
        return 12.0 if self.name == "clock" and value == 0.0 else value

    def text(self, value: float) -> str:
        """A value as an option takes it: "75", "f/11", "1/125 s", "off"."""
        if self.is_switch:
            return "on" if value == ON else "off"
        return f"{value:g}" if self.series is None else mark_words(value, self.series)

    def words(self, value: float) -> str:
        """A value with its name, for progress and messages: "angle 75", "f-number f/11"."""
        return f"{self.label} {self.text(value)}"

    def caption_of(self, value: float) -> str:
        """How captions write a value; "" where its unit after it is enough."""
        if self.is_switch:
            return self.words(value)
        return self.caption.format(f"{value:g}")

    def file_stem(self, value: float) -> str:
        """Part of a frame's file name, such as angle-075, distance-250mm, f-08 or power-1-016."""
        if self.is_switch:
            return f"{self.stem}-{self.text(value)}"
        if self.series is not None:
            return f"{self.stem}-{_mark_stem(mark_words(value, self.series), self.unit)}"
        number = f"{value:.4f}".rstrip("0").rstrip(".")
        whole, point, rest = number.partition(".")
        width = 2 if self.name == "clock" else 3
        unit = "mm" if self.unit.startswith("mm") else ""
        return f"{self.stem}-{whole.zfill(width)}{point}{rest}{unit}"


def _at_mark(value: float, series: Series) -> float:
    if not (LEAST_MARKED < value < 1.0 / LEAST_MARKED):
        return value
    exact = series.exact(value)
    mark = series.nearest(exact)
    if abs(mark.rest_stops) > AT_THE_MARK_STOPS:
        return value
    marked = series.marked[series.labels.index(mark.label)]
    return mark.exact if series in (SHUTTER_TIMES, FLASH_POWERS) else marked


def mark_words(value: float, series: Series) -> str:
    """A setting as it stands on the dial; one between the marks as a number."""
    mark = series.nearest(series.exact(value))
    return mark.label if abs(mark.rest_stops) <= AT_THE_MARK_STOPS else f"{value:.4g}"


def _mark_stem(label: str, unit: str) -> str:
    """f/8 -> 08, 1/16 -> 1-016, 1/125 s -> 1-0125s, ISO 100 -> 00100; names then sort along the series."""
    label = label.removeprefix("f/").removeprefix("ISO ").replace(" ", "")
    width = {"f/": 2, "power": 3, "s": 4, "ISO": 5}[unit]
    first, plus, third = label.partition("+")
    above, slash, below = first.partition("/")
    padded = f"{above}-{below.zfill(width)}" if slash else above.zfill(min(width, 2) if plus else width)
    if unit == "s":
        padded = f"{above}-{below.removesuffix('s').zfill(width)}s" if slash else above
    if unit == "f/":
        whole, point, rest = above.partition(".")
        padded = f"{whole.zfill(width)}{point}{rest}"
    return padded + (plus + third.replace("/", "-") if plus else "")
