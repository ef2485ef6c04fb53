"""One trade: settings changed, and the exposure held by one thing more."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import log2
from typing import Any

from lightsim.errors import LightsimError
from lightsim.optics.exposure_values import MID_TONE
from lightsim.optics.trade import FLASH, MOVES, ROOM, Settings, change_stops
from lightsim.planning.equivalents import (
    EquivalentSetting,
    elsewhere,
    equivalent_setting,
    equivalent_settings,
)
from lightsim.planning.levels import Levels, level_figures, settings_of, stops_above
from lightsim.planning.planned import Planned, scaled
from lightsim.scene.file.check import check_scene
from lightsim.scene.records import Light, Scene
from lightsim.scene.settings.change_light import light_named
from lightsim.scene.settings.quantities import QUANTITIES, change_scene

PARTS = (FLASH, ROOM)


@dataclass(frozen=True)
class FlashTrade:
    """One flash: what was given changes its part by given_stops; in the end it has after_stops more.

    solved : its own power or distance, where that is solved for.
    """

    name: str
    given_stops: float
    after_stops: float
    solved: EquivalentSetting | None

    def as_dict(self) -> dict[str, Any]:
        """All of it."""
        solved = None if self.solved is None else self.solved.as_dict()
        stops = {"given_stops": self.given_stops, "after_stops": self.after_stops}
        return {"name": self.name, **stops, "solved": solved}


@dataclass(frozen=True)
class Trade:
    """Settings changed from a planned scene.

    held : the part that is held.  to_mid_tone : whether the petal is brought to the mid-tone instead.
    given : the settings as changed.  after : with what was solved for.
    solved : the setting that was solved for, None when none was; others : all equivalent settings then.
    elsewhere : what else would do where that setting is out of reach.
    scene : as it is in the end; None where it cannot be set so.
    """

    planned: Planned
    held: str
    to_mid_tone: bool
    given: Settings
    after: Settings
    solved: EquivalentSetting | None
    others: tuple[EquivalentSetting, ...]
    elsewhere: tuple[str, ...]
    flashes: tuple[FlashTrade, ...]
    scene: Scene | None

    def given_stops(self, part: str) -> float:
        """Stops that a part gains by what was given."""
        return change_stops(self.planned.settings, self.given, part)

    def after_stops(self, part: str) -> float:
        """Stops that a part gains in the end."""
        return change_stops(self.planned.settings, self.after, part)

    @property
    def levels(self) -> Levels:
        """The petal's levels in the end."""
        found = scaled(self.planned.levels, 0.0, self.after_stops(ROOM))
        gains = {flash.name: 2.0**flash.after_stops for flash in self.flashes}
        by_light = {name: level * gains.get(name, 1.0) for name, level in found.by_light.items()}
        return replace(found, by_light=by_light)

    def as_dict(self) -> dict[str, Any]:
        """All numbers, units in the keys."""
        parts = (ROOM,) if self.planned.flash is None else PARTS
        return {
            "held": self.held,
            "to_mid_tone": self.to_mid_tone,
            "given_stops": {part: self.given_stops(part) for part in parts},
            "after_stops": {part: self.after_stops(part) for part in parts},
            "settings_after": traded_settings(self.after, self.planned),
            "levels_after": level_figures(self.levels),
            "solved": None if self.solved is None else self.solved.as_dict(),
            "flashes": [flash.as_dict() for flash in self.flashes],
            "equivalents": [other.as_dict() for other in self.others],
            "what_else_would_do": list(self.elsewhere),
        }


def traded_settings(settings: Settings, plan: Planned) -> dict[str, Any]:
    """Settings of a planned scene, units in the keys."""
    found: dict[str, Any] = {
        "f_number": QUANTITIES["f_number"].tidy(settings.f_number),
        "exact_f_number": settings.f_number,
        "effective_f_number": settings.effective_f_number,
        "iso": settings.iso,
        "shutter_s": settings.shutter_s,
        "room_light_lx": settings.room_lx if plan.levels.part(ROOM) > 0 else 0.0,
    }
    if plan.flash is not None:
        found["flash"] = {
            "name": plan.flash.name,
            "power": settings.power,
            "distance_mm": settings.distance_mm,
            "diffuser_stops": settings.diffuser_stops,
            "near_loss_stops": settings.face.near_loss_stops(settings.distance_mm),
        }
    return found


def part_held(plan: Planned, given: tuple[str, ...], solve: str | None, hold: str | None) -> str:
    """The part to hold: the one named; the only one that is moved by what is solved or given; else the usual.

    LightsimError where the thing solved for does not move it.
    """
    part = hold
    if part is None:
        part = _usual_part(plan, given, solve)
    if part == FLASH and plan.flash is None:
        found = f"--solve: found {solve}" if hold is None else "--hold: found flash"
        raise LightsimError(f"{found}, allowed where a flash is on the set")
    for option in (name for name in (solve,) if name is not None):
        if part not in MOVES[option]:
            allowed = ", ".join(name for name, parts in MOVES.items() if part in parts)
            thing = "flash’s" if part == FLASH else "room light’s"
            raise LightsimError(
                f"--solve: found {option}, which does not move the {thing} part, allowed {allowed}"
            )
    return part


