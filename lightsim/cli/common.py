"""What the commands share: errors as sentences, the progress bar, printing, common options."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lightsim.errors import LightsimError

if TYPE_CHECKING:
    from lightsim.runs.progress import Report

QUALITIES = ("draft", "normal", "final")
BAD_INPUT = 2
INTERRUPTED = 130
TABLE_WIDTH = 120  # where the output is no terminal


class Commands(click.Group):
    """A group whose commands turn what the user can mend into sentences and exit code 2."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command."""
        try:
            return super().invoke(ctx)
        except LightsimError as error:
            complain(str(error))
            ctx.exit(BAD_INPUT)
        except click.UsageError as error:
            asked = "lightsim" if error.ctx is None else error.ctx.command_path
            complain(f"{usage_words(error)}; {asked} --help tells more")
            ctx.exit(BAD_INPUT)
        except KeyboardInterrupt as stop:
            complain(stopped_words(stop))
            ctx.exit(INTERRUPTED)
        except BrokenPipeError:
            raise
        except OSError as error:
            complain(f"{error.filename or 'input or output'}: {(error.strerror or str(error)).lower()}")
            ctx.exit(BAD_INPUT)
        except MemoryError:
            complain("found too little memory for the picture, allowed a smaller --width")
            ctx.exit(BAD_INPUT)


# What photographers call an option otherwise.
SYNONYMS = {
    "--aperture": ("--f-number",),
    "--time": ("--shutter",),
    "--shutter-speed": ("--shutter",),
    "--tubes": ("--extension",),
    "--bellows": ("--extension", "--tubes"),
    "--dioptres": ("--close-up",),
    "--sensitivity": ("--iso",),
    "--lux": ("--room",),
    "--angle": ("--angles",),
    "--angles": ("--angle",),
}


def usage_words(error: click.UsageError) -> str:
    """What is wrong with a command line; for an option that there is not, the one that was probably meant."""
    if not isinstance(error, click.NoSuchOption):
        return error.format_message().rstrip(".")
    known = [name for each in error.ctx.command.params for name in each.opts] if error.ctx else []
    other = [name for name in SYNONYMS.get(error.option_name, ()) if name in known]
    nearest = other or get_close_matches(error.option_name, known, 1)
    found = f"found the option {error.option_name}, which there is not"
    return f"{found}, allowed {nearest[0]}" if nearest else found


def complain(text: str) -> None:
    """One line for each problem on standard error."""
    for line in text.splitlines():
        click.echo(f"lightsim: {line}", err=True)


def stopped_words(stop: KeyboardInterrupt) -> str:
    """What an interruption left, and how to go on."""
    folder = getattr(stop, "folder", None)
    if folder is None:
        return "stopped; nothing was written"
    done, whole = stop.done, stop.whole  # type: ignore[attr-defined]
    if done == 0:
        return "stopped before a frame was done; nothing was written"
    return f"stopped with {done} of {whole} frames kept in {folder}; the same command goes on from there"


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
    import json

    from lightsim.report.files.formats import plain_value

    click.echo(json.dumps(plain_value(value), indent=2, ensure_ascii=False, allow_nan=False))


def print_table(table: Any) -> None:
    """A table as wide as the terminal."""
    from rich.console import Console

    Console(width=None if sys.stdout.isatty() else TABLE_WIDTH).print(table)


def print_notes(notes: Sequence[str]) -> None:
    """A sentence on each line."""
    for note in notes:
        click.echo(note)


def print_written(paths: Sequence[Path]) -> None:
    """The files written."""
    for path in paths:
        click.echo(str(path))


def option(*names: str, **settings: Any) -> Callable:
    """A click option."""
    return click.option(*names, **settings)


PATH = click.Path(path_type=Path)
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
