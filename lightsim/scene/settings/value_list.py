"""Lists of a quantity's values, from text such as "8,11,16" or "0:180:15"."""

from __future__ import annotations

from collections.abc import Iterable
from math import floor, isfinite

from lightsim.errors import LightsimError
from lightsim.scene.file.typed_number import NotTyped
from lightsim.scene.settings.quantity import Quantity

MOST_VALUES = 720
MOST_COUNTED = 1e9  # a message does not tell larger counts

Values = str | float | Iterable[float | str]


def values_of(value: Values, quantity: Quantity) -> tuple[float, ...]:
    """Checked values from text, a number or numbers."""
    if isinstance(value, str):
        return parse_values(value, quantity)
    several = [value] if isinstance(value, int | float) else list(value)
    numbers = [quantity.number(each) if isinstance(each, str) else float(each) for each in several]
    return tidy_values(numbers, quantity)


def parse_values(text: str, quantity: Quantity) -> tuple[float, ...]:
    """Values from text: numbers and start:stop:step ranges (the stop included), parted by commas.

    The step of a setting that is marked in stops is in stops: "8:22:1" is f/8, f/11, f/16, f/22.
    Returns them without repeats, in ascending order where the quantity has one.
    Raises LightsimError for anything else, and for a value that is not allowed.
    """
    values: list[float] = []
    for part in text.split(","):
        values += _range(part, quantity) if _is_range(part, quantity) else [_number(part, quantity)]
    return tidy_values(values, quantity)


def _is_range(text: str, quantity: Quantity) -> bool:
    """Whether a part is a range; a clock position of 9:30 is none."""
    return ":" in text and not (quantity.name == "clock" and text.count(":") == 1)


def tidy_values(values: Iterable[float], quantity: Quantity) -> tuple[float, ...]:
    """Checked values without repeats, in ascending order where the quantity has one."""
    once = dict.fromkeys(quantity.check(quantity.tidy(float(value))) for value in values)
    if not once:
        raise LightsimError(f"{quantity.option}: found no value, allowed {quantity.allowed()}")
    _require_few(len(once) - 1, quantity)
    return tuple(sorted(once)) if quantity.sorts else tuple(once)


def _number(text: str, quantity: Quantity) -> float:
    try:
        return quantity.parse(text)
    except NotTyped as error:
        meant = f" ({error.meant})" if error.meant else ""
        found = f"{quantity.option}: found {text.strip()!r}, allowed {_example(quantity)}{meant}"
        raise LightsimError(found) from None


def _example(quantity: Quantity) -> str:
    if quantity.is_switch:
        return "on, off, or both as on,off"
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
    if len(parts) != 3 or quantity.is_switch:
        allowed = _example(quantity) if quantity.is_switch else "a range start:stop:step"
        raise LightsimError(f"{quantity.option}: found {text.strip()!r}, allowed {allowed}")
    start, stop, step = (_number(part, quantity) for part in parts)
    if quantity.series is not None:
        return _stops_range(text, start, stop, step, quantity)
    if not all(map(isfinite, (start, stop, step))) or step == 0.0 or (stop - start) * step < 0.0:
        raise _leads_nowhere(text, quantity)
    count = _require_few((stop - start) / step + 1e-9, quantity)
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
    count = _require_few(abs(stops) / step + 1e-6, quantity)
    signed = (step if stops >= 0 else -step) * series.more_light / series.stops_per_octave
    return [first * 2.0 ** (signed * i) for i in range(count)]


def _require_few(steps: float, quantity: Quantity) -> int:
    """How many values so many steps make, the first included; LightsimError when they are too many."""
    if not steps < MOST_VALUES:
        found = f"{floor(steps) + 1}" if steps < MOST_COUNTED else "endlessly many"
        raise LightsimError(f"{quantity.option}: found {found} values, allowed up to {MOST_VALUES}")
    return floor(steps) + 1


def _leads_nowhere(text: str, quantity: Quantity) -> LightsimError:
    allowed = "a range whose step leads from start to stop"
    if quantity.series is not None:
        allowed = "a range start:stop:step with the step in stops, above 0"
    return LightsimError(f"{quantity.option}: found {text.strip()!r}, allowed {allowed}")
