"""Command lines to run on a scene, by a seed; none of them traces more than a tiny draft."""

from __future__ import annotations

import random

CHECKING = (
    ("check",),
    ("lens",),
    ("exposure",),
    ("check", "--json"),
    ("lens", "--json"),
    ("exposure", "--json"),
)
VALUES = (
    "8", "f/11", "1/60", "0", "-1", "5e-324", "1e308", "nan", "9" * 400, "", " ", "²", "8,11,16",
    "8:22", "0:1:1e-308", "1/16 + 1/3", "\x1b[31m", "x" * 500, "on", "key", "None", "--", "1:2:3:4",
    ",", ":", "8:22:1", "200", "1/0",
)  # fmt: skip
OPTIONS = {
    "lens": ("--f-number", "--extension", "--close-up", "--magnification"),
    "exposure": (
        *("--f-number", "--iso", "--shutter", "--power", "--distance", "--extension", "--room", "--depth"),
        *("--solve", "--hold", "--light", "--diffuser"),
    ),
    "check": ("--nope", "--json"),
}
SOLVED = ("power", "distance", "iso", "shutter", "f-number")


def command_line(chance: random.Random) -> list[str]:
    """A command with up to three options; the scene's name comes after it."""
    words = list(chance.choice(CHECKING))
    for _ in range(chance.choice((0, 0, 0, 0, 0, 1, 1, 2))):
        option = chance.choice(OPTIONS[words[0]])
        words.append(option)
        if option != "--json":
            words.append(chance.choice(SOLVED if option == "--solve" else VALUES))
    return words
