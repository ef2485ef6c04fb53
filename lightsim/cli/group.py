"""The group that every command joins."""

from __future__ import annotations

import click

from lightsim.cli.failures import Commands


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="lightsim")
def main() -> None:
    """See and measure the light on a wet flower before the photograph is taken.

    A scene file says what stands on the table: petal, drops, camera, lights.

    \b
    Example:
      lightsim new my-set.toml
      lightsim preview my-set.toml
      lightsim sweep my-set.toml
    """
