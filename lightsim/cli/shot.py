"""Commands for the shot's numbers: the lens train, and exposure traded one thing for another."""

from __future__ import annotations

from pathlib import Path

from lightsim.cli.common import JSON, SCENE, option, print_json, print_notes, print_table
from lightsim.cli.group import main

F_NUMBER = option("--f-number", metavar="F", help="Try this f-number, as marked: 22 or f/22.")


@main.command()
@SCENE
@F_NUMBER
@option("--extension", metavar="MM", help="Try this much extension, all tubes together.")
@option("--close-up", metavar="DIOPTRES", help="Try a close-up lens of this strength; 0 takes it off.")
@option("--magnification", metavar="M", help="Try this setting of the focus ring: the lens by itself.")
@JSON
def rig(scene: Path, as_json: bool, **options: str | None) -> None:
    """Figures of the lens train: magnification, light lost, depth, detail.

    \b
    Examples:
      lightsim rig my-set.toml
      lightsim rig my-set.toml --extension 36 --f-number 16
    """
    from lightsim.shoot.rig import rig as work_out

    found = work_out(scene, **options)
    if as_json:
        print_json(found.as_dict())
        return
    print_table(found.table())
    print_notes(found.notes())
