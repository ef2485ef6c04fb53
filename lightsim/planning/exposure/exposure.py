"""Exposure traded one thing for another, and a table of it over f-numbers; nothing is traced here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from lightsim.errors import LightsimError, SceneError
from lightsim.optics.lens_figures import AtStop, at_stop
from lightsim.optics.marks import F_NUMBERS
from lightsim.optics.trade import MOVES, ROOM, change_stops
from lightsim.planning.advice.all_advice import advice
from lightsim.planning.advice.sharpness import best_f_number
from lightsim.planning.equivalents import EquivalentSetting, equivalent_setting
from lightsim.planning.exposure.scene_trade import (
    PARTS,
    Trade,
    make_trade,
    part_held,
    stops_needed,
    traded_settings,
)
from lightsim.planning.levels import (
    Measure,
    incident_stops,
    level_figures,
    ratio_figures,
    settings_of,
    stops_above,
    train_of,
)
from lightsim.planning.planned import Advice, Planned, given_depth_mm, given_scene, planned, scaled
from lightsim.report.page_options import PageOptions
from lightsim.report.tables.measures_table import html_of
from lightsim.scene.file.read import as_scene
from lightsim.scene.records import Scene
from lightsim.scene.settings.change_light import light_named
from lightsim.scene.settings.quantities import OF_THE_EXPOSURE, QUANTITIES, require_known

FIRST_F_NUMBER, LAST_F_NUMBER = 2.8, 32.0  # of the table where none are named
MOST_ROWS = 60


@dataclass(frozen=True)
class StopRow:
    """One f-number of the table.

    label : the f-number as marked.  at : depth and blur there.  needed : what the exposure takes there.
    petal_stops : the petal from the mid-tone.  room_share, room_stops_below_flash : the room light's part.
    sharpest : least blur at the ends of the wanted depth in this table.  in_file : the scene's own.
    """

    label: str
    at: AtStop
    needed: EquivalentSetting
    petal_stops: float
    room_share: float
    room_stops_below_flash: float
    sharpest: bool
    in_file: bool

    def as_dict(self) -> dict[str, Any]:
        """Units in the keys."""
        return {
            "f_number_mark": self.label,
            **asdict(self.at),
            "needed": self.needed.as_dict(),
            "petal_stops_from_mid_tone": self.petal_stops,
            "room_light_share": self.room_share,
            "room_light_stops_below_flash": self.room_stops_below_flash,
            "sharpest_in_table": self.sharpest,
            "in_file": self.in_file,
        }


@dataclass(frozen=True)
class Exposure:
    """An exposure traded, or tabulated over f-numbers, with advice.

    base : the scene whose exposure the table holds.  plan : the scene with what was given and solved for.
    rows : the table, with the part it holds and what it solves for.  trade : the single trade, or None.
    unset : why the traded scene cannot stand so, a sentence each.
    """

    base: Planned
    plan: Planned
    rows: tuple[StopRow, ...]
    held: str
    solved: str
    to_mid_tone: bool
    trade: Trade | None
    advice: tuple[Advice, ...]
    unset: tuple[str, ...] = ()

    @property
    def best_f_number(self) -> float:
        """The exact f-number that gives the sharpest picture of the wanted depth."""
        return best_f_number(self.plan)

    def rows_at(self, f_numbers: Sequence[float]) -> tuple[StopRow, ...]:
        """The table's lines at other f-numbers (exact)."""
        return stop_rows(self.base, self.plan.scene, f_numbers, self.solved, self.held, self._aims)

    @property
    def _aims(self) -> bool:
        """Whether the table brings the petal to the mid-tone."""
        return self.to_mid_tone and self.trade is None

    def as_dict(self) -> dict[str, Any]:
        """All numbers, units in the keys."""
        start, best = self.plan if self.trade is None else self.trade.planned, self.best_f_number
        lights = start.stage.lights
        return {
            "settings": traded_settings(start.settings, start),
            "levels": level_figures(start.levels),
            "incident_meter": [
                {"light": light.name, "stops_over": incident_stops(start.scene, start.stage, light)}
                for light in lights
            ],
            "lighting_ratio": ratio_figures(start.ratio),
            "petal_reflectance": start.seen.mean_reflectance,
            "wanted_depth_mm": self.plan.depth_mm,
            "wanted_depth_is": self.plan.depth_from,
            "trade": None
            if self.trade is None
            else {**self.trade.as_dict(), "cannot_stand": list(self.unset)},
            "sharpest": {"f_number": best, "f_number_mark": F_NUMBERS.nearest(best).label},
            "table": {
                "held": self.held,
                "solved": self.solved,
                "to_mid_tone": self._aims,
                "rows": [row.as_dict() for row in self.rows],
            },
            "advice": [each.as_dict() for each in self.advice],
        }

    def tables(self) -> list[Any]:
        """What to print in a terminal, from top to bottom: the level, then trade or table."""
        from lightsim.planning.exposure.sentences import tables_of

        return tables_of(self)

    def notes(self) -> list[str]:
        """What was held, solved for, and stands in the way, a line each."""
        from lightsim.planning.exposure.sentences import notes_of

        return notes_of(self)

    def advice_table(self) -> Any:
        """The advice as a table for the terminal, each with its rule."""
        from lightsim.planning.exposure.sentences import advice_table

        return advice_table(self)

    def save_chart(self, path: str | Path, options: PageOptions | None = None) -> list[Path]:
        """Write the chart as a page (.png, .jpg, .pdf, .svg); returns the files."""
        from lightsim.planning.exposure.chart import save_chart

        return save_chart(path, self, options)

    def _repr_html_(self) -> str:
        return html_of([*self.tables(), *self.notes(), self.advice_table()])


