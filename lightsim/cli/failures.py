"""Whatever goes wrong ends as one sentence on standard error and an exit code, never as a traceback."""

from __future__ import annotations

import atexit
import codecs
import gc
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from difflib import SequenceMatcher
from functools import partial
from typing import Any
from unicodedata import normalize

import click

from lightsim.errors import LightsimError, OutputError, echoed, named
from lightsim.memory import require_address_space

HANDLER = "lightsim-plain-signs"
PLAIN = {
    "×": "x", "÷": "/", "°": " deg", "–": "-", "—": "-", "−": "-", "•": "*", "·": "*", "±": "+-", "≤": "<=",
    "≥": ">=", "≈": "~", "→": "->", "←": "<-", "µ": "u", "μ": "u", "′": "'", "″": '"', "’": "'", "‘": "'",
    "“": '"', "”": '"', "Δ": "d", "λ": "lambda", "√": "sqrt", "─": "-", "│": "|", "✓": "yes", "✗": "no",
}  # fmt: skip


def set_up_streams() -> None:
    """Make standard output fit for everything that is printed.

    Signs that its encoding lacks are written plainly; bytes of a file's name that are no text go out as they
    came. OutputError where standard output is closed: the next file opened would take its place.
    """
    if sys.stderr is None:  # what libraries say must not land in a file that takes the place
        os.open(os.devnull, os.O_WRONLY)
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    if sys.stdout is None:
        raise OutputError("standard output: found it closed, allowed one that can be written")
    codecs.register_error(HANDLER, _plainly)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=HANDLER)


def _plainly(error: UnicodeError) -> tuple[str | bytes, int]:
    """What stands for the first sign that an encoding lacks, and where to go on."""
    assert isinstance(error, UnicodeEncodeError)
    sign = error.object[error.start]
    if "\udc80" <= sign <= "\udcff":
        return bytes([ord(sign) - 0xDC00]), error.start + 1
    return plain_sign(sign), error.start + 1


def plain_sign(sign: str) -> str:
    """A sign in ASCII."""
    if sign in PLAIN:
        return PLAIN[sign]
    return normalize("NFKD", sign).encode("ascii", "ignore").decode() or "?"


BAD_INPUT = 2
BROKEN_PIPE = 1
OWN_FAULT = 70
INTERRUPTED, TERMINATED = 130, 143
TRACEBACK = "LIGHTSIM_TRACEBACK"  # set it to see where a fault of our own lies


# What photographers call an option otherwise.
SYNONYMS = {
    "--aperture": ("--f-number",),
    "--time": ("--shutter",),
    "--shutter-speed": ("--shutter",),
    "--tubes": ("--extension",),
    "--bellows": ("--extension", "--tubes"),
    "--dioptres": ("--close-up",),
    "--sensitivity": ("--iso",),
    "--lux": ("--room",),
    "--angle": ("--angles",),
    "--angles": ("--angle",),
}


class Carried(Exception):
    """Carries an exception past click, which would answer it itself."""


class Terminated(KeyboardInterrupt):
    """The process was asked to end."""


class Commands(click.Group):
    """A group whose commands turn what the user can mend into sentences and exit code 2."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command."""
        try:
            return super().invoke(ctx)
        except (KeyboardInterrupt, EOFError, OSError) as error:
            raise Carried from error

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        """The command of that name; a usage error names the nearest one."""
        name = args[0]
        if self.get_command(ctx, name) is None and not name.startswith("-"):
            allowed = nearest_word(name, self.list_commands(ctx))
            raise click.UsageError(
                f"{named(name)}: found no such command, allowed {allowed} (the nearest)", ctx
            )
        return super().resolve_command(ctx, args)

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        **extra: Any,
    ) -> Any:
        """Run a command line; ends the process, with a sentence and an exit code where something is wrong."""
        run = partial(super().main, args, prog_name, complete_var, standalone_mode=False, **extra)
        if not standalone_mode:
            return run()

        def work() -> int:
            set_up_streams()
            require_address_space()
            code: Any = run()
            sys.stdout.flush()
            return code if isinstance(code, int) else 0

        # Products of matrices here are too small to share: threads of their own would spin beside ours.
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
        atexit.register(gc.freeze)  # else all objects are gone through as the process ends, 0.3 s
        with _termination_as_interruption():
            sys.exit(exit_code_of(work))


