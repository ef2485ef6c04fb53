"""Tables of the terminal as a notebook shows them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

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
