"""The words of `lightsim exposure`: where the exposure stands, a trade or the table, and the notes."""

from __future__ import annotations

from collections.abc import Iterator
from math import hypot, inf, log2
from typing import TYPE_CHECKING, Any

from lightsim.optics.marks import F_NUMBERS
from lightsim.optics.trade import FLASH, ROOM, Settings
from lightsim.planning.equivalents import EquivalentSetting, mark_and_rest
from lightsim.planning.exposure.scene_trade import Trade
from lightsim.planning.levels import below_words, level_figures, stops_above, trust_words
from lightsim.planning.planned import Planned
from lightsim.planning.settings_words import output_words, settings_words
from lightsim.report.words import DASH, fixed, percent, plain, signed, significant

if TYPE_CHECKING:
    from lightsim.planning.exposure.exposure import Exposure, StopRow

PARTS_IN_WORDS = {FLASH: "the flash’s part", ROOM: "the room light’s part"}
THINGS = {
    "power": "flash power",
    "distance": "flash distance",
    "iso": "ISO",
    "shutter": "shutter",
    "f-number": "f-number",
}


def tables_of(found: Exposure) -> list[Any]:
    """Where the exposure stands, then the trade or the table."""
    from lightsim.report.tables.measures_table import figures_table, things_table

    trade = found.trade
    if trade is None:
        head = things_table(standing_lines(found.plan))
        rows = [_headings(found), *map(_cells, found.rows)]
        if all(row[ROOM_BELOW] == DASH for row in rows[1:]):
            rows = [(*row[:ROOM_BELOW], *row[ROOM_BELOW + 1 :]) for row in rows]
        strong = [number for number, row in enumerate(found.rows) if row.sharpest]
        return [head, figures_table(rows[0], rows[1:], strong=strong, left=(0, len(rows[0]) - 1))]
    head = things_table(standing_lines(trade.planned))
    headings = ("", "in the file", "now", "change")
    tables = [head, figures_table(headings, list(trade_rows(trade)), left=(0,))]
    if trade.others:
        rows = [(THINGS[other.name], other.label, other.note) for other in trade.others]
        title = "the petal at mid-tone by" if trade.to_mid_tone else f"hold {PARTS_IN_WORDS[trade.held]} by"
        tables.append(figures_table((title, "set to", ""), rows, left=(0, 2)))
    return tables


def standing_lines(plan: Planned) -> Iterator[tuple[str, str]]:
    """Where the exposure of a scene stands."""
    levels = plan.levels
    effective = plain(plan.train.effective_f_number, 1)
    yield "settings", f"{settings_words(plan.scene)}, effective f/{effective}"
    places = {each.name: each.face.centre for each in plan.stage.lights}
    for light in plan.flashes:
        face = "" if light.diffuser is None else f", diffuser {plain(light.diffuser.loss_stops, 1)} stops"
        yield light.name, f"{output_words(light)}{face}, {plain(hypot(*places[light.name]), 0)} mm away"
    yield "petal", f"{_from_mid_tone(levels.whole)} ({trust_words(level_figures(levels))})"
    if plan.flash is not None:
        yield "  of flash", _from_mid_tone(levels.part(FLASH))
        room = levels.part(ROOM)
        below = f", {below_words(levels.room_stops_below_flash)} ({percent(levels.room_share)} of the light)"
        yield "  of room light", "none" if room <= 0 else _from_mid_tone(room) + below
    yield "wanted depth", f"{significant(plan.depth_mm, 3)} mm: {plan.depth_from}"


def _from_mid_tone(level: float) -> str:
    stops = stops_above(level)
    return "black" if stops == -inf else f"{signed(stops)} stops from the mid-tone"


ROOM_BELOW = 3  # column of the room's light, which is left out where there is no flash to hold it against


def _headings(found: Exposure) -> tuple[str, ...]:
    return (
        "f-number\n",
        "effective\n",
        f"{THINGS[found.solved]}\n",
        "room light\nbelow, stops",
        "depth of\nfield, mm",
        "diffraction\nµm",
        "blur at\nends, µm",
        "stack\nframes",
        "",
    )


