"""One way to compile: every kernel of the tracer is made by a decorator from here.

Compiled code is kept in a folder whose name carries a digest of all kernel sources, so an edit in
one file never leaves another file's stale machine code in use. The folder lies in the user's cache, so a
read-only installation works too; the environment variable LIGHTSIM_CACHE moves it.
"""

from __future__ import annotations

import hashlib
import os
import platform
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache, cached_property, wraps
from pathlib import Path
from typing import Any

import numba
from numba.core import types
from numba.extending import typeof_impl

from lightsim.errors import LightsimError
from lightsim.tracer.kernel_folder import COMPLETE, kernel_folder, mark_complete
from lightsim.tracer.kernels.code_cache import store
from lightsim.tracer.kernels.struct_pointer import holding

HERE = Path(__file__).parent
MOST_THREADS = 1024
LEAST_PARTS = 4  # no part of a loop is smaller than the loop over so many for each thread


@cache
def sources_digest() -> str:
    """A short digest of every kernel source and of the compiler's version."""
    digest = hashlib.sha256(f"{numba.__version__} {platform.python_version()}".encode())
    for source in [*sorted(HERE.glob("*.py")), HERE.parents[1] / "constants.py"]:
        digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


@cache
def cache_folder() -> Path:
    """Where compiled kernels are kept."""
    return kernel_folder(f"kernels-{sources_digest()}")


def compiled() -> bool:
    """Whether a finished compilation of these sources is already kept."""
    return (cache_folder() / COMPLETE).exists()


def mark_compiled() -> None:
    """Remember that every kernel has been compiled once."""
    if not compiles_only():
        mark_complete(cache_folder())


numba.config.CACHE_DIR = str(cache_folder())  # type: ignore[attr-defined]

# NaN and infinity keep their meaning ("nnan" and "ninf" are left out): a ray that meets nothing has an
# infinite distance.
FAST = {"nsz", "arcp", "contract", "afn", "reassoc"}
OPTIONS = {"nogil": True, "error_model": "numpy", "fastmath": FAST}

# Kernels that only kernels call: without reference counts, wrappers for Python and a place in the cache their
# code is smaller, faster and sooner compiled. They must make no arrays and hand none back.
INNER = {**OPTIONS, "_nrt": False, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}


class Kernel:
    """A function that the compiler takes up when it is first called or one that calls it is compiled: most
    are needed only then, and to take them all up takes as long as to fetch what is compiled."""

    def __init__(self, function: Callable[..., Any], made: Callable[[Callable[..., Any]], Any]):
        self.function = function
        self._made = made

    @cached_property
    def dispatcher(self) -> Any:
        """The compiler's own."""
        return self._made(self.function)

    def __call__(self, *args: Any) -> Any:
        return self.dispatcher(*args)


@typeof_impl.register(Kernel)
def _typeof_kernel(kernel: Kernel, _: Any) -> types.Dispatcher:
    return types.Dispatcher(kernel.dispatcher)


def jit_allocating(function: Callable[..., Any]) -> Kernel:
    """A kernel for other kernels that may make arrays."""
    return Kernel(function, numba.njit(**OPTIONS))


def entry_point(function: Callable[..., Any]) -> Kernel:
    """A kernel for Python, kept when it is compiled; other kernels must not call it."""

    def made(function: Callable[..., Any]) -> Any:
        dispatcher = numba.njit(**OPTIONS)(function)
        store(dispatcher, function)
        return dispatcher

    return Kernel(function, made)


def jit(function: Callable[..., Any]) -> Kernel:
    """A kernel for other kernels, compiled for one kind of number: whole numbers of 64 bits, doubles.

    Without that each mixture of widths and of literal numbers would compile it, and all that it calls, anew.
    """

    def made(function: Callable[..., Any]) -> Any:
        dispatcher = numba.njit(**INNER)(function)
        template = dispatcher.get_call_template

        def widened(args: tuple[types.Type, ...], kws: dict[str, types.Type]) -> tuple[object, ...]:
            return template(tuple(_wide(one) for one in args), {key: _wide(one) for key, one in kws.items()})

        dispatcher.get_call_template = widened
        return dispatcher

    return Kernel(function, made)


