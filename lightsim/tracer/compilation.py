"""Compiling the kernels, once on a machine: by two processes at a time where there are two cores.

They run `compile_share`, which takes a small picture without tracing it; so nothing here knows the tracer.
"""

from __future__ import annotations

import os
import subprocess
import sys

from lightsim.tracer.kernel_folder import VARIABLE, forget_old
from lightsim.tracer.kernels import jit

# About half of the work: the loops that find light by way of drops. The other process does the rest.
FIRST_SHARE = {
    "add_direct",
    "classify_coarse",
    "classify_fine",
    "classify_drops",
    "list_senders",
}
FIRST_SHARE |= {"reach_table", "count_splats"}
SHARES = ("first", "second")


def compile_kernels() -> None:
    """Compile what is not yet kept of these sources; afterwards every process fetches it."""
    if jit.compiled() or jit.compiles_only() or jit.cores() < 2:
        return
    forget_old(jit.cache_folder())
    helpers: list[subprocess.Popen[bytes]] = []
    try:
        for share in SHARES:
            helpers.append(
                subprocess.Popen(
                    [sys.executable, "-m", "lightsim.tracer.compile_share", share],
                    stderr=subprocess.DEVNULL,
                    env={**os.environ, VARIABLE: str(jit.cache_folder().parent)},
                )
            )
        for helper in helpers:
            helper.wait()  # if it failed, its share is compiled where it is first called
    except OSError:  # no other process here: all is compiled where it is first called
        return
    finally:
        for helper in helpers:
            if helper.poll() is None:
                helper.terminate()
                helper.wait()
