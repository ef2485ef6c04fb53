"""More threads, which finish frames while the next are traced or read."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from types import TracebackType


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
