"""Scenes as an attacker or an unlucky user would write them: mutations of good ones, by a seed."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

Mutation = Callable[[str, random.Random], str]

NUMBERS = (
    "0", "-1", "1e308", "-1e308", "5e-324", "1e-9", "nan", "inf", "-inf", "1e400", "0x" + "f" * 40, "9" * 30,
    "9" * 5000, "0x" + "f" * 5000, "1_000", "0.1", "2", "45", "90", "180.0", "1e6", "-0.0", "007", "1e-300",
)  # fmt: skip
TEXTS = (
    '""', '"x"', '"1/60"', '"f/8"', '"1/0"', '"1e999"', '"\\u0000"', '"\\u001b[31m"',
    '"' + "x" * 3000 + '"', '"²"', '"1/60s"', '"25 %"', '"9:30"', '"60 mm"', '"../../../etc/passwd"',
    '"/dev/zero"', '"key"', '"drop"', '"mesh"', '"flat"', '"\\ud7ff\\u202e"', '"$\\\\frac{$"',
    '"[red]"', '"nan"', '"infinity"', '"+"', '"/"',
)  # fmt: skip
OTHERS = (
    "true", "false", "[]", "[1]", "[1, 2, 3]", "[[1]]", "{}", "{ a = 1 }", "1979-05-27", "07:32:00", "[true]",
    "[0.1, nan, 1e308]", '["a"]', "[" * 50 + "]" * 50, "[1, 2]", "[0, 0]", "[0, 0, 0]",
)  # fmt: skip
LINES = (
    "[petal]", "[[light]]", "[lens]", "[lens.stacked]", "[light.diffuser]", "[[drops.placed]]",
    "[camera.focus]", "[motion]", "[noise]", "[exposure]", "[ambient]", "[[card]]", "[backdrop]",
    "nope = 1", "a.b.c = 1", "=", "[", "x", '"""', "[petal.petal]", "\x00", "\ufeff", "f_number = 8",
    "about = 3", ".".join("a" * 300) + " = 1",
)  # fmt: skip
SIGNS = (0, 9, 10, 34, 39, 46, 61, 91, 92, 93, 127, 0xE9, 0x202E, 0x1F337)
FACTORS = (0.01, 0.1, 0.3, 0.5, 0.9, 1.1, 1.5, 2.0, 3.0, 10.0, 100.0, -1.0, 1e-6, 1e6, 1e-9, 1e9)
KEY_LINE = re.compile(r"^(\s*[\w.]+\s*=\s*)([^#\n]*)(.*)$", re.MULTILINE)


def mutated(text: str, chance: random.Random) -> str:
    """A scene after one to three mutations."""
    for _ in range(chance.choice((1, 1, 1, 1, 2, 2, 3))):
        text = chance.choice(MUTATIONS)(text, chance)
    return text


def other_value(text: str, chance: random.Random) -> str:
    """Another value for a key."""
    value = chance.choice(chance.choice((NUMBERS, NUMBERS, TEXTS, OTHERS)))
    return _with_value(text, chance, lambda _: value)


def scaled_value(text: str, chance: random.Random) -> str:
    """A number made larger or smaller."""

    def scaled(old: str) -> str:
        try:
            return repr(float(old) * chance.choice(FACTORS))
        except ValueError:
            return old

    return _with_value(text, chance, scaled)


def _with_value(text: str, chance: random.Random, change: Callable[[str], str]) -> str:
    found = list(KEY_LINE.finditer(text))
    if not found:
        return text
    chosen = chance.choice(found)
    line = chosen[1] + change(chosen[2].strip()) + chosen[3]
    return text[: chosen.start()] + line + text[chosen.end() :]


def without_line(text: str, chance: random.Random) -> str:
    """A line left out."""
    lines = text.split("\n")
    del lines[chance.randrange(len(lines))]
    return "\n".join(lines) or "\n"


def with_line(text: str, chance: random.Random) -> str:
    """A line put in, or one said twice."""
    lines = text.split("\n")
    line = chance.choice((chance.choice(LINES), chance.choice(lines)))
    lines.insert(chance.randrange(len(lines) + 1), line)
    return "\n".join(lines)


def swapped_lines(text: str, chance: random.Random) -> str:
    """Two lines in each other's place."""
    lines = text.split("\n")
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return "\n".join(lines)


def flipped_sign(text: str, chance: random.Random) -> str:
    """One sign replaced by another."""
    place = chance.randrange(len(text))
    return text[:place] + chr(chance.choice(SIGNS)) + text[place + 1 :]


def cut(text: str, chance: random.Random) -> str:
    """The file's beginning."""
    return text[: chance.randrange(1, len(text) + 1)]


# As often as they stand here: most change a number, so that many a scene is still one.
MUTATIONS: tuple[Mutation, ...] = (
    other_value, other_value, scaled_value, scaled_value, scaled_value, scaled_value, scaled_value,
    without_line, without_line, with_line, swapped_lines, flipped_sign, cut,
)  # fmt: skip
