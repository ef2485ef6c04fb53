"""The commands: each reads its options, calls one function and prints what came of it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lightsim.errors import LightsimError

if TYPE_CHECKING:
    from lightsim.shoot.meter import Report

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
    from lightsim.trace import compiled

    if not quiet and not compiled():
        click.echo("compiling the renderer, once on this machine; this takes a minute or two", err=True)
    bar = Bar(quiet)
    try:
        yield bar.report
    finally:
        bar.close()


def print_json(value: Any) -> None:
    """Numbers as JSON on standard output; what is not finite becomes null."""
    import json

    from lightsim.present.files import plain_value

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


@main.command()
@click.argument("file", type=PATH)
@option("--force", is_flag=True, help="Replace the file if it is there.")
def new(file: Path, force: bool) -> None:
    """Write a commented scene file to start from.

    \b
    Example:
      lightsim new my-set.toml
    """
    from lightsim.shoot.new import write_template

    print_written([write_template(file, force=force)])


@main.command()
@SCENE
@JSON
def check(scene: Path, as_json: bool) -> None:
    """Say what is on the set in words and numbers, or what is wrong with the file.

    \b
    Example:
      lightsim check my-set.toml
    """
    from lightsim.shoot.check import check_file

    found = check_file(scene)
    if as_json:
        print_json(found.as_dict())
        return
    print_table(found.table())
    print_notes([f"Mind: {warning}." for warning in found.warnings])


@main.command()
@SCENE
@option(
    "-o", "--output", type=PATH, metavar="FILE", help="Picture (.png, .jpg) or linear layers (.npz, .exr)."
)
@LIGHT
@option("--angle", type=float, metavar="DEG", help="Put it at this angle off the lens axis; 90 is the side.")
@option("--clock", type=float, metavar="CLOCK", help="Put it at this clock position: 12 above, 3 right.")
@option("--distance", type=float, metavar="MM", help="Put it at this distance from the subject.")
@option("--size", type=float, metavar="MM", help="Give its face this width; the height follows.")
@WIDTH
@QUALITY
@option("--show-clipping", is_flag=True, help="Mark the pixels that the sensor clips.")
@JSON
@QUIET
def preview(
    scene: Path,
    output: Path | None,
    light: str | None,
    show_clipping: bool,
    as_json: bool,
    quiet: bool,
    **options: Any,
) -> None:
    """Make one photograph of the set, written to SCENE-preview.png or where -o says.

    \b
    Examples:
      lightsim preview my-set.toml
      lightsim preview my-set.toml -o side.png --angle 80 --clock 9
      lightsim preview my-set.toml -o layers.exr --quality final
    """
    from lightsim.shoot.preview import preview_to_file

    with progress_bar(quiet or as_json) as report:
        made, path = preview_to_file(
            scene, output, light=light, show_clipping=show_clipping, progress=report, **options
        )
    if as_json:
        print_json({**made.row(), "written": [path]})
        return
    if not quiet:
        print_table(made.table())
        print_notes(made.notes())
    print_written([path])


@main.command()
@SCENE
@option("--angles", metavar="LIST", help="Degrees off the lens axis; 0:180:15 when nothing else varies.")
@option("--clock", metavar="LIST", help="Clock positions, as 1:12:1 or 9,12,3.")
@option("--distance", metavar="LIST", help="Distances in mm, as 100:400:50.")
@option("--size", metavar="LIST", help="Widths of the light's face in mm; its height follows.")
@LIGHT
@option(
    "-o", "--output", "folder", type=PATH, metavar="DIR", help="Folder for it all; out-SCENE when left out."
)
@QUALITY
@WIDTH
@option("--own-exposure", is_flag=True, help="Each frame at its own automatic exposure.")
@option("--force", is_flag=True, help="Make all frames anew, those kept from before too.")
@JSON
@QUIET
def sweep(scene: Path, folder: Path | None, as_json: bool, quiet: bool, **options: Any) -> None:
    """Move the light step by step: frames, contact sheet, measures, chart, animation.

    A list is start:stop:step or numbers with commas. Several values of one thing are the sweep; a single
    value of another sets it for all frames. After Ctrl-C the same command goes on where it stopped.

    \b
    Examples:
      lightsim sweep my-set.toml
      lightsim sweep my-set.toml --angles 10,45,80 --clock 9
      lightsim sweep my-set.toml --size 20:120:20 -o softer
    """
    from lightsim.shoot.sweep import sweep_to_folder

    with progress_bar(quiet or as_json) as report:
        done, paths = sweep_to_folder(scene, folder, progress=report, **options)
    if as_json:
        print_json({**done.as_dict(with_drops=False), "written": paths})
        return
    if not quiet:
        print_table(done.table())
        print_notes(done.notes())
    print_written(paths)


@main.command()
@click.argument("scenes", nargs=-1, required=True, type=PATH)
@option("--angles", metavar="LIST", help="Degrees off the lens axis for the light, as 15,75,135.")
@option("--clock", metavar="LIST", help="Clock positions for the light, as 9,12,3.")
@LIGHT
@option("-o", "--output", type=PATH, default=Path("compare.png"), show_default=True, metavar="FILE",
        help="Picture (.png, .jpg); the numbers go beside it.")  # fmt: skip
@QUALITY
@WIDTH
@JSON
@QUIET
def compare(scenes: tuple[Path, ...], output: Path, as_json: bool, quiet: bool, **options: Any) -> None:
    """Show several sets, or one at several angles, side by side at the same exposure.

    \b
    Examples:
      lightsim compare window.toml flash.toml
      lightsim compare my-set.toml --angles 15,75,135 -o angles.png
    """
    from lightsim.shoot.compare import compare_to_files

    with progress_bar(quiet or as_json) as report:
        made, paths = compare_to_files(scenes, output, progress=report, **options)
    if as_json:
        print_json({**made.as_dict(), "written": paths})
        return
    if not quiet:
        print_table(made.table())
        print_notes([f"Exposure: {made.exposure_note}."])
    print_written(paths)
