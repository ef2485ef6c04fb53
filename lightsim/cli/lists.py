"""Commands that list: the layers of light that are kept on disk, the words that pages use."""

from __future__ import annotations

import click

from lightsim.cli.common import JSON, main, option, print_json, print_notes, print_table


@main.command()
@option("--empty", is_flag=True, help="Remove all of it.")
@JSON
def layers(empty: bool, as_json: bool) -> None:
    """List the layers of light that are kept, or remove them.

    What preview, sweep, compare and plan trace is kept, so that another power, shutter, ISO, white balance or
    colour of a light traces nothing. At most 2 GB are kept; LIGHTSIM_LAYERS_GB sets another limit. A sweep of
    twelve angles at 960 pixels takes about 60 MB, half of it the room's light, which the flash's head hides
    in part.

    \b
    Examples:
      lightsim layers
      lightsim layers --empty
    """
    from lightsim.runs.layer_store import list_layers

    found = list_layers(empty=empty)
    if as_json:
        print_json(found.as_dict())
        return
    if not empty and found.pictures:
        print_table(found.table())
    print_notes(found.notes())


@main.command()
@click.argument("term", required=False)
def glossary(term: str | None) -> None:
    """Explain the words that pages and tables use, all of them or one.

    \b
    Examples:
      lightsim glossary
      lightsim glossary "effective f-number"
    """
    from lightsim.report.tables.measures_table import things_table
    from lightsim.report.terms import GLOSSARY, term_named

    print_table(things_table([term_named(term)] if term is not None else list(GLOSSARY.items())))