@contextmanager
def _termination_as_interruption() -> Iterator[None]:
    """SIGTERM ends the work as Ctrl-C does."""

    def stop(_number: int, _frame: Any) -> None:
        raise Terminated

    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def exit_code_of(work: Callable[[], int]) -> int:
    """Do the work and return its exit code; what goes wrong is printed as one sentence."""
    try:
        return work()
    except Carried as carried:
        error: BaseException = carried.__cause__ or carried
    except (Exception, KeyboardInterrupt) as raised:
        error = raised
    return _told(error)


def _told(error: BaseException) -> int:
    if isinstance(error, BrokenPipeError):
        _silence_output()
        return BROKEN_PIPE
    if isinstance(error, KeyboardInterrupt | click.Abort):
        complain(stopped_words(error))
        return TERMINATED if isinstance(error, Terminated) else INTERRUPTED
    sentence = sentence_for(error)
    if sentence is None:
        if os.environ.get(TRACEBACK):
            raise error
        _silence_output()
        complain(
            f"found a fault of its own ({type(error).__name__}: {named(error)}); please report it, with what "
            f"{TRACEBACK}=1 shows"
        )
        return OWN_FAULT
    complain(sentence)
    _silence_output()
    return BAD_INPUT


def sentence_for(error: BaseException) -> str | None:
    """What is wrong, a line for each problem; None for what no user can mend."""
    if isinstance(error, LightsimError):
        return str(error)
    if isinstance(error, click.UsageError):
        return usage_words(error)
    if isinstance(error, click.ClickException):
        return echoed(error.format_message())
    if isinstance(error, MemoryError):
        return "memory: found too little for this, allowed a smaller --width, a coarser mesh, or more memory"
    if isinstance(error, OSError):
        place = "input or output" if error.filename is None else named(error.filename)
        reason = (error.strerror or str(error)).lower()
        return f"{place}: {reason}"
    return None


def usage_words(error: click.UsageError) -> str:
    """A mistaken command line in one sentence, with the nearest option or command."""
    path = "lightsim" if error.ctx is None else error.ctx.command_path
    more = f"see {path} --help"
    command = None if error.ctx is None else error.ctx.command
    if isinstance(error, click.NoSuchOption) and command is not None and error.ctx is not None:
        options = [name for one in command.get_params(error.ctx) for name in (*one.opts, *one.secondary_opts)]
        known = [name for name in options if name.startswith("--")]
        found = named(error.option_name)
        meant = next((name for name in SYNONYMS.get(found, ()) if name in known), nearest_word(found, known))
        return f"found the option {found}, which there is not, allowed {meant}; {more}"
    said = " ".join(error.format_message().split()).rstrip(".")
    return f"{echoed(said)}; {more}"


def nearest_word(word: str, known: list[str]) -> str:
    """The known word that is most like another."""
    return max(known, key=lambda one: SequenceMatcher(None, word, one).ratio())


def complain(text: str) -> None:
    """One line for each problem on standard error."""
    for line in text.splitlines():
        click.echo(f"lightsim: {line}", err=True)


def stopped_words(stop: BaseException) -> str:
    """What an interruption left, and how to go on."""
    folder = getattr(stop, "folder", None)
    if folder is None:
        return "stopped; nothing was written"
    done, whole = stop.done, stop.whole  # type: ignore[attr-defined]
    if done == 0:
        return "stopped before a frame was done; nothing was written"
    return (
        f"stopped with {done} of {whole} frames kept in {named(folder)}; the same command goes on from there"
    )


def _silence_output() -> None:
    """What is still to be written to standard output goes nowhere: the process then ends quietly."""
    try:
        sys.stdout.flush()
    except (OSError, ValueError, AttributeError, OutputError):
        try:
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        except (OSError, ValueError, AttributeError):
            return
