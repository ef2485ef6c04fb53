"""Commands for the scene file: writing one to start from, and saying what it holds."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click

from lightsim.cli.common import (
    JSON,
    PATH,
    SCENE,
    main,
    option,
    print_json,
    print_notes,
    print_table,
    print_written,
)

GEAR = (
    ("lens", "MM", "Focal length of the lens", "100"),
    (
        "magnification",
        "M",
        "What the lens gives by itself at its nearest; 1 is life size, 0 at infinity",
        "1",
    ),
    ("free-distance", "MM", "Free distance before the bare lens there, where known (none)", "140"),
    ("tubes", "MM,MM", "Lengths of the extension tubes (none)", "36,12"),
    ("close-up", "D,D", "Strengths of the close-up lenses in dioptres (none)", "none"),
    ("teleconverter", "FACTOR", "Factor of a teleconverter (none)", "none"),
    ("reversed", "on|off", "The lens back to front", "off"),
    ("second-lens", "MM", "Focal length of a lens screwed back to front before it (none)", "none"),
    ("f-number", "F", "F-number as marked", "11"),
    ("guide-number", "M", "Guide number of the flash at ISO 100, in metres", "20"),
    ("diffuser", "MMxMM", "Width and height of the diffuser before the flash (none)", "100x80"),
    ("room", "LUX", "Light of the room", "150"),
)


USUAL_LENS = ("100", "1")  # focal length and magnification, whose free distance is known


def gear_options(command: Callable) -> Callable:
    """An option for each piece of gear."""
    for name, metavar, words, usual in reversed(GEAR):
        other = ", none with another lens" if name == "free-distance" else ""
        about = f"{words}; {usual} when left out{other}."
        command = option(f"--{name}", metavar=metavar, help=about)(command)
    return command


def ask_for_gear(given: dict[str, str]) -> dict[str, str]:
    """The gear that is given, and prompted answers for the rest; a wrong answer is prompted for again."""
    from lightsim.errors import LightsimError
    from lightsim.planning.new_scene import gear_value

    def checked(name: str) -> Callable[[str], str]:
        def check(text: str) -> str:
            try:
                gear_value(name, text)
            except LightsimError as error:
                raise click.UsageError(str(error)) from None
            return text

        return check

    answers: dict[str, str] = {}
    for name, _, words, usual in GEAR:
        if name == "free-distance" and (answers["lens"], answers["magnification"]) != USUAL_LENS:
            usual = "none"
        answers[name] = given.get(name) or click.prompt(words, default=usual, value_proc=checked(name))
    return answers


@main.command()
@click.argument("file", type=PATH)
@gear_options
@option("--ask", is_flag=True, help="Ask for the gear that is not given.")
@option("--demo", is_flag=True, help="Write the demo scene instead: a dewy petal in side light.")
@option("--force", is_flag=True, help="Replace the file if it is there.")
def new(file: Path, ask: bool, demo: bool, force: bool, **gear: str | None) -> None:
    """Write a commented scene file to start from, with your own gear.

    The keys that matter come first, the rest below as comments. The flash gets the power that brings the
    petal to the mid-tone.

    \b
    Examples:
      lightsim new my-set.toml
      lightsim new my-set.toml --lens 100 --tubes 36,12 --close-up 4 --guide-number 28 --diffuser 60x40
      lightsim new my-set.toml --lens 50 --magnification 0 --reversed on --tubes 120
      lightsim new my-set.toml --ask
      lightsim new dewy-petal.toml --demo
    """
    from lightsim.planning.new_scene import gear_of, write_demo, write_template

    given = {name.replace("_", "-"): text for name, text in gear.items() if text is not None}
    if demo:
        if given or ask:
            beside = "--ask" if ask else f"--{next(iter(given))}"
            raise click.UsageError(f"--demo: found it beside {beside}, allowed alone: its gear is its own")
        print_written([write_demo(file, force=force)])
        return
    print_written([write_template(file, gear_of(ask_for_gear(given) if ask else given), force=force)])


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
    notes = [f"Supposed: {'; '.join(found.supposed)}."] if found.supposed else []
    print_notes([*notes, *(f"Mind: {warning}." for warning in found.warnings)])
