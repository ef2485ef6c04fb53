"""A share of all kernels compiled in a process of its own: python -m lightsim.tracer.compile_share first."""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np

from lightsim.scene.records import Card, Scene
from lightsim.tracer.compilation import FIRST_SHARE, SHARES
from lightsim.tracer.kernels import jit
from lightsim.tracer.view import View


def small_set() -> Scene:
    """A set that takes all kernels: of two cards one is a main light, since the lamp looks away."""
    lamp = replace(Scene().lights[0], position_mm=(75.0, 0.0, -10.0), aim_mm=(104.0, 0.0, 60.0))
    cards = (
        Card(angle_deg=60.0, clock=3.0, distance_mm=120.0),
        Card(name="dark", angle_deg=110.0, clock=9.0),
    )
    return replace(Scene(), lights=(lamp,), cards=cards)


def compile_share(share: str) -> None:
    """Take a small picture without tracing it, which compiles the kernels of one of SHARES."""
    jit.only_compile(lambda name: (name in FIRST_SHARE) == (share == SHARES[0]))
    try:
        with np.errstate(all="ignore"):  # of arrays that no loop has filled
            View(small_set(), width_px=16, samples=1).trace()
    finally:
        jit.only_compile(None)


if __name__ == "__main__":
    compile_share(sys.argv[1])
