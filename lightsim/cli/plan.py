"""The command that draws a plan of the set-up."""

from __future__ import annotations

from pathlib import Path

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


@main.command()
@SCENE
@option("-o", "--output", "outputs", type=PATH, multiple=True, metavar="FILE",
        help="Page as .png or .pdf; give it twice for both. Without it both are written.")  # fmt: skip
@option("--open", "walk", is_flag=True, help="Walk round the set in a window; writes nothing.")
@QUALITY
@JSON
@QUIET
def plan(
    scene: Path, outputs: tuple[Path, ...], walk: bool, quality: str, as_json: bool, quiet: bool
) -> None:
    """Draw a page from which someone else can build the set: SCENE-plan.png and SCENE-plan.pdf.

    On it are the set in three dimensions, from above and from the side with distances, heights and angles,
    the settings, the picture it gives, and the cautions that it calls for.

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
        made, paths, missing = plan_to_files(scene, outputs, quality=quality, progress=report)
    if missing is not None:
        click.echo(f"lightsim: {missing}", err=True)
    if as_json:
        print_json({**made.as_dict(), "view_3d": missing is None, "written": paths})
        return
    if not quiet:
        print_table(made.table())
        print_notes(made.notes())
    print_written(paths)