def _wide(one: types.Type) -> types.Type:
    """The widest type of a number's kind, of a tuple of numbers too; other types as they are."""
    one = types.unliteral(one)
    if isinstance(one, types.Integer) and one != types.uint64:
        return types.int64
    if isinstance(one, types.Float):
        return types.float64
    if isinstance(one, types.UniTuple | types.Tuple):
        return types.Tuple([_wide(item) for item in one])
    return one


def from_python(kernel: Kernel) -> Callable[..., Any]:
    """An inner kernel as one that Python may call."""
    return numba.njit(**OPTIONS)(lambda *args: kernel(*args))


def threaded(loop: Callable[..., None]) -> Callable[..., None]:
    """A kernel over begin, end, *args as a function of how many turns there are and *args, on all cores.

    Numba's own parallel loops compile everything that they call twice, once for each kind of index.
    """
    kernel = entry_point(loop)

    @wraps(loop)
    def run(turns: int, *args: object) -> None:
        if _wanted is None:
            _share_out(kernel, turns, args)
        elif _wanted(loop.__name__):
            kernel(0, 0, *_held(args))

    return run


def _held(args: tuple[object, ...]) -> list[object]:
    """The arguments as kernels take them: tuples of arrays by their place in memory."""
    return [holding(one) if isinstance(one, tuple) else one for one in args]


def single_threaded(instead: Callable[..., Any]) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """A kernel that one thread runs, for Python; where it is not to be compiled (see `only_compile`), what
    `instead` makes of its arguments stands for what it gives back."""

    def made(loop: Callable[..., Any]) -> Callable[..., Any]:
        kernel = entry_point(loop)

        @wraps(loop)
        def run(*args: object) -> Any:
            if _wanted is not None and not _wanted(loop.__name__):
                return instead(*args)
            return kernel(*_held(args))

        return run

    return made


_wanted: Callable[[str], bool] | None = None


def only_compile(wanted: Callable[[str], bool] | None) -> None:
    """From now on compile the kernels for Python whose names are wanted, and run no shared loop; None: run
    them again."""
    global _wanted
    _wanted = wanted


def compiles_only() -> bool:
    """Whether shared loops are compiled but not run."""
    return _wanted is not None


def _share_out(kernel: Kernel, turns: int, args: tuple[object, ...]) -> None:
    """Run the kernel over 0..turns, a few turns at a time, by as many threads as there are cores."""
    threads = cores()
    cuts = _parts(turns, threads)
    parts = iter(cuts)
    given = _held(args)
    kinds = (types.int64, types.int64, *map(numba.typeof, given))
    known = kernel.dispatcher.overloads.get(kinds)
    run = kernel.dispatcher.compile(kinds) if known is None else known.entry_point

    def work() -> None:
        for begin, end in parts:  # each goes to one thread only
            run(begin, end, *given)

    others = [_pool().submit(work) for _ in range(min(threads, len(cuts)) - 1)]
    try:
        work()
    finally:
        for _ in parts:  # after an interruption nothing is begun any more
            pass
        for other in others:
            other.result()


def _parts(turns: int, threads: int) -> list[tuple[int, int]]:
    """A loop's parts, begin and end, in the order in which threads take them: each half of a thread's share
    of what is left, so that the last are small and end together (guided self-scheduling: Polychronopoulos and
    Kuck, IEEE Transactions on Computers C-36 (1987) 1425)."""
    least = max(1, turns // (LEAST_PARTS * threads))
    parts, begin = [], 0
    while begin < turns:
        end = min(turns, begin + max(least, (turns - begin) // (2 * threads)))
        parts.append((begin, end))
        begin = end
    return parts


def cores() -> int:
    """How many threads share a kernel's work: LIGHTSIM_THREADS, or as many as the process has cores."""
    named = os.environ.get("LIGHTSIM_THREADS", "").strip()
    if not named:
        return _usable_cores()
    if not re.fullmatch("0*[1-9][0-9]{0,3}", named) or int(named) > MOST_THREADS:
        found = f"LIGHTSIM_THREADS: found {named[:60]!r}"
        raise LightsimError(f"{found}, allowed a whole number from 1 to {MOST_THREADS}")
    return int(named)


@cache
def _usable_cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@cache
def _pool() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(max(1, cores()), thread_name_prefix="lightsim")
