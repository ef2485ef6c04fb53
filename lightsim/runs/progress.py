"""How far a longer job has come: the shares of its parts, put together."""

from __future__ import annotations

from collections.abc import Callable

Report = Callable[[float, str], None]
PartProgress = Callable[[float], None]


class JobProgress:
    """Tells one listener the share done of a job made of parts.

    report : called with the share done (0..1, never falling) and what is being done; None for nobody.
    whole : sum of the weights of all parts that will come.
    """

    def __init__(self, report: Report | None, whole: float):
        self._report = report
        self._whole = max(whole, 1e-9)
        self._done = 0.0

    def part(self, weight: float, words: str) -> PartProgress:
        """Begin the next part; returns what the part calls with its own share done (0..1)."""
        start = self._done
        self._done += weight
        self._tell(start, words)
        return lambda share: self._tell(start + weight * min(max(share, 0.0), 1.0), words)

    def finish(self, words: str = "done") -> None:
        """The whole is done."""
        self._tell(self._whole, words)

    def _tell(self, done: float, words: str) -> None:
        if self._report is not None:
            self._report(min(done / self._whole, 1.0), words)
