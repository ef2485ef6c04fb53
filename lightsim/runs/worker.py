"""A second thread that finishes one frame while the next is traced."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from types import TracebackType


class Worker:
    """Does one piece of work at a time, in the order given, beside the thread that gives it.

    Used in a `with` block. An error of a piece is raised, as it is, by the next call of `give`, `check` or
    `wait`, and at the end of the block: there before any error of the block itself, since that piece came
    first. After an interruption the piece under way is still finished.
    """

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="lightsim-worker")
        self._given: Future[None] | None = None

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
        """Hand over a piece of work; waits for the one before, so that no more than one is under way."""
        self.wait()
        self._given = self._pool.submit(work)

    def check(self) -> None:
        """Raise the error of the piece under way, if it failed already."""
        if self._given is not None and self._given.done():
            self.wait()

    def wait(self) -> None:
        """Wait until the piece under way is finished."""
        given, self._given = self._given, None
        if given is not None:
            given.result()