def exposure(
    scene: Scene | str | Path,
    options: Mapping[str, str | float | None] | None = None,
    *,
    solve: str | None = None,
    hold: str | None = None,
    to_mid_tone: bool = False,
    light: str | None = None,
    depth: str | float | None = None,
    measure: Measure | None = None,
    **settings: str | float | None,
) -> Exposure:
    """Trade an exposure, or tabulate it over f-numbers.

    Parameters
    ----------
    scene : a scene or its file.
    options, settings : f_number, iso, shutter, power, distance, extension, close_up, diffuser, room, as
        numbers or as they are marked. One value of something makes a single trade; several f-numbers, or
        nothing, the table.
    solve : what the exposure is held by: "power", "distance", "iso", "shutter" or "f-number".
    hold : the part that is held, "flash" or "room"; None takes the part that `solve` moves.
    to_mid_tone : bring the petal to the mid-tone instead of holding.
    light : the flash that is traded; the key when None.
    depth : mm that are to be sharp; what is in focus when None.
    measure : gives the petal's colours from a picture (`runs.steps.draft_petal_colours`); None works
        them out in closed form.

    Raises
    ------
    LightsimError and SceneError for what is not allowed.

    Examples
    --------
    From f/11 to f/22 the flash gives two stops more:

    >>> exposure(Scene(), f_number=22, solve="power").trade.solved.label
    '1/4'
    """
    scene = as_scene(scene)
    wanted = {**(options or {}), **settings}
    given = {name.replace("_", "-"): str(value) for name, value in wanted.items() if value is not None}
    require_known(given, OF_THE_EXPOSURE)
    depth_mm = None if depth is None else given_depth_mm(str(depth))
    several = f_numbers_of(given.pop("f-number")) if set(given.get("f-number", "")) & set(",:") else None
    changed = given_scene(scene, given, light)
    plan = planned(scene, light=light, depth_mm=depth_mm, measure=measure)
    if several is None and (given or (to_mid_tone and solve is not None)):
        return _traded(plan, changed, tuple(given), solve, hold, to_mid_tone)
    return _tabulated(plan, changed, tuple(given), several, solve, hold, to_mid_tone)


def f_numbers_of(text: str) -> list[float]:
    """Exact f-numbers of "8,11,16", or of "8:22", which means the whole stops from the one to the other."""
    found: list[float] = []
    for part in text.split(","):
        ends = [F_NUMBERS.exact(QUANTITIES["f_number"].number(end)) for end in part.split(":")]
        if len(ends) > 2:
            raise LightsimError(f"--f-number: found {part.strip()!r}, allowed two ends, as 8:22")
        within = F_NUMBERS.within(min(ends), max(ends))
        stops = [mark.exact for mark in within if mark in F_NUMBERS.full_stops()]
        found += ends if len(ends) == 1 else [ends[0], *stops, ends[1]]
    once = sorted({round(value, 9) for value in found})
    if len(once) > MOST_ROWS:
        raise LightsimError(f"--f-number: found {len(once)} values, allowed up to {MOST_ROWS}")
    return once


