"""The command that makes a lesson."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from lightsim.cli.common import PATH, QUALITY, QUIET, option, print_notes, print_written, progress_bar
from lightsim.cli.group import main
from lightsim.cli.page_choices import page_choices

if TYPE_CHECKING:
    from lightsim.report.page_options import PageOptions


@main.command()
@click.argument("source", required=False, metavar="LESSON")
@option("-o", "--output", "folder", type=PATH, metavar="DIR", help="Folder; lesson-NAME when left out.")
@option("--list", "listed", is_flag=True, help="List the lessons that come with the program.")
@QUALITY
@page_choices()
@QUIET
def lesson(
    source: str | None, folder: Path | None, listed: bool, quality: str, page: PageOptions, quiet: bool
) -> None:
    """Make a lesson: a page for phones, a worksheet with its answers, and slides.

    LESSON is a file (TOML): a title, scenes, and steps with a text in Markdown, what varies, a question and
    an answer; {petal contrast at 75°} in a text becomes the number that is measured there. Or it is the name
    of a lesson that comes with the program.

    \b
    Examples:
      lightsim lesson --list
      lightsim lesson direction-of-light
      lightsim lesson my-lesson.toml --ground dark
    """
    from lightsim.runs.lesson.lesson import lesson as make
    from lightsim.runs.lesson.lesson_file import load_lesson, shipped_lessons

    if listed:
        print_notes([f"{name}: {load_lesson(path).title}" for name, path in shipped_lessons().items()])
        return
    if source is None:
        raise click.UsageError("found no lesson, allowed a lesson file or a name that --list shows")
    with progress_bar(quiet) as report:
        paths = make(source, folder, quality=quality, page=page, progress=report)
    print_written(paths)
