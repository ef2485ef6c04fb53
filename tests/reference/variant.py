"""The fastest way in which Mitsuba runs on this machine: `llvm_ad_rgb` needs an LLVM of 16 or newer."""

from __future__ import annotations

import os
import re
from pathlib import Path

FIRST_LLVM = 16  # an older one ends the process
FOLDERS = ("/usr/lib/x86_64-linux-gnu", "/usr/lib/aarch64-linux-gnu", "/usr/lib64", "/usr/lib")
WHERE = "DRJIT_LIBLLVM_PATH"


def newest_llvm() -> str | None:
    """The library that DRJIT_LIBLLVM_PATH names, or the newest one in the usual folders."""
    if os.environ.get(WHERE):
        return os.environ[WHERE]
    found = []
    for folder in map(Path, FOLDERS):
        for file in folder.glob("libLLVM*so*") if folder.is_dir() else ():
            version = re.search(r"(\d+)", file.name.replace("libLLVM", ""))
            if version and int(version[1]) >= FIRST_LLVM:
                found.append((int(version[1]), str(file)))
    return max(found)[1] if found else None


def choose() -> str:
    """Set Mitsuba's variant for this process, once, and name it."""
    import mitsuba

    if mitsuba.variant() is None:
        library = newest_llvm()
        if library is not None:
            os.environ[WHERE] = library
        mitsuba.set_variant("scalar_rgb" if library is None else "llvm_ad_rgb")
    return str(mitsuba.variant())