def _cells(row: StopRow) -> tuple[str, ...]:
    said = ["sharpest"] if row.sharpest else []
    if not row.needed.within_reach:
        said.append("out of reach")
    below = row.room_stops_below_flash
    return (
        row.label + (" •" if row.in_file else ""),
        f"f/{plain(row.at.effective_f_number, 1)}",
        row.needed.label,
        DASH if abs(below) == inf else fixed(below, 1),
        significant(row.at.depth_of_field_mm),
        significant(row.at.diffraction_um),
        significant(row.at.edge_blur_um),
        str(row.at.stack_frames),
        ", ".join(said),
    )


def trade_rows(trade: Trade) -> Iterator[tuple[str, str, str, str]]:
    """Each setting in the file and now, and what becomes of both parts."""
    before, after = trade.planned.settings, trade.after
    for name, write, stops in _SETTINGS:
        if not _is_there(
            trade.planned, ROOM if name == "room light" else FLASH if name in _OF_FLASH else None
        ):
            continue
        then, now = write(before), write(after)
        change = stops(before, after)
        solved = trade.solved is not None and name == THINGS[trade.solved.name]
        if solved and trade.solved is not None and trade.solved.value is None:
            now = "nowhere"
        mark = " ◂" if solved else ""
        yield name + mark, then, now, "" if abs(change) < 1e-9 else f"{signed(change)} stops"
    yield from _part_rows(trade)


def _is_there(plan: Planned, part: str | None) -> bool:
    """Whether the set has that part of the light."""
    if part == FLASH:
        return plan.flash is not None
    return part is None or plan.levels.part(ROOM) > 0


def _part_rows(trade: Trade) -> Iterator[tuple[str, str, str, str]]:
    start, end = trade.planned.levels, trade.levels
    for flash in trade.flashes:
        level, now = start.by_light[flash.name], end.by_light[flash.name]
        yield f"petal by {flash.name}", _level(level), _level(now), f"{signed(flash.after_stops)} stops"
    if start.part(ROOM) > 0:
        change = f"{signed(trade.after_stops(ROOM))} stops"
        yield "petal by room light", _level(start.part(ROOM)), _level(end.part(ROOM)), change
    yield "petal in all", _level(start.whole), _level(end.whole), ""


def _level(level: float) -> str:
    stops = stops_above(level)
    return "black" if stops == -inf else f"{signed(stops)} from mid-tone"


_OF_FLASH = ("flash power", "flash distance", "diffuser")


def _near(before: Settings, after: Settings) -> float:
    return _log(before.face.lx_per_cd(before.distance_mm), after.face.lx_per_cd(after.distance_mm))


def _log(before: float, after: float) -> float:
    return log2(after / before)


# Each setting: name, how it is written, and the stops of light that a change of it (before, after) brings.
_SETTINGS: tuple[tuple[str, Any, Any], ...] = (
    (
        "f-number",
        lambda s: mark_and_rest("f-number", s.f_number)[0],
        lambda b, a: 2 * _log(a.f_number, b.f_number),
    ),
    (
        "effective f-number",
        lambda s: f"f/{plain(s.effective_f_number, 1)}",
        lambda b, a: 2 * (_log(a.effective_f_number, b.effective_f_number) - _log(a.f_number, b.f_number)),
    ),
    ("ISO", lambda s: mark_and_rest("iso", s.iso)[0], lambda b, a: _log(b.iso, a.iso)),
    (
        "shutter",
        lambda s: mark_and_rest("shutter", s.shutter_s)[0],
        lambda b, a: _log(b.shutter_s, a.shutter_s),
    ),
    ("flash power", lambda s: mark_and_rest("power", s.power)[0], lambda b, a: _log(b.power, a.power)),
    ("flash distance", lambda s: f"{plain(s.distance_mm, 0)} mm", _near),
    (
        "diffuser",
        lambda s: f"{plain(s.diffuser_stops, 1)} stops" if s.diffuser_stops else "none",
        lambda b, a: b.diffuser_stops - a.diffuser_stops,
    ),
    ("room light", lambda s: f"{significant(s.room_lx, 3)} lx", lambda b, a: _log(b.room_lx, a.room_lx)),
)