def _usual_part(plan: Planned, given: tuple[str, ...], solve: str | None) -> str:
    if solve is not None and len(MOVES[solve]) == 1:
        return MOVES[solve][0]
    only_room = bool(given) and set(given) <= {"shutter", "room"}
    return ROOM if only_room else plan.part


def stops_needed(plan: Planned, given: Settings, name: str, part: str, to_mid_tone: bool) -> float:
    """Stops that the part has to gain, by that thing, from the given settings."""
    if not to_mid_tone:
        return -change_stops(plan.settings, given, part)
    gains = [change_stops(plan.settings, given, each) for each in PARTS]
    levels = scaled(plan.levels, *gains)
    moved = levels.whole if len(MOVES[name]) == len(PARTS) else levels.part(part)
    wanted = MID_TONE - (levels.whole - moved)
    if moved <= 0.0 or wanted <= 0.0:
        other = "room light" if part == FLASH else "flash"
        over = stops_above(levels.whole - moved)
        found = (
            f"{name}, but the {other} alone is {over:.1f} stops over it" if wanted <= 0 else "a dark petal"
        )
        raise LightsimError(f"--to-mid-tone: found {found}, allowed where the light solved for can do it")
    return log2(wanted / moved)


def make_trade(
    plan: Planned,
    changed: Scene,
    given: tuple[str, ...],
    solve: str | None = None,
    hold: str | None = None,
    to_mid_tone: bool = False,
) -> Trade:
    """Trade. changed : the scene with what was given.  given : names of the options given.

    LightsimError where what is solved for is given too, or does not move the part that is held.
    """
    if solve is not None and solve in given:
        raise LightsimError(f"--solve: found {solve}, which --{solve} sets, allowed anything else")
    part = part_held(plan, given, solve, hold)
    flash = None if plan.flash is None else light_named(changed, plan.flash.name)
    settings = settings_of(changed, flash)
    solved, after, said = None, settings, []
    others: list[EquivalentSetting] = []
    if solve is None:
        others = _all_ways(plan, settings, part, given, to_mid_tone)
    else:
        stops = stops_needed(plan, settings, solve, part, to_mid_tone)
        solved = equivalent_setting(settings, solve, part, stops, plan.widest)
        after = settings if solved.value is None else settings.with_value(solve, solved.value)
        if not solved.within_reach:
            said = elsewhere(settings, part, stops, solved, plan.widest)
    each = tuple(
        _flash_trade(plan, light, changed, solve, solved, part, to_mid_tone) for light in plan.flashes
    )
    scene = _scene_after(changed, solve, solved, each)
    return Trade(plan, part, to_mid_tone, settings, after, solved, tuple(others), tuple(said), each, scene)


def _all_ways(
    plan: Planned, settings: Settings, part: str, given: tuple[str, ...], to_mid_tone: bool
) -> list[EquivalentSetting]:
    if to_mid_tone:
        names = [name for name, parts in MOVES.items() if part in parts and name not in given]
        return [
            equivalent_setting(
                settings, name, part, stops_needed(plan, settings, name, part, True), plan.widest
            )
            for name in names
        ]
    stops = -change_stops(plan.settings, settings, part)
    return equivalent_settings(settings, part, stops, given, plan.widest)


def _flash_trade(
    plan: Planned,
    light: Light,
    changed: Scene,
    solve: str | None,
    main: EquivalentSetting | None,
    part: str,
    to_mid_tone: bool,
) -> FlashTrade:
    """Power and distance are solved for each flash by itself; all else is common to them."""
    before = settings_of(plan.scene, light)
    given = settings_of(changed, light_named(changed, light.name))
    found, after = None, given
    if solve in ("power", "distance"):
        stops = -change_stops(before, given, FLASH)
        if to_mid_tone:
            stops = stops_needed(plan, settings_of(changed, plan.flash), solve, part, True)
        found = equivalent_setting(given, solve, FLASH, stops)
        after = given if found.value is None else given.with_value(solve, found.value)
    elif solve is not None and main is not None and main.value is not None:
        after = given.with_value(solve, main.value)
    return FlashTrade(
        light.name, change_stops(before, given, FLASH), change_stops(before, after, FLASH), found
    )


def _scene_after(
    changed: Scene, solve: str | None, solved: EquivalentSetting | None, flashes: tuple[FlashTrade, ...]
) -> Scene | None:
    """The scene with what was solved for; None where it is out of reach."""
    if solve is None or solved is None:
        return changed
    found: list[tuple[str | None, EquivalentSetting]] = [(None, solved)]
    if solve in ("power", "distance"):
        found = [(flash.name, flash.solved) for flash in flashes if flash.solved is not None]
    scene = changed
    for name, each in found:
        if each.value is None or not each.within_reach:
            return None
        scene = change_scene(scene, {solve.replace("-", "_"): each.value}, name)
    return check_scene(scene)
