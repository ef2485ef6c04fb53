"""One way to compile: every kernel of the tracer is made by `jit`, `making` or `parallel` from here.

Compiled code is kept in a folder whose name carries a digest of all kernel sources, so an edit in
one file never leaves another file's stale machine code in use. The folder lies in the user's cache, so a
read-only installation works too; the environment variable LIGHTSIM_CACHE moves it.
"""

from __future__ import annotations

import hashlib
import os
import platform
import tempfile
from functools import cache
from pathlib import Path

import numba

HERE = Path(__file__).parent


@cache
def sources_digest() -> str:
    """A short digest of every kernel source and of the compiler's version."""
    digest = hashlib.sha256(f"{numba.__version__} {platform.python_version()}".encode())
    for source in [*sorted(HERE.glob("*.py")), HERE.parents[1] / "constants.py"]:
        digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


def _writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    return os.access(folder, os.W_OK)


@cache
def cache_folder() -> Path:
    """Where compiled kernels are kept: the first of the places below that can be written."""
    named = os.environ.get("LIGHTSIM_CACHE")
    home = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    places = [Path(named)] if named else []
    places += [home / "lightsim", Path(tempfile.gettempdir()) / "lightsim-cache"]
    for place in places:
        folder = place / f"kernels-{sources_digest()}"
        if _writable(folder):
            return folder
    return Path(tempfile.mkdtemp(prefix="lightsim-"))


def compiled() -> bool:
    """Whether a finished compilation of these sources is already kept."""
    return (cache_folder() / "complete").exists()


def mark_compiled() -> None:
    """Remember that every kernel has been compiled once."""
    (cache_folder() / "complete").touch()


if not os.environ.get("NUMBA_CACHE_DIR"):
    numba.config.CACHE_DIR = str(cache_folder())  # type: ignore[attr-defined]

# NaN and infinity keep their meaning ("nnan" and "ninf" are left out): a ray that meets nothing has an
# infinite distance.
FAST = {"nsz", "arcp", "contract", "afn", "reassoc"}
OPTIONS = {"cache": True, "nogil": True, "error_model": "numpy", "fastmath": FAST}

# Most kernels make no arrays: without reference counting their code is smaller, faster and sooner compiled.
# Those that make arrays, hand arrays back or are called by Python are `making`: a mistake here frees arrays
# that are in use.
jit = numba.njit(_nrt=False, **OPTIONS)
making = numba.njit(**OPTIONS)
parallel = numba.njit(parallel=True, **OPTIONS)
