"""What the commands share: the progress bar, printing, common options."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lightsim.errors import printable

if TYPE_CHECKING:
    from lightsim.runs.progress import Report

QUALITIES = ("draft", "normal", "final")
TABLE_WIDTH = 120  # where the output is no terminal


class Bar:
    """A progress bar with the time left, drawn once the work takes a while, on a terminal only."""

    PATIENCE_S = 0.7

    def __init__(self, quiet: bool):
        from time import monotonic

        self._clock, self._start = monotonic, monotonic()
        self._wanted = not quiet and sys.stderr.isatty()
        self._bar: Any = None
        self._task: Any = None

    def report(self, share: float, words: str) -> None:
        """Show the share done (0..1) and what is being done."""
        if not self._wanted or (self._bar is None and self._clock() - self._start < self.PATIENCE_S):
            return
        if self._bar is None:
            self._open()
        self._bar.update(self._task, completed=share, description=words)

    def _open(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

        columns = (
            TextColumn("{task.description}"),
            BarColumn(),
            TaskProgressColumn(),
            TimeRemainingColumn(compact=True),
            TextColumn("left"),
        )
        self._bar = Progress(*columns, console=Console(stderr=True), transient=True)
        self._task = self._bar.add_task("setting up", total=1.0)
        self._bar.start()

    def close(self) -> None:
        """Take the bar away."""
        if self._bar is not None:
            self._bar.stop()


@contextmanager
def progress_bar(quiet: bool) -> Iterator[Report]:
    """A listener for progress; says so first when the kernels have to be compiled."""
    from lightsim.tracer import compiled

    if not quiet and not compiled():
        click.echo("compiling the renderer, once on this machine; this takes about a minute", err=True)
    bar = Bar(quiet)
    try:
        yield bar.report
    finally:
        bar.close()


def print_json(value: Any) -> None:
    """Numbers as JSON on standard output; what is not finite becomes null."""
    from lightsim.report.files.formats import json_text

    print(json_text(value))


def print_table(table: Any) -> None:
    """A table as wide as the terminal."""
    from rich.console import Console

    Console(width=None if sys.stdout.isatty() else TABLE_WIDTH).print(table)


def print_notes(notes: Sequence[str]) -> None:
    """A sentence on each line."""
    for note in notes:
        print(printable(note))


def print_written(paths: Sequence[Path]) -> None:
    """The files written."""
    for path in paths:
        print(path)


def option(*names: str, **settings: Any) -> Callable:
    """A click option."""
    return click.option(*names, **settings)


class FilePath(click.ParamType):
    """The name of a file or folder; an empty one is none."""

    name = "path"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """The path; a usage error for a name that no file can have."""
        text = str(value)
        if not text.strip() or "\0" in text:
            found = "nothing" if not text.strip() else "a name with a NUL in it"
            self.fail(f"found {found}, allowed the name of a file or folder", param, ctx)
        return Path(text)

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[Any]:
        """The shell completes the names of files."""
        from click.shell_completion import CompletionItem

        return [CompletionItem(incomplete, type="file")]


PATH = FilePath()
SCENE = click.argument("scene", type=PATH)
LIGHT = option("--light", metavar="NAME", help="The light that is moved; the key when left out.")
WIDTH = option("--width", "width_px", type=click.IntRange(16), metavar="PX", help="Width of the picture.")
QUALITY = option(
    "--quality",
    type=click.Choice(QUALITIES),
    default="normal",
    show_default=True,
    help="Fast to free of noise.",
)
QUIET = option(
    "--quiet", is_flag=True, help="No progress bar and no table, only the paths of what was written."
)
JSON = option("--json", "as_json", is_flag=True, help="Print the numbers as JSON instead of a table.")
