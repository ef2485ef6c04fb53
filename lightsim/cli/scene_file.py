"""Commands for the scene file: writing one to start from, and saying what it holds."""

from __future__ import annotations

from pathlib import Path

import click

from lightsim.cli.common import JSON, PATH, SCENE, option, print_json, print_notes, print_table, print_written
from lightsim.cli.group import main


@main.command()
@click.argument("file", type=PATH)
@option("--force", is_flag=True, help="Replace the file if it is there.")
def new(file: Path, force: bool) -> None:
    """Write a commented scene file to start from.

    \b
    Example:
      lightsim new my-set.toml
    """
    from lightsim.planning.new_scene import write_template

    print_written([write_template(file, force=force)])


@main.command()
@SCENE
@JSON
def check(scene: Path, as_json: bool) -> None:
    """Say what is on the set in words and numbers, or what is wrong with the file.

    \b
    Example:
      lightsim check my-set.toml
    """
    from lightsim.planning.set_description import check_file

    found = check_file(scene)
    if as_json:
        print_json(found.as_dict())
        return
    print_table(found.table())
    print_notes([f"Mind: {warning}." for warning in found.warnings])
