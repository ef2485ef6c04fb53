"""Standard output, whatever it is: closed, full, or of an encoding that lacks the trade's signs."""

from __future__ import annotations

import codecs
import os
import sys
from unicodedata import normalize

from lightsim.errors import OutputError

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