def notes_of(found: Exposure) -> list[str]:
    """What was held and solved for, and what stands in the way."""
    trade = found.trade
    lines = [_table_note(found)] if trade is None else list(_trade_notes(trade))
    if found.plan.scene.exposure.auto:
        lines.append("The scene exposes automatically: pictures move to the mid-tone whatever is set here.")
    lines += [f"As traded this cannot stand: {problem}." for problem in found.unset]
    return lines


def advice_table(found: Exposure) -> Any:
    """The advice: topic, sentence and rule."""
    from lightsim.report.tables.measures_table import advised_lines

    return advised_lines([(each.topic, each.sentence, each.rule, each.minds) for each in found.advice])


def _table_note(found: Exposure) -> str:
    aim = "brought to the mid-tone" if found.to_mid_tone else "held as in the file"
    what = "The petal is" if found.to_mid_tone else f"{PARTS_IN_WORDS[found.held].capitalize()} is"
    best = F_NUMBERS.nearest(found.best_f_number).label
    return (
        f"{what} {aim} (•) by {THINGS[found.solved]}. Sharpest at both ends of "
        f"{significant(found.plan.depth_mm, 3)} mm, focused on the middle: {best}. Blur is at the subject; "
        "diffraction: Airy disc at 550 nm. Stack: frames that share a fifth of their depth of field."
    )


def _trade_notes(trade: Trade) -> Iterator[str]:
    moved = [
        f"{PARTS_IN_WORDS[part]} by {signed(trade.given_stops(part))} stops"
        for part in (FLASH, ROOM)
        if abs(trade.given_stops(part)) > 1e-9 and _is_there(trade.planned, part)
    ]
    if moved:
        yield f"What was given moves {' and '.join(moved)}."
    if trade.solved is None:
        return
    yield _solved_note(trade, trade.solved)
    for flash in trade.flashes[1:]:
        if flash.solved is not None:
            yield f"{flash.name} then goes to {flash.solved.label}{_aside(flash.solved)}."
    if not trade.solved.within_reach:
        also = (
            "; ".join(trade.elsewhere) if trade.elsewhere else "nothing alone; share it between two settings"
        )
        yield f"Out of reach: {trade.solved.note}. What else would do: {also}."
    yield from _other_part(trade)


def _solved_note(trade: Trade, solved: EquivalentSetting) -> str:
    aim = "brings the petal to the mid-tone" if trade.to_mid_tone else f"holds {PARTS_IN_WORDS[trade.held]}"
    change = _change(trade, solved)
    aside = _aside(solved) if solved.within_reach else ""
    return f"{_NAMED[solved.name]}{solved.label} {aim}{change}{aside}."


_NAMED = {
    "power": "Flash power ",
    "distance": "A flash distance of ",
    "iso": "",
    "shutter": "A shutter time of ",
    "f-number": "",
}


def _aside(setting: EquivalentSetting) -> str:
    return f" ({setting.note})" if setting.note else ""


def _change(trade: Trade, solved: EquivalentSetting) -> str:
    if solved.value is None:
        return ""
    gain = trade.after_stops(trade.held) - trade.given_stops(trade.held)
    if abs(gain) < 1e-9:
        return ", as it stands"
    return f": {fixed(abs(gain), 1)} stops {'more' if gain > 0 else 'less'}"


def _other_part(trade: Trade) -> Iterator[str]:
    """What becomes of the part that is not held."""
    other = ROOM if trade.held == FLASH else FLASH
    if not _is_there(trade.planned, other):
        return
    change = trade.after_stops(other)
    if abs(change) < 0.05:
        yield f"{PARTS_IN_WORDS[other].capitalize()} stays as it was."
        return
    becomes = "brighter" if change > 0 else "darker"
    yield f"It makes {PARTS_IN_WORDS[other]} {fixed(abs(change), 1)} stops {becomes}."
