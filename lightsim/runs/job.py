"""A longer job: how far it has come, its parts put together, and threads that do pieces of it beside."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from types import TracebackType

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


class Worker:
    """Does pieces of work, in the order given, beside the thread that gives them.

    Used in a `with` block. An error of a piece is raised, as it is, by the next call of `give`, `check` or
    `wait`, and at the end of the block: there before any error of the block itself, since that piece came
    first. After an interruption the pieces that were begun are still finished.

    most : how many pieces may be under way at a time.
    """

    def __init__(self, most: int = 1) -> None:
        self._most = most
        self._pool = ThreadPoolExecutor(most, thread_name_prefix="lightsim-worker")
        self._given: deque[Future[None]] = deque()

    def __enter__(self) -> Worker:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None or issubclass(kind, Exception):
                self.wait()
        finally:
            self._pool.shutdown(wait=True)

    def give(self, work: Callable[[], None]) -> None:
        """Hand over a piece of work; waits until fewer than `most` are under way."""
        while len(self._given) >= self._most:
            self._given.popleft().result()
        self._given.append(self._pool.submit(work))

    def check(self) -> None:
        """Raise the error of a piece that failed already."""
        while self._given and self._given[0].done():
            self._given.popleft().result()

    def wait(self) -> None:
        """Wait until all pieces are finished."""
        while self._given:
            self._given.popleft().result()
