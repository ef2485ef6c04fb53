"""Tables for the terminal: the measures of each frame, pictures held against one another, finished text."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from lightsim.measures.measure_records import FrameMeasures
from lightsim.report.comparison.rows import SHOWN, compare_rows, left_out
from lightsim.report.footnotes import Footnotes, focus_sentence, left_out_for_focus, reason_for
from lightsim.report.words import (
    clock_figures,
    clock_words,
    degrees,
    fixed,
    level_words,
    marked,
    percent,
    plain,
    signed,
    significant,
    trade_name,
)

if TYPE_CHECKING:
    from rich.table import Table

Row = Mapping[str, Any]


def _percents(share: float) -> str:
    return percent(share).removesuffix(" %")


def _size(long: float, short: float) -> str:
    return f"{significant(long)} × {significant(short)}"


def _switch(value: float) -> str:
    return "on" if value else "off"


# heading, keys of the values (the first one's reason is given), how they are written
_MEASURES: tuple[tuple[str, tuple[str, ...], Callable[..., str]], ...] = (
    ("contrast\nstops", ("petal_contrast_stops",), lambda value: fixed(value, 1)),
    ("petal\nstops", ("petal_linear",), lambda value: level_words(value, unit=False)),
    ("highlight\nmm", ("highlight_long_mm_median", "highlight_short_mm_median"), _size),
    (" disc\n%", ("highlight_disc_share_median",), _percents),
    ("place\n%", ("highlight_place_share_median",), _percents),
    ("at\nclock", ("highlight_clock_median",), clock_figures),
    ("above\nstops", ("highlight_stops_above_petal_median",), signed),
    (" clip\n%", ("clipped_share",), _percents),
)
_MEANING = (
    "contrast: bright to dark parts of the petal. petal: mean from mid-tone. highlight: full widths, long "
    "× short; share of the drop’s disc, place from centre (0) to rim (100), brightness above the petal. "
    "clip: part of the picture."
)

# key of a row, heading, how the value is written: shown where it differs from row to row
_SETTINGS: tuple[tuple[str, str, Callable[[Any], str]], ...] = (
    ("light_clock", "clock", clock_words),
    ("light_distance_mm", "distance", lambda value: f"{plain(value)} mm"),
    ("light_width_mm", "width", lambda value: f"{plain(value)} mm"),
    ("f_number", "f-number", lambda value: f"f/{plain(value, 1)}"),
    ("extension_mm", "tubes", lambda value: f"{plain(value)} mm"),
    ("close_up_dioptres", "close-up", lambda value: f"+{plain(value)}"),
    ("teleconverter", "converter", lambda value: f"{plain(value)}×"),
    ("lens_reversed", "reversed", _switch),
    ("native_magnification", "lens alone", plain),
    ("light_power", "power", lambda value: marked(value, "power")),
    ("diffuser", "diffuser", _switch),
    ("cards", "cards", _switch),
    ("room_lx", "room", lambda value: f"{plain(value)} lx"),
    ("scattered_drops", "drops", plain),
    ("scattered_drops_diameter_mm", "drops of", lambda value: f"{plain(value)} mm"),
    ("contact_angle_deg", "contact", degrees),
    ("shutter_s", "shutter", lambda value: marked(value, "s")),
    ("iso", "ISO", lambda value: marked(value, "ISO").removeprefix("ISO ")),
    ("exposure_stops_from_settings", "exposure", lambda value: f"{signed(value)} stops"),
)


def measures_table(rows: Sequence[Row]) -> Table:
    """The measures of one or several photographs, given as flat rows with units in their keys.

    rows : as `lightsim.measures.frame_row` makes them; light_angle_deg, the light's other places, the
        settings and exposure_stops_from_settings are shown where they are given and differ.
        One row alone is shown from top to bottom.
    """
    notes = Footnotes()
    if len(rows) == 1:
        table, meaning = _upright(rows[0], notes), []
    else:
        table, meaning = _lying(rows, notes), [_MEANING]
    counts = [int(row.get("highlights_out_of_focus") or 0) for row in rows]
    table.caption = "\n".join([*meaning, left_out_for_focus(counts), *notes.sentences()])
    return table


def _lying(rows: Sequence[Row], notes: Footnotes) -> Table:
    """One line for each photograph."""
    table = _new_table()
    settings = [each for each in _SETTINGS if len({row.get(each[0]) for row in rows}) > 1]
    table.add_column("light", style="bold", no_wrap=True)
    for _, heading, _ in settings:
        table.add_column(heading, no_wrap=True)
    for heading, _, _ in _MEASURES:
        table.add_column(heading, justify="right", no_wrap=True)
    for row in rows:
        set_to = ["" if row.get(key) is None else write(row[key]) for key, _, write in settings]
        table.add_row(_light(row), *set_to, *(_cell(row, keys, write, notes) for _, keys, write in _MEASURES))
    return table


def _upright(row: Row, notes: Footnotes) -> Table:
    """One photograph: a line for each measure."""
    table = _new_table()
    table.add_column("measure")
    table.add_column(_light(row) or "value", style="bold")
    for key, (name, write) in SHOWN.items():
        table.add_row(name, _cell(row, (key,), write, notes))
    return table


def compare_table(measures: Sequence[FrameMeasures], labels: Sequence[str]) -> Table:
    """Photographs side by side, each with its differences from the first.

    measures, labels : one for each photograph.
    """
    from rich.markup import escape

    notes = Footnotes()
    table = _new_table()
    table.add_column("measure")
    for label in labels:
        table.add_column(escape(label), style="bold")
    for row in compare_rows(measures, notes):
        cells = [
            f"{value}\n[yellow]{change}[/yellow]" if change else value
            for value, change in zip(row.values, row.changes, strict=True)
        ]
        table.add_row(row.name, *cells)
    table.caption = "\n".join([*left_out(measures), focus_sentence(measures), *notes.sentences()])
    return table


def things_table(lines: Iterable[tuple[str, str]]) -> Table:
    """Things and what is to be said of each."""
    from rich.markup import escape
    from rich.table import Table

    table = Table.grid(padding=(0, 2))
    table.add_column(style="bold", no_wrap=True)
    table.add_column()
    for thing, words in lines:
        table.add_row(escape(thing), escape(words))
    return table


def _new_table() -> Table:
    from rich import box
    from rich.table import Table

    return Table(  # nine columns fit a terminal of 80
        box=box.SIMPLE_HEAD,
        padding=0,
        pad_edge=False,
        caption_justify="left",
        title_justify="left",
    )


def _light(row: Row) -> str:
    """The light's angle and trade name."""
    angle = row.get("light_angle_deg")
    return "" if angle is None else f"{degrees(angle)} {trade_name(angle)}"


