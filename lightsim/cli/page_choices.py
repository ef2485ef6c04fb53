"""Options for the look and content of pages, which the commands that make them share."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

import click

from lightsim.cli.common import option

MEASURES_HELP = (
    "What stands under each frame, of petal, highlight, share, place, brightness, level, clipped, shadow, "
    "texture, lighting, caustic; petal,highlight when left out."
)
LOOK = (
    option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True,
           help="Paper that pages are made for."),
    option("--ground", type=click.Choice(["light", "dark"]), default="light", show_default=True,
           help="Of pages: light for paper, dark for a projector."),
    option("--title", metavar="TEXT", help="Title of the pages; the scene's when left out."),
    option("--credit", metavar="TEXT", default="", help="A line at the foot: who made it, for which class."),
)  # fmt: skip
CONTENT = (
    option("--measures", metavar="LIST", help=MEASURES_HELP),
    option("--columns", type=click.IntRange(1), metavar="N", help="Frames side by side on the sheet."),
    option("--hide-captions", is_flag=True, help="A quiz: mixed frames under letters, the answers apart."),
)  # fmt: skip
LOOK_NAMES = ("paper", "ground", "title", "credit")
CONTENT_NAMES = ("measures", "columns", "hide_captions")


def page_choices(*, content: bool = False) -> Callable:
    """Give a command the options of pages, gathered in one argument `page`.

    content : with those of a contact sheet.
    """
    names = LOOK_NAMES + CONTENT_NAMES if content else LOOK_NAMES

    def decorate(command: Callable) -> Callable:
        @wraps(command)
        def gathered(**values: Any) -> Any:
            from lightsim.report.page_options import PageOptions

            chosen = {name: values.pop(name) for name in names}
            if chosen.get("measures") is not None:
                parts = (part.strip() for part in chosen["measures"].split(","))
                chosen["measures"] = tuple(part for part in parts if part)
            return command(page=PageOptions(**chosen).checked(), **values)

        for add in reversed((*LOOK, *CONTENT) if content else LOOK):
            gathered = add(gathered)
        return gathered

    return decorate
