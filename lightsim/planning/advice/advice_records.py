"""What a piece of advice holds."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True)
class Advice:
    """One piece of advice.

    topic : a word or two.  sentence : plain words with the number in them.  rule : what is behind it.
    number, unit : for programs.  minds : False where it only says that all is well.
    on : names of the things on the set that bring it, "camera" too.
    """

    topic: str
    sentence: str
    rule: str
    number: float | None = None
    unit: str = ""
    minds: bool = True
    on: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """All of it."""
        return asdict(self)
