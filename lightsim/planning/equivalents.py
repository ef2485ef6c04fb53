"""Equivalent settings: one thing changed to give an exposure so many stops, and whether gear reaches it."""

from __future__ import annotations

from dataclasses import dataclass
from math import log2

from lightsim.optics.marks import F_NUMBERS, FLASH_POWERS, ISO_SPEEDS, SHUTTER_TIMES, Series
from lightsim.optics.trade import FLASH, MOVES, Settings, change_by_stops, change_stops
from lightsim.report.words import fixed, plain

SERIES: dict[str, Series] = {
    "power": FLASH_POWERS,
    "iso": ISO_SPEEDS,
    "shutter": SHUTTER_TIMES,
    "f-number": F_NUMBERS,
}

# What most cameras, lenses and flashes can be set to. Common practice, no source.
LEAST_POWER, USUAL_LEAST_POWER = 1 / 256, 1 / 128
ISO_RANGE = (50.0, 25600.0)
SHUTTER_RANGE_S = (1 / 8192, 32.0)  # marked 1/8000 and 30 s
WIDEST_F_NUMBER, SMALLEST_F_NUMBER = 1.0, 32.0
NEAREST_MM, FARTHEST_MM = 30.0, 5000.0
_SLACK_STOPS = 1e-6


@dataclass(frozen=True)
class EquivalentSetting:
    """One thing changed so that a part of the exposure gains some stops.

    name : one of `optics.trade.MOVES`.  value : exact; None where no distance is near enough.
    label : as it is marked, with the rest in stops.  mark : the mark alone.  rest_stops : what is left over.
    over_stops : stops of light by which it is out of reach, 0 within.  note : what is to be known about it.
    """

    name: str
    value: float | None
    label: str
    mark: str
    rest_stops: float
    over_stops: float = 0.0
    note: str = ""

    @property
    def within_reach(self) -> bool:
        """Whether usual gear can be set so."""
        return self.value is not None and self.over_stops == 0.0

    def as_dict(self) -> dict[str, object]:
        """Units in the keys."""
        keys = {"distance": "distance_mm", "shutter": "shutter_s", "f-number": "f_number"}
        return {
            "change": self.name,
            keys.get(self.name, self.name): self.value,
            "mark": self.mark,
            "rest_stops": self.rest_stops,
            "label": self.label,
            "within_reach": self.within_reach,
            "over_stops": self.over_stops,
            "note": self.note,
        }


def equivalent_setting(
    settings: Settings, name: str, part: str, stops: float, widest: float | None = None
) -> EquivalentSetting:
    """The value of one setting that gives a part so many stops.

    widest : the lens's own widest f-number, exact.
    """
    found = change_by_stops(settings, name, part, stops)
    if found is None:
        return EquivalentSetting(
            name, None, "nowhere", "", 0.0, stops, "the face is too weak, however near it stands"
        )
    value = found.value(name)
    label, mark, rest = mark_and_rest(name, value)
    over, note = _reach(name, value, widest, settings, found)
    return EquivalentSetting(name, value, label, mark, rest, over, note)


def equivalent_settings(
    settings: Settings,
    part: str,
    stops: float,
    without: tuple[str, ...] = (),
    widest: float | None = None,
) -> list[EquivalentSetting]:
    """Every setting that gives a part so many stops, some left out."""
    names = [name for name, parts in MOVES.items() if part in parts and name not in without]
    return [equivalent_setting(settings, name, part, stops, widest) for name in names]


def mark_and_rest(name: str, value: float) -> tuple[str, str, float]:
    """A value with its rest in words, its mark alone, and the rest in stops; a distance is as it is."""
    if name == "distance":
        text = f"{plain(value, 0)} mm"
        return text, text, 0.0
    series = SERIES[name]
    mark = series.nearest(value)
    if abs(mark.rest_stops) > 0.5:  # beyond the marks
        sign = "+" if mark.rest_stops > 0 else "−"
        label = f"{mark.label} {sign} {fixed(abs(mark.rest_stops), 1)} stops"
        return label, mark.label, mark.rest_stops
    return series.label(value).replace(" - ", " − "), mark.label, mark.rest_stops


