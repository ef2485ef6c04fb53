"""What the commands share: the group that they join, options, the progress bar, printing."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import cached_property, wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click import option

from lightsim.cli.failures import Commands
from lightsim.errors import printable

if TYPE_CHECKING:
    from lightsim.runs.job import Report
    from lightsim.scene.settings.quantity import Quantity


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="lightsim")
def main() -> None:
    """See and measure the light on a wet flower before the photograph is taken.

    A scene file says what stands on the table: petal, drops, camera, lights.

    \b
    Example:
      lightsim new my-set.toml
      lightsim preview my-set.toml
      lightsim sweep my-set.toml
    """


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


def print_made(
    made: Any, paths: Sequence[Path], as_json: bool, quiet: bool, numbers: Callable[[], dict] | None = None
) -> None:
    """What a command made: numbers as JSON, else its table and notes, unless quiet, and the files written.

    numbers : gives what JSON is to hold; `made.as_dict` when None.
    """
    if as_json:
        print_json({**(made.as_dict if numbers is None else numbers)(), "written": paths})
        return
    if not quiet:
        print_table(made.table())
        print_notes(made.notes())
    print_written(paths)


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


class SettingsCommand(click.Command):
    """A command that takes an option for each quantity, after its arguments.

    lists : whether several values of a quantity are taken, or one alone.
    The table is read when the command is run, since it needs the libraries that scenes do.
    """

    def __init__(self, *arguments: Any, lists: bool, **options: Any):
        super().__init__(*arguments, **options)
        self.lists = lists

    @cached_property
    def _settings(self) -> list[click.Parameter]:
        from lightsim.scene.settings.quantities import QUANTITIES

        return [self._option(quantity) for quantity in QUANTITIES.values()]

    def get_params(self, ctx: click.Context) -> list[click.Parameter]:
        """All parameters."""
        params = super().get_params(ctx)
        count = sum(isinstance(param, click.Argument) for param in params)
        return [*params[:count], *self._settings, *params[count:]]

    def _option(self, quantity: Quantity) -> click.Option:
        if self.lists:
            about = f"{quantity.about[:1].upper()}{quantity.about[1:]}; as {quantity.example}."
            return click.Option([quantity.option, quantity.name], metavar="LIST", help=about)
        about = f"Another {quantity.about}." if not quantity.is_switch else f"Set {quantity.about}."
        about += " Several one behind the other with commas." if quantity.stacks else ""
        metavar = "on|off" if quantity.is_switch else "VALUE"
        return click.Option([quantity.one_option, quantity.name], metavar=metavar, help=about)
