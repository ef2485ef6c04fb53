"""One family of errors, each of which says what is wrong and what would be accepted.

A message answers four questions in one sentence: which file, which key, what was
found, what is allowed. The command line prints it and ends with exit code 2.
"""

from __future__ import annotations

from pathlib import Path


class LightsimError(Exception):
    """Anything the user can mend: a file, a key, a value, a folder, a size."""


class SceneError(LightsimError):
    """One or more things wrong with a scene.

    Parameters
    ----------
    problems : one sentence each, naming key, value found and what is allowed.
    path : the scene file, or None for a scene made in Python.
    """

    def __init__(self, problems: list[str] | str, path: str | Path | None = None):
        self.problems = [problems] if isinstance(problems, str) else list(problems)
        self.path = None if path is None else Path(path)
        where = "" if self.path is None else f"{self.path}: "
        super().__init__("\n".join(where + problem for problem in self.problems))


class PictureError(LightsimError):
    """A picture that cannot be made or read: too large for memory, wrong kind, no such file."""


class OutputError(LightsimError):
    """A place that cannot be written: no folder, no permission, a file in the way."""