def _reach(
    name: str, value: float, widest: float | None, before: Settings, after: Settings
) -> tuple[float, str]:
    """Stops by which a value is out of reach, and a note."""
    if name == "power":
        return _power_reach(value)
    if name == "iso":
        low, high = ISO_RANGE
        return _outside(value, low, high, f"under ISO {low:g}", f"over ISO {high:g}")
    if name == "shutter":
        low, high = SHUTTER_RANGE_S
        return _outside(value, low, high, "shorter than 1/8000 s", "longer than 30 s")
    if name == "f-number":
        short = -2 * log2(value * 2.0 ** (after.light_lost_stops / 2) / after.effective_f_number)
        if short > _SLACK_STOPS:
            return short, f"the second lens is the stop and leaves {fixed(short, 1)} stops less"
        return _f_number_reach(value, widest)
    over = abs(change_stops(before, after, FLASH))
    if value < NEAREST_MM:
        return over, f"nearer than {NEAREST_MM:g} mm"
    return (over, f"farther than {FARTHEST_MM / 1000:g} m") if value > FARTHEST_MM else (0.0, "")


def _power_reach(value: float) -> tuple[float, str]:
    over = log2(value)
    if over > _SLACK_STOPS:
        return over, f"over full power by {fixed(over, 1)} stops"
    under = log2(LEAST_POWER / value)
    if under > _SLACK_STOPS:
        return under, f"under 1/256 by {fixed(under, 1)} stops"
    if value < USUAL_LEAST_POWER * 2.0**-_SLACK_STOPS:
        return 0.0, "under 1/128: for flashes that go down to 1/256"
    return 0.0, ""


def _outside(value: float, low: float, high: float, below: str, above: str) -> tuple[float, str]:
    under, over = log2(low / value), log2(value / high)
    if under > _SLACK_STOPS:
        return under, f"{below} by {fixed(under, 1)} stops"
    return (over, f"{above} by {fixed(over, 1)} stops") if over > _SLACK_STOPS else (0.0, "")


def _f_number_reach(value: float, widest: float | None) -> tuple[float, str]:
    low = WIDEST_F_NUMBER if widest is None else widest
    high = F_NUMBERS.exact(SMALLEST_F_NUMBER)
    under, over = 2 * log2(low / value), 2 * log2(value / high)
    if under > _SLACK_STOPS:
        return under, f"wider than {F_NUMBERS.label(low)} by {fixed(under, 1)} stops"
    if over > _SLACK_STOPS:
        return over, f"beyond f/{SMALLEST_F_NUMBER:g}, where most lenses end, by {fixed(over, 1)} stops"
    return 0.0, ""


def elsewhere(
    settings: Settings, part: str, stops: float, lacking: EquivalentSetting, widest: float | None
) -> list[str]:
    """What else would give those stops when one setting is out of reach, each with its number."""
    others = equivalent_settings(settings, part, stops, (lacking.name,), widest)
    said = [_as_words(each) for each in others if each.within_reach]
    if part == FLASH and lacking.name == "power":
        said += _about_head(settings, stops, lacking)
    return said


def _as_words(found: EquivalentSetting) -> str:
    names = {"iso": "", "shutter": "shutter ", "f-number": "", "distance": "the flash at ", "power": "power "}
    return names[found.name] + found.label


def _about_head(settings: Settings, stops: float, lacking: EquivalentSetting) -> list[str]:
    """What taking off or putting on a sheet or a grey filter would do."""
    if lacking.value is None:
        return []
    if lacking.value > 1.0:
        loss = settings.diffuser_stops
        if loss <= 0.0:
            return []
        left = lacking.over_stops - loss
        rest = "which is enough" if left <= 0 else f"{fixed(left, 1)} stops short of it"
        return [f"the diffuser off ({fixed(loss, 1)} stops more, {rest})"]
    return [f"a neutral density filter of {fixed(lacking.over_stops, 1)} stops over the flash"]
