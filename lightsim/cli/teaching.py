"""The commands that make material for students: a handout and a lesson."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lightsim.cli.common import (
    LIGHT,
    PATH,
    QUALITY,
    QUIET,
    WIDTH,
    main,
    option,
    page_choices,
    print_notes,
    print_written,
    progress_bar,
)

if TYPE_CHECKING:
    from lightsim.report.page_options import PageOptions


@main.command()
@click.argument("sources", nargs=-1, required=True, type=PATH, metavar="SCENE|FOLDER...")
@option("--angles", metavar="LIST", help="Degrees off the lens axis; 0:180:15 when nothing else varies.")
@option("--clock", metavar="LIST", help="Clock positions, as 1:12:1 or 9,12,3.")
@option("--distance", metavar="LIST", help="Distances in mm, as 100:400:50.")
@option("--size", metavar="LIST", help="Widths of the light's face (or diffuser) in mm.")
@option("--f-number", metavar="LIST", help="F-numbers, as 8,11,16; they change the depth.")
@option("--extension", metavar="LIST", help="Lengths of all tubes together in mm, as 0:60:12.")
@option("--power", metavar="LIST", help="Flash powers, as 1/64,1/16.")
@option("--shutter", metavar="LIST", help="Shutter times, as 1/250,1/60.")
@option("--iso", metavar="LIST", help="ISO speeds, as 100,400.")
@LIGHT
@option("-o", "--output", type=PATH, metavar="FILE", help="The page; SCENE-handout.html when left out.")
@option("--title", metavar="TEXT", help="Title of the page.")
@option("--ground", type=click.Choice(["light", "dark"]), default="light", show_default=True,
        help="Paper, or dark for a projector.")  # fmt: skip
@option("--no-plan", is_flag=True, help="Leave the plan of the set-up out.")
@QUALITY
@WIDTH
@QUIET
def handout(
    sources: tuple[Path, ...],
    output: Path | None,
    light: str | None,
    title: str | None,
    ground: str,
    no_plan: bool,
    quality: str,
    width_px: int | None,
    quiet: bool,
    **values: Any,
) -> None:
    """Make one HTML file for students: photographs under a slider, exposed on the spot, with the numbers.

    The file holds everything and needs no network: it opens on a phone, prints, and reads without
    its script. Power, shutter, ISO and room light are dragged on the page.

    \b
    Examples:
      lightsim handout my-set.toml
      lightsim handout my-set.toml --angles 15,75,135 --f-number 8,16
      lightsim handout out-my-set -o side-light.html --title "Side light"
    """
    from lightsim.runs.handout.handout import write_handout

    named = {"angle" if name == "angles" else name: value for name, value in values.items()}
    with progress_bar(quiet) as report:
        path = write_handout(
            sources, output, values=named, light=light, quality=quality, width_px=width_px, title=title,
            ground=ground, with_plan=not no_plan, progress=report,
        )  # fmt: skip
    print_written([path])


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
    from lightsim.runs.lesson.lesson import write_lesson
    from lightsim.runs.lesson.lesson_file import load_lesson, shipped_lessons

    if listed:
        print_notes([f"{name}: {load_lesson(path).title}" for name, path in shipped_lessons().items()])
        return
    if source is None:
        raise click.UsageError("found no lesson, allowed a lesson file or a name that --list shows")
    with progress_bar(quiet) as report:
        paths = write_lesson(source, folder, quality=quality, page=page, progress=report)
    print_written(paths)
