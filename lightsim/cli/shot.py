"""Commands for the shot's numbers: the lens train, and exposure traded one thing for another."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from lightsim.cli.common import (
    JSON,
    PATH,
    SCENE,
    main,
    option,
    page_choices,
    print_json,
    print_notes,
    print_table,
    print_written,
)

F_NUMBER = option("--f-number", metavar="F", help="Try this f-number, as marked: 22 or f/22.")


@main.command("lens")
@SCENE
@F_NUMBER
@option("--extension", metavar="MM", help="Try this much extension: 48, or tube by tube 36,12.")
@option("--close-up", metavar="DIOPTRES",
        help="Try a close-up lens, or several as 4,2, the foremost first; 0 takes it off.")  # fmt: skip
@option("--teleconverter", metavar="FACTOR", help="Try a teleconverter: 1.4 or 2; 1 takes it off.")
@option("--reversed", type=click.Choice(["on", "off"]), help="Try the lens back to front, or as usual.")
@option("--magnification", metavar="M", help="Try this setting of the focus ring: the lens by itself.")
@JSON
def lens_command(scene: Path, as_json: bool, **options: str | None) -> None:
    """Figures of the lens train: magnification, working distance, light lost, depth, detail.

    The lens, tubes, teleconverter and close-up lenses stand where they are, one behind the other. What the
    scene leaves open is supposed, named, and its effect given as a range.

    \b
    Examples:
      lightsim lens my-set.toml
      lightsim lens my-set.toml --extension 36 --f-number 16
      lightsim lens my-set.toml --extension 36,12 --close-up 4
    """
    from lightsim.planning.lens_report import lens

    found = lens(scene, **options)
    if as_json:
        print_json(found.as_dict())
        return
    print_table(found.table())
    print_notes(found.notes())


@main.command("exposure")
@SCENE
@option("--f-number", metavar="F", help="Another f-number; several (8,11,16 or 8:22) make a table.")
@option("--iso", metavar="ISO", help="Another ISO speed.")
@option("--shutter", metavar="TIME", help="Another shutter time, as 1/60.")
@option("--power", metavar="SHARE", help="Another flash power, as 1/16 or 1/16 + 1/3.")
@option("--distance", metavar="MM", help="Another distance of the flash.")
@option("--diffuser", type=click.Choice(["on", "off"]), help="The flash's diffuser on or off.")
@option("--extension", metavar="MM", help="Another extension: 48, or tube by tube 36,12.")
@option("--close-up", metavar="DIOPTRES", help="Another close-up lens, or several as 4,2; 0 takes it off.")
@option("--teleconverter", metavar="FACTOR", help="Another teleconverter; 1 takes it off.")
@option("--room", metavar="LUX", help="Another illuminance of the room.")
@option("--solve", type=click.Choice(["power", "distance", "iso", "shutter", "f-number"]),
        help="Hold the exposure by this.")  # fmt: skip
@option("--hold", type=click.Choice(["flash", "room"]), help="The part of the exposure that is held.")
@option("--to-mid-tone", is_flag=True, help="Bring the petal to the mid-tone instead of holding.")
@option("--light", metavar="NAME", help="The flash that is traded; the key when left out.")
@option("--depth", metavar="MM", help="Depth that is to be sharp; what is in focus when left out.")
@option("--traced", is_flag=True, help="Take the petal's level from a small traced picture.")
@option("-o", "--output", type=PATH, metavar="FILE",
        help="Write the chart over f-numbers (.png, .jpg, .pdf, .svg).")  # fmt: skip
@page_choices()
@JSON
def exposure_command(
    scene: Path, page: Any, traced: bool, output: Path | None, as_json: bool, **options: Any
) -> None:
    """Trade the exposure: change one thing and hold it by another; or a table over f-numbers.

    Flash and room light are two exposures in one picture. Power and distance move the flash's part, the
    shutter the room light's, f-number and ISO both.

    \b
    Examples:
      lightsim exposure my-set.toml
      lightsim exposure my-set.toml --f-number 22 --solve power
      lightsim exposure my-set.toml --diffuser off --solve distance
      lightsim exposure my-set.toml --f-number 8:32 --depth 2 -o chart.png
    """
    from lightsim.planning.exposure.exposure import exposure
    from lightsim.report.drawing.page_files import PAGE_SUFFIXES
    from lightsim.report.files.writable import require_file
    from lightsim.runs.steps import draft_petal_colours
    from lightsim.scene.build import files_read
    from lightsim.scene.file.read import load_scene

    if output is not None:
        require_file(output, PAGE_SUFFIXES, files_read(load_scene(scene)))
    trade = {name: options.pop(name) for name in ("solve", "hold", "to_mid_tone", "light", "depth")}
    found = exposure(scene, options, measure=draft_petal_colours if traced else None, **trade)
    written = [] if output is None else found.save_chart(output, page)
    if as_json:
        print_json({**found.as_dict(), "written": written})
        return
    for table in found.tables():
        print_table(table)
    print_notes(found.notes())
    print_table(found.advice_table())
    print_written(written)
