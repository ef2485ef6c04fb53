"""Trading: hold an exposure and change one thing for another.

An exposure has two parts. The flash's rests on power, diffuser, distance, f-number and ISO; the room
light's on its illuminance, the shutter, f-number and ISO. All numbers are exact ones (`marks`), so a stop is
a factor of two throughout. N^2/t = E S/C for the room's part, N = GN sqrt(power) sqrt(S/100)/d for the
flash's: ISO 2720:1974, ISO 1230:2007; N is the effective f-number.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf, log2, pi, sqrt

from lightsim.optics.radiometry import centred_rectangle_factor

FLASH, ROOM = "flash", "room"

# What can be solved for, and the parts of the exposure that it moves.
MOVES: dict[str, tuple[str, ...]] = {
    "power": (FLASH,),
    "distance": (FLASH,),
    "iso": (FLASH, ROOM),
    "shutter": (ROOM,),
    "f-number": (FLASH, ROOM),
}


@dataclass(frozen=True)
class FaceSize:
    """Size of a flash's glowing face; width_mm is the diameter when round, inner_mm a ring's inner one.

    Size 0 is a point.
    """

    width_mm: float
    height_mm: float
    round: bool = False
    inner_mm: float = 0.0

    @property
    def area_m2(self) -> float:
        """Area."""
        if self.round:
            return 1e-6 * pi / 4 * (self.width_mm**2 - self.inner_mm**2)
        return 1e-6 * self.width_mm * self.height_mm

    def lx_per_cd(self, distance_mm: float) -> float:
        """Light on its axis, facing it, per candela: d^2/((d^2 + R^2)(d^2 + r^2)) for a ring of the radii r
        and R (a disc: r = 0), pi F/A for a rectangle.

        F by `radiometry`; both come to the inverse square 1/d^2 far away, and stay below it close up.
        """
        if self.area_m2 == 0.0:
            return 1e6 / distance_mm**2
        if self.round:
            square, inner, outer = distance_mm**2, (self.inner_mm / 2) ** 2, (self.width_mm / 2) ** 2
            return 1e6 * square / ((square + outer) * (square + inner))
        factor = centred_rectangle_factor(self.width_mm, self.height_mm, distance_mm)
        return pi * factor / self.area_m2

    def distance_mm(self, lx_per_cd: float) -> float | None:
        """Where it gives that much, mm; None when it cannot, however near: no more than pi/A."""
        far = 1e3 / sqrt(lx_per_cd)
        if self.area_m2 == 0.0:
            return far
        if lx_per_cd >= pi / self.area_m2:
            return None
        if self.round and self.inner_mm == 0.0:
            return sqrt(far**2 - (self.width_mm / 2) ** 2)
        return self._rectangle_distance_mm(lx_per_cd, far)

    def _rectangle_distance_mm(self, lx_per_cd: float, far: float) -> float:
        from scipy.optimize import brentq

        def excess(log_distance: float) -> float:
            return log2(self.lx_per_cd(2.0**log_distance) / lx_per_cd)

        low = log2(far)
        while excess(low) < 0.0:
            low -= 1.0
        return 2.0 ** float(brentq(excess, low, log2(far) + 1e-9, xtol=1e-13)) if low < log2(far) else far

    def near_loss_stops(self, distance_mm: float) -> float:
        """Stops by which its light falls short of the inverse square, at most 0."""
        return log2(self.lx_per_cd(distance_mm) * distance_mm**2 * 1e-6)


@dataclass(frozen=True)
class Settings:
    """All that an exposure rests on, in exact numbers.

    light_lost_stops : to extension, from the lens train.  diffuser_stops : what a diffuser takes.
    least_effective : effective f-number that another stop than the lens's leaves, however wide the lens is
        opened; 0 where there is none.
    room_lx : at the subject; any number over 0 where the room is dark, since only changes count here.
    """

    f_number: float
    iso: float
    shutter_s: float
    power: float = 1.0
    distance_mm: float = 1000.0
    face: FaceSize = FaceSize(0.0, 0.0)
    diffuser_stops: float = 0.0
    light_lost_stops: float = 0.0
    least_effective: float = 0.0
    room_lx: float = 1.0

    @property
    def effective_f_number(self) -> float:
        """The f-number by which the sensor is lit."""
        return max(self.f_number * 2.0 ** (self.light_lost_stops / 2), self.least_effective)

    def level_stops(self, part: str) -> float:
        """log2 of that part of the exposure; only differences mean anything."""
        if part == FLASH:
            light = log2(self.power * self.face.lx_per_cd(self.distance_mm)) - self.diffuser_stops
        else:
            light = log2(self.room_lx * self.shutter_s)
        return light + log2(self.iso) - 2 * log2(self.effective_f_number)

    def value(self, name: str) -> float:
        """What it has of one of `MOVES`."""
        return float(getattr(self, _FIELDS[name]))

    def with_value(self, name: str, value: float) -> Settings:
        """The same but for one of `MOVES`."""
        return replace(self, **{_FIELDS[name]: value})  # type: ignore[arg-type]


_FIELDS = {
    "power": "power",
    "distance": "distance_mm",
    "iso": "iso",
    "shutter": "shutter_s",
    "f-number": "f_number",
}


def change_stops(before: Settings, after: Settings, part: str) -> float:
    """Stops that a part of the exposure gains."""
    return after.level_stops(part) - before.level_stops(part)


def change_by_stops(settings: Settings, name: str, part: str, stops: float) -> Settings | None:
    """The settings with the one thing changed so that the part gains so many stops.

    None where no distance is near enough. ValueError where the thing does not move that part.
    """
    if part not in MOVES[name]:
        raise ValueError(f"{name} does not move the {part}'s part of the exposure")
    if name == "distance":
        wanted = settings.face.lx_per_cd(settings.distance_mm) * 2.0**stops
        distance = settings.face.distance_mm(wanted)
        return None if distance is None else settings.with_value(name, distance)
    if name == "f-number":
        wanted = settings.effective_f_number * 2.0 ** (-stops / 2)
        return settings.with_value(name, wanted * 2.0 ** (-settings.light_lost_stops / 2))
    return settings.with_value(name, settings.value(name) * 2.0**stops)


def lighting_ratio(key: float, fill: float) -> float:
    """(key + fill) : fill, the two given in one unit of light on the subject; inf without any fill."""
    return inf if fill <= 0.0 else (key + fill) / fill
