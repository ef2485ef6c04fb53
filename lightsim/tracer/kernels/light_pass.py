"""Records that kernels of direct light share: what a shadow ray may meet, what is lit, and what lights it."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels.camera_paths import TAG
from lightsim.tracer.kernels.drop_spheres import Drops
from lightsim.tracer.kernels.emitters import Boards, Lamp, Vector
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.path_store import Parts, Paths
from lightsim.tracer.kernels.petal_mesh import Petal
from lightsim.tracer.kernels.vectors import row


class SceneGeometry(NamedTuple):
    """What a shadow ray may meet, with room for a walk through its trees; each thread has its own stack."""

    petal: Petal
    drops: Drops
    boards: Boards
    stack: NDArray


class LightSample(NamedTuple):
    """A point of an emitter and its radiance times the area that the point stands for."""

    y: Vector
    power: float


class LightSettings(NamedTuple):
    """What holds for a whole picture.

    seed : of the sample points.  lens_at (3,) : the pupil's centre.  pixel_mm, height : of the picture.
    least : share of the light from which caustics are sampled pixel by pixel.
    """

    seed: int
    lens_at: NDArray
    pixel_mm: float
    height: int
    least: float


class LightRows(NamedTuple):
    """One emitter's light on the kept paths of some rows, as Python hands it to `direct_light.add_direct`."""

    paths: Paths
    scene: SceneGeometry
    lamp: Lamp
    cache: Any
    drop_light: Any
    settings: LightSettings
    parts: Parts


class LightPass(NamedTuple):
    """One emitter's pass over a row of pixels: what is lit, what lights it, what may be in the way, and
    where the light goes.

    drop_light : `pixel_cells.DropLight`.  horizon (STRIPS,) : room for a pixel's.  caustics : the pixel's
    `caustic_list.CausticList`.
    """

    paths: Paths
    scene: SceneGeometry
    emitter: Any
    cache: Any
    drop_light: Any
    settings: LightSettings
    parts: Parts
    horizon: NDArray
    caustics: Any


class PetalPixel(NamedTuple):
    """A pixel some of whose paths see dry petal straight.

    number : among the rows at hand.  x, n : mean place and mean normal on the side seen.  front : whether
    that is the petal's front.  spread : how far the paths' places lie from the mean, mm.  whole : whether
    all of the paths see one side of the petal.  sharp : whether one normal and one colour serve for all
    of them.
    """

    number: int
    x: Vector
    n: Vector
    front: bool
    spread: float
    whole: bool
    sharp: bool


@jit
def petal_pixel(paths, p, sharp_mm):
    """Pixel p; in focus where its paths' places lie within `sharp_mm` of their mean."""
    front = paths.petal_tag[paths.mean_end[p]] & TAG.front != 0
    spread, whole = paths.mean_reach[p] * 1.0, paths.whole[p] == 1
    x, n = row(paths.mean_place, p), row(paths.mean_normal, p)
    return PetalPixel(p, x, n, front, spread, whole, whole and spread < sharp_mm)


def no_stack() -> NDArray[np.int32]:
    """For Python's `SceneGeometry`: each thread makes its own."""
    return np.empty(0, dtype=np.int32)
