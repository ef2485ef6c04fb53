"""Tables of finished text for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rich.table import Table


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
