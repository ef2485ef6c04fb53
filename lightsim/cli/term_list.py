"""The command that explains the words."""

from __future__ import annotations

import click

from lightsim.cli.common import print_table
from lightsim.cli.group import main


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
