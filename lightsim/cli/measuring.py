"""The command that measures a photograph of one's own."""

from __future__ import annotations

from pathlib import Path

import click

from lightsim.cli.common import JSON, PATH, main, option, print_json, print_notes, print_table


@main.command("measure")
@click.argument("photograph", type=PATH)
@option("--drop", "drops", multiple=True, metavar="X,Y,R",
        help="Column, row and radius of a drop's disc in pixels; once for each drop.")  # fmt: skip
@option("--petal", type=PATH, metavar="MASK",
        help="A picture as large, white where the petal is; all of it when left out.")  # fmt: skip
@option("--mm-per-px", type=float, metavar="MM", help="Size of a pixel at the subject, for lengths in mm.")
@option("--clock", type=click.FloatRange(0.0, 12.0), metavar="CLOCK",
        help="Where the light stood, seen from the camera; tells highlights from caustics.")  # fmt: skip
@JSON
def measure_command(
    photograph: Path,
    drops: tuple[str, ...],
    petal: Path | None,
    mm_per_px: float | None,
    clock: float | None,
    as_json: bool,
) -> None:
    """Measure a photograph of your own (PNG, JPEG, TIFF) as simulated ones are measured.

    What is petal follows from the drops, which are left out of it, or from a mask. The file is taken for
    sRGB: a camera's own tone curve makes contrasts larger or smaller than those of its raw picture.

    \b
    Examples:
      lightsim measure petal.tif --petal mask.png --mm-per-px 0.004
      lightsim measure petal.tif --mm-per-px 0.004 --drop 1520,980,210 --drop 700,400,95 --clock 10
    """
    from lightsim.measures import drop_rows, frame_row, measure_file
    from lightsim.report.tables.measures_table import measures_table

    found = measure_file(photograph, drops, petal, mm_per_px=mm_per_px, light_clock=clock)
    if as_json:
        print_json({**frame_row(found), "drops": drop_rows(found)})
        return
    print_table(measures_table([frame_row(found)]))
    print_notes(["Taken for sRGB: a camera's own tone curve is in the contrasts."])
