"""A face's light on the set, as the kernels of first irradiance take it."""

from __future__ import annotations

from typing import NamedTuple

from numpy.typing import NDArray

from lightsim.tracer.kernels.drop_spheres import Drops
from lightsim.tracer.kernels.emitters import Boards, Lamp
from lightsim.tracer.kernels.petal_mesh import Petal


class FaceLight(NamedTuple):
    """A glowing face, the set that it shines on, and the boards that may stand in its way.

    state, shades, shade_count : of the drops in its light, see `drop_visibility.classify_drops`.
    """

    petal: Petal
    drops: Drops
    boards: Boards
    lamp: Lamp
    state: NDArray
    shades: NDArray
    shade_count: NDArray
