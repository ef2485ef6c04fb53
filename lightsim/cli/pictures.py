"""Commands that make pictures: one photograph, a sweep, several side by side."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from lightsim.cli.common import (
    JSON,
    LIGHT,
    PATH,
    QUALITY,
    QUIET,
    SCENE,
    WIDTH,
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
