"""Commands with an option for each setting of a scene, made from the table of what can be changed."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from lightsim.scene.settings.quantity import Quantity


class SettingsCommand(click.Command):
    """A command that takes an option for each quantity, after its arguments.

    lists : whether several values of a quantity are taken, or one alone.
    The table is read when the command is run, since it needs the libraries that scenes do.
    """

    def __init__(self, *arguments: Any, lists: bool, **options: Any):
        super().__init__(*arguments, **options)
        self.lists = lists

    @cached_property
    def _settings(self) -> list[click.Parameter]:
        from lightsim.scene.settings.quantities import QUANTITIES

        return [self._option(quantity) for quantity in QUANTITIES.values()]

    def get_params(self, ctx: click.Context) -> list[click.Parameter]:
        """All parameters."""
        params = super().get_params(ctx)
        count = sum(isinstance(param, click.Argument) for param in params)
        return [*params[:count], *self._settings, *params[count:]]

    def _option(self, quantity: Quantity) -> click.Option:
        if self.lists:
            about = f"{quantity.about[:1].upper()}{quantity.about[1:]}; as {quantity.example}."
            return click.Option([quantity.option, quantity.name], metavar="LIST", help=about)
        about = f"Another {quantity.about}." if not quantity.is_switch else f"Set {quantity.about}."
        about += " Several one behind the other with commas." if quantity.stacks else ""
        metavar = "on|off" if quantity.is_switch else "VALUE"
        return click.Option([quantity.one_option, quantity.name], metavar=metavar, help=about)
