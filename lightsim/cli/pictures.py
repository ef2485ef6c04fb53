"""Commands that make pictures: one photograph, a sweep, several side by side, a plan, the live page."""

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
    SettingsCommand,
    main,
    option,
    page_choices,
    print_made,
    progress_bar,
)


@main.command("preview", cls=SettingsCommand, lists=False)
@SCENE
@option("-o", "--output", type=PATH, metavar="FILE",
        help="Picture (.png, .jpg; .tif for 16 bits) or linear layers (.npz, .exr).")  # fmt: skip
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
    print_made(made, [path], as_json, quiet)


@main.command("sweep", cls=SettingsCommand, lists=True)
@SCENE
@LIGHT
@option(
    "-o", "--output", "folder", type=PATH, metavar="DIR", help="Folder for it all; out-SCENE when left out."
)
@QUALITY
@WIDTH
@option("--own-exposure", "exposure", flag_value="own", multiple=True,
        help="Each frame at its own automatic exposure.")  # fmt: skip
@option("--auto", "exposure", flag_value="auto", multiple=True, help="One automatic exposure for all frames.")
@option("--hold", "exposure", flag_value="hold", multiple=True,
        help="Hold the exposure: power makes up for what varies, then ISO; said under each frame."
        )  # fmt: skip
@option("--force", is_flag=True, help="Make all frames anew, those kept from before too.")
@page_choices(content=True)
@JSON
@QUIET
def sweep_command(
    scene: Path, folder: Path | None, exposure: tuple[str, ...], as_json: bool, quiet: bool, **options: Any
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

    if len(set(exposure)) > 1:
        raise click.UsageError("--own-exposure, --auto, --hold: found several, allowed one of them")
    options["exposure"] = exposure[0] if exposure else "set"
    with progress_bar(quiet or as_json) as report:
        done, paths = sweep_to_folder(scene, folder, progress=report, **options)
    print_made(done, paths, as_json, quiet, lambda: done.as_dict(with_drops=False))


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
    print_made(made, paths, as_json, quiet)


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
    print_made(made, paths, as_json, quiet, lambda: {**made.as_dict(), "view_3d": missing is None})


@main.command()
@click.argument("scene", type=PATH, required=False)
@option("--no-browser", is_flag=True, help="Print the address and open no browser.")
@option("--port", type=click.IntRange(1024, 65535), metavar="N", help="Use this port; a free one otherwise.")
def live(scene: Path | None, no_browser: bool, port: int | None) -> None:
    """Open a page where the light is moved by hand and the photograph follows.

    Without SCENE the page starts with a choice of sets. It answers on this machine only and is not to be
    opened to a network; from another machine use a tunnel, such as ssh -L 8123:127.0.0.1:8123 with
    --port 8123 --no-browser here, and open the printed address there.

    \b
    Examples:
      lightsim live my-set.toml
      lightsim live
      lightsim live my-set.toml --no-browser --port 8123
    """
    from lightsim.live.serve import serve

    serve(scene, port=port, browser=not no_browser, say=click.echo)
