"""One family of errors, each of which says what is wrong and what would be accepted.

A message answers four questions in one sentence: which file, which key, what was
found, what is allowed. The command line prints it and ends with exit code 2.
"""

from __future__ import annotations

import re
from pathlib import Path
from unicodedata import category

LONGEST_NAME = 200  # characters of a name that a message echoes
LONGEST_SENTENCE = 2000


def printable(text: object) -> str:
    """Text with control characters, line breaks, marks of direction and broken bytes escaped."""
    signs = str(text)
    if signs.isprintable():  # nearly all: none of the categories below
        return signs
    return "".join(
        sign.encode("unicode_escape").decode() if category(sign) in _UNPRINTABLE else sign for sign in signs
    )


_UNPRINTABLE = ("Cc", "Cf", "Cs", "Zl", "Zp")


def named(thing: object) -> str:
    """A file's name, or a text of the user's, as messages echo it: printable, cut short when long."""
    text = str(thing)
    text = printable(text[: LONGEST_NAME + 1])
    return text if len(text) <= LONGEST_NAME else text[: LONGEST_NAME - 3] + "..."


def echoed(sentence: str) -> str:
    """A sentence, printable, with every long word and a long sentence cut short."""
    sentence = re.sub(rf"(\S{{{LONGEST_NAME - 3}}})\S{{4,}}", r"\1...", sentence[: LONGEST_SENTENCE + 1])
    return printable(sentence if len(sentence) <= LONGEST_SENTENCE else sentence[:LONGEST_SENTENCE] + "...")


class LightsimError(Exception):
    """Anything the user can mend: a file, a key, a value, a folder, a size. message : one sentence."""

    def __init__(self, message: str):
        super().__init__(echoed(message))


class SceneError(LightsimError):
    """One or more things wrong with a scene.

    Parameters
    ----------
    problems : one sentence each, naming key, value found and what is allowed.
    path : the scene file, or None for a scene made in Python.
    """

    def __init__(self, problems: list[str] | str, path: str | Path | None = None):
        several = [problems] if isinstance(problems, str) else list(problems)
        self.problems = [echoed(problem) for problem in several]
        self.path = None if path is None else Path(path)
        where = "" if self.path is None else f"{named(self.path)}: "
        Exception.__init__(self, "\n".join(where + problem for problem in self.problems))


class PictureError(LightsimError):
    """A picture that cannot be made or read: too large for memory, wrong kind, no such file."""


class OutputError(LightsimError):
    """A place that cannot be written: no folder, no permission, a file in the way."""