def _cell(row: Row, keys: tuple[str, ...], write: Callable[..., str], notes: Footnotes) -> str:
    if any(row.get(key) is None for key in keys):
        return notes.mark(reason_for(reasons_by_key(str(row.get("missing", ""))), keys[0]))
    return write(*(float(row[key]) for key in keys))


def reasons_by_key(text: str) -> dict[str, str]:
    """Reasons as a row's `missing` has them, "no shadow: a, b | dark: c", by the key that each empties."""
    reasons = {}
    for part in filter(None, text.split(" | ")):
        reason, _, keys = part.rpartition(": ")
        reasons.update({key: reason for key in keys.split(", ")})
    return reasons


def figures_table(
    headings: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    strong: Sequence[int] = (),
    left: Sequence[int] = (0,),
) -> Table:
    """Columns of figures set to the right, those named in `left` to the left; `strong` rows stand out.

    headings : with a line break between name and unit.
    """
    from rich import box
    from rich.markup import escape
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1), pad_edge=False)
    for number, heading in enumerate(headings):
        table.add_column(
            escape(heading), justify="left" if number in left else "right", no_wrap=number not in left[1:]
        )
    for number, row in enumerate(rows):
        style = "bold yellow" if number in strong else None
        table.add_row(*(escape(cell) for cell in row), style=style)
    return table


def open_table(headings: Sequence[str], rows: Iterable[Sequence[str]], *, right: Sequence[int] = ()) -> Table:
    """Columns without rules, those numbered in `right` set to the right."""
    from rich.markup import escape
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="bold")
    for number, heading in enumerate(headings):
        table.add_column(heading, justify="right" if number in right else "left")
    for row in rows:
        table.add_row(*map(escape, row))
    return table


def advised_lines(lines: Iterable[tuple[str, str, str, bool]]) -> Table:
    """Topic, sentence and the rule behind it under the sentence; those to mind stand out."""
    from rich.markup import escape
    from rich.table import Table

    table = Table(box=None, show_header=False, padding=(0, 2, 1, 0), pad_edge=False)
    table.add_column(no_wrap=True)
    table.add_column()
    for topic, sentence, rule, minds in lines:
        style = "bold yellow" if minds else "bold"
        mark = "! " if minds else "  "
        words = f"{escape(sentence)}\n[dim]{escape(rule)}[/dim]"
        table.add_row(f"[{style}]{mark}{escape(topic)}[/{style}]", words)
    return table


WIDTH = 110  # letters
_BLOCK = '<pre style="line-height: normal; font-family: monospace">{code}</pre>'


def html_of(parts: Iterable[Any]) -> str:
    """Tables and sentences, from top to bottom, as HTML with its styles inside."""
    from io import StringIO

    from rich.console import Console

    console = Console(record=True, width=WIDTH, file=StringIO(), force_jupyter=False)
    for part in parts:
        console.print(part, markup=False, highlight=False)
    return console.export_html(code_format=_BLOCK, inline_styles=True)
