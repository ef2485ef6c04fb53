"""The command that draws a plan of the set-up."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from lightsim.cli.common import (
    JSON,
    PATH,
    QUALITY,
    QUIET,
    SCENE,
    option,
    print_json,
    print_notes,
    print_table,
    print_written,
    progress_bar,
)
from lightsim.cli.group import main
from lightsim.cli.page_choices import page_choices


@main.command()
@SCENE
@option("-o", "--output", "outputs", type=PATH, multiple=True, metavar="FILE",
        help="Sheets as .png, .pdf or .svg; may be given twice. PNG and PDF when left out.")  # fmt: skip
@option("--projection", type=click.Choice(["first", "third"]), default=None,
        help="First-angle or third-angle; first on A4, third on letter paper when left out.")  # fmt: skip
@page_choices()
@option("--open", "walk", is_flag=True, help="Walk round the set in a window; writes nothing.")
@QUALITY
@JSON
@QUIET
def plan(
    scene: Path,
    outputs: tuple[Path, ...],
    walk: bool,
    projection: str | None,
    page: Any,
    quality: str,
    as_json: bool,
    quiet: bool,
) -> None:
    """Draw the sheets from which someone else can build the set: SCENE-plan.png and SCENE-plan.pdf.

    The first has the set from the side and from above, to scale, with dimensions and a table of places; the
    second the set in three dimensions, the picture it gives, the settings, and the cautions it calls for.

    \b
    Examples:
      lightsim plan my-set.toml
      lightsim plan my-set.toml -o wall.pdf
      lightsim plan my-set.toml --open
    """
    from lightsim.runs.setup_plan import plan_to_files, walk_round

    if walk:
        walk_round(scene)
        return
    with progress_bar(quiet or as_json) as report:
        made, paths, missing = plan_to_files(
            scene, outputs, quality=quality, page=page, projection=projection, progress=report
        )
    if missing is not None:
        click.echo(f"lightsim: {missing}", err=True)
    if as_json:
        print_json({**made.as_dict(), "view_3d": missing is None, "written": paths})
        return
    if not quiet:
        print_table(made.table())
        print_notes(made.notes())
    print_written(paths)