def _traded(
    plan: Planned,
    changed: Scene,
    given: tuple[str, ...],
    solve: str | None,
    hold: str | None,
    to_mid_tone: bool,
) -> Exposure:
    trade = make_trade(plan, changed, given, solve, hold, to_mid_tone)
    after, unset = plan, tuple[str, ...]()
    if trade.scene is not None:
        try:
            after = _again(plan, trade.scene)
        except SceneError as error:
            unset = tuple(error.problems)
    column = solve if solve is not None and solve != "f-number" else _usual(plan)
    part = part_held(after, (), column, None)
    rows = stop_rows(after, after.scene, default_f_numbers(after), column, part, False)
    said = () if unset or trade.scene is None else advice(after)
    return Exposure(after, after, rows, part, column, to_mid_tone, trade, said, unset)


def _tabulated(
    plan: Planned,
    changed: Scene,
    given: tuple[str, ...],
    several: Sequence[float] | None,
    solve: str | None,
    hold: str | None,
    to_mid_tone: bool,
) -> Exposure:
    if solve == "f-number":
        allowed = ", ".join(name for name in MOVES if name != "f-number")
        raise LightsimError(f"--solve: found f-number for a table of f-numbers, allowed {allowed}")
    column = solve or ("shutter" if hold == ROOM else _usual(plan))
    if column in given:
        raise LightsimError(f"--solve: found {column}, which --{column} sets, allowed anything else")
    part = part_held(plan, given, column, hold)
    numbers = several or default_f_numbers(plan)
    rows = stop_rows(plan, changed, numbers, column, part, to_mid_tone)
    shown = _again(plan, changed) if given else plan
    return Exposure(plan, shown, rows, part, column, to_mid_tone, None, advice(shown))


def _again(plan: Planned, scene: Scene) -> Planned:
    """The same for a changed scene; the wanted depth stays what it was."""
    flash = None if plan.flash is None else plan.flash.name
    found = planned(scene, light=flash, depth_mm=plan.depth_mm, measure=plan.measure)
    return replace(found, depth_from=plan.depth_from)


def _usual(plan: Planned) -> str:
    return "shutter" if plan.flash is None else "power"


def default_f_numbers(plan: Planned) -> list[float]:
    """Whole stops that lenses have, and the scene's own."""
    low = F_NUMBERS.exact(FIRST_F_NUMBER)
    low = low if plan.widest is None else max(low, plan.widest)
    high = F_NUMBERS.exact(LAST_F_NUMBER)
    own = plan.train.exact_f_number
    stops = [mark.exact for mark in F_NUMBERS.full_stops() if low * 0.999 <= mark.exact <= high * 1.001]
    return sorted({*(value for value in stops if abs(value / own - 1) > 1e-3), own})


def stop_rows(
    plan: Planned,
    changed: Scene,
    f_numbers: Sequence[float],
    solve: str,
    part: str,
    to_mid_tone: bool,
) -> tuple[StopRow, ...]:
    """The table: at each f-number what the exposure takes, and what becomes of depth and blur.

    The exposure that is held is the planned scene's; the other settings are the changed scene's.
    """
    flash = None if plan.flash is None else light_named(changed, plan.flash.name)
    base = settings_of(changed, flash)
    train = plan.train if changed is plan.scene else train_of(changed)
    stops = [at_stop(train, value, plan.depth_mm) for value in f_numbers]
    least = min(each.edge_blur_um for each in stops)
    rows = []
    for at in stops:
        given = base.with_value("f-number", at.f_number)
        gain = stops_needed(plan, given, solve, part, to_mid_tone)
        found = equivalent_setting(given, solve, part, gain, plan.widest)
        after = given if found.value is None else given.with_value(solve, found.value)
        gains = [change_stops(plan.settings, after, each) for each in PARTS]
        levels = scaled(plan.levels, *gains)
        own = abs(at.f_number / plan.train.exact_f_number - 1) < 1e-3
        rows.append(
            StopRow(
                F_NUMBERS.label(at.f_number),
                at,
                found,
                stops_above(levels.whole),
                levels.room_share,
                levels.room_stops_below_flash,
                at.edge_blur_um <= least,
                own,
            )
        )
    return tuple(rows)
