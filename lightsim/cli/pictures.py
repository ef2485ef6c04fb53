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
from lightsim.cli.page_choices import page_choices
from lightsim.cli.setting_options import SettingsCommand


@main.command("preview", cls=SettingsCommand, lists=False)
@SCENE
@option(
    "-o",
    "--output",
    type=PATH,
    metavar="FILE",
    help="Picture (.png, .jpg; .tif for 16 bits) or linear layers (.npz, .exr).",
)  # fmt: skip
@LIGHT
@option("--white-balance", metavar="NAME", help="A light that comes out white, key, ambient, or kelvin.")
@option("--auto/--as-set", default=None, help="Expose automatically, or as set, whatever the file says.")
@WIDTH
@QUALITY
@option("--show-clipping", is_flag=True, help="Outline and hatch what the sensor clips, with a key.")
@JSON
@QUIET
def preview_command(
    scene: Path,
    output: Path | None,
    light: str | None,
    white_balance: str | None,
    auto: bool | None,
    show_clipping: bool,
    quality: str,
    width_px: int | None,
    as_json: bool,
    quiet: bool,
    **changes: Any,
) -> None:
    """Make one photograph of the set, written to SCENE-preview.png or where -o says.

    A large picture is made strip by strip in little memory and measured averaged down; linear layers are
    always whole.

    \b
    Examples:
      lightsim preview my-set.toml
      lightsim preview my-set.toml -o side.png --angle 80 --clock 9
      lightsim preview my-set.toml --f-number 22 --power 1/4
      lightsim preview my-set.toml -o large.png --width 6000
      lightsim preview my-set.toml -o layers.exr --quality final
    """
    from lightsim.runs.preview import preview_to_file

    with progress_bar(quiet or as_json) as report:
        made, path = preview_to_file(
            scene, output, light=light, changes=changes, white_balance=white_balance, auto=auto,
            show_clipping=show_clipping, quality=quality, width_px=width_px, progress=report,
        )  # fmt: skip
    if as_json:
        print_json({**made.row(), "figures": made.figures(), "written": [path]})
        return
    if not quiet:
        print_table(made.table())
    print_written([path])


@main.command("sweep", cls=SettingsCommand, lists=True)
@SCENE
@LIGHT
@option(
    "-o", "--output", "folder", type=PATH, metavar="DIR", help="Folder for it all; out-SCENE when left out."
)
@QUALITY
@WIDTH
@option("--own-exposure", "exposure", flag_value="own", help="Each frame at its own automatic exposure.")
@option("--auto", "exposure", flag_value="auto", help="One automatic exposure for all frames.")
@option(
    "--hold",
    "exposure",
    flag_value="hold",
    help="Hold the exposure: power makes up for what varies, then ISO; said under each frame.",
)
@option("--force", is_flag=True, help="Make all frames anew, those kept from before too.")
@page_choices(content=True)
@JSON
@QUIET
def sweep_command(
    scene: Path, folder: Path | None, exposure: str | None, as_json: bool, quiet: bool, **options: Any
) -> None:
    """Move the light or a setting step by step: frames, contact sheet, measures, chart, animation.

    A list is start:stop:step or numbers with commas; the step of power, f-number, shutter and ISO is in
    stops. Several values of one thing are the sweep, of two things a grid; a single value of another sets
    it for all frames. Where settings of the exposure vary, each frame is exposed as they say, unless --auto,
    --own-exposure or --hold say otherwise. Layers of light are kept: a sweep that differs in power, shutter,
    ISO or colour alone traces nothing (see lightsim layers). After Ctrl-C the same command goes on where it
    stopped.

    \b
    Examples:
      lightsim sweep my-set.toml
      lightsim sweep my-set.toml --angles 10,45,80 --clock 9
      lightsim sweep my-set.toml --size 20:120:20 -o softer
      lightsim sweep my-set.toml --power 1/128:1/8:1
      lightsim sweep my-set.toml --angles 15,75,135 --f-number 8,16,22
      lightsim sweep my-set.toml --f-number 8,16,22 --hold
      lightsim sweep my-set.toml --diffuser on,off --light flash
      lightsim sweep my-set.toml --hide-captions --credit "Evening class" --paper letter
    """
    from lightsim.runs.sweep.sweep import sweep_to_folder

    with progress_bar(quiet or as_json) as report:
        options = {"exposure": exposure or "set", **options}
        done, paths = sweep_to_folder(scene, folder, progress=report, **options)
    if as_json:
        print_json({**done.as_dict(with_drops=False), "written": paths})
        return
    if not quiet:
        print_table(done.table())
        print_notes(done.notes())
    print_written(paths)


@main.command("compare", cls=SettingsCommand, lists=True)
@click.argument("scenes", nargs=-1, required=True, type=PATH)
@option("--same-exposure", is_flag=True, help="All at the first one's f-number, shutter and ISO.")
@LIGHT
@option("-o", "--output", type=PATH, default=Path("compare.png"), show_default=True, metavar="FILE",
        help="Page (.png, .jpg, .pdf, .svg); the numbers go beside it.")  # fmt: skip
@QUALITY
@WIDTH
@page_choices()
@JSON
@QUIET
def compare_command(
    scenes: tuple[Path, ...], output: Path, as_json: bool, quiet: bool, **options: Any
) -> None:
    """Show several sets, or one with several values of something, side by side.

    Each picture is exposed as its set says; --same-exposure puts all at the first one's settings and says by
    how many stops each moved.

    \b
    Examples:
      lightsim compare window.toml flash.toml
      lightsim compare window.toml flash.toml --same-exposure
      lightsim compare my-set.toml --angles 15,75,135 -o angles.png
      lightsim compare my-set.toml --diffuser on,off
    """
    from lightsim.runs.comparison.compare import compare_to_files

    with progress_bar(quiet or as_json) as report:
        made, paths = compare_to_files(scenes, output, progress=report, **options)
    if as_json:
        print_json({**made.as_dict(), "written": paths})
        return
    if not quiet:
        print_table(made.table())
        print_notes(made.notes())
    print_written(paths)
