"""Compiling the kernels, once on a machine: by two processes at a time where there are two cores."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace

import numpy as np

from lightsim.scene.records import Card, Scene
from lightsim.tracer.kernel_folder import VARIABLE, forget_old
from lightsim.tracer.kernels import jit

# About half of the work: the loops that gather light from drops. The helper does the rest.
OURS = {"add_direct", "weak_light", "look_widely", "look_closely", "look_at_drops", "list_uneven"}
OURS |= {"reach_table", "_items_below", "share_out"}


def compile_kernels() -> None:
    """Compile what is not yet kept of these sources; afterwards every process fetches it."""
    if jit.compiled() or jit.compiles_only() or jit.cores() < 2:
        return
    forget_old(jit.cache_folder())
    try:
        helper = subprocess.Popen(
            [sys.executable, "-m", "lightsim.tracer.compilation"],
            stderr=subprocess.DEVNULL,
            env={**os.environ, VARIABLE: str(jit.cache_folder().parent)},
        )
    except OSError:  # no second process here: all is compiled where it is first called
        return
    try:
        _compile(ours=True)
    except BaseException:
        helper.terminate()
        raise
    finally:
        helper.wait()  # if it failed, its share is compiled where it is first called


def _small_set() -> Scene:
    """A set that takes all kernels: of two cards one is a main light, since the lamp looks away."""
    lamp = replace(Scene().lights[0], position_mm=(75.0, 0.0, -10.0), aim_mm=(104.0, 0.0, 60.0))
    cards = (
        Card(angle_deg=60.0, clock=3.0, distance_mm=120.0),
        Card(name="dark", angle_deg=110.0, clock=9.0),
    )
    return replace(Scene(), lights=(lamp,), cards=cards)


def _compile(ours: bool) -> None:
    """Take a small picture without tracing it, which compiles a share of all kernels."""
    from lightsim.tracer.view import View

    jit.only_compile(lambda name: (name in OURS) == ours)
    try:
        with np.errstate(all="ignore"):  # of arrays that no loop has filled
            View(_small_set(), width_px=16, samples=1).trace()
    finally:
        jit.only_compile(None)


if __name__ == "__main__":
    _compile(ours=False)
