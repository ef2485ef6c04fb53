"""The command that opens the live page."""

from __future__ import annotations

from pathlib import Path

import click

from lightsim.cli.common import PATH, option
from lightsim.cli.group import main


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
