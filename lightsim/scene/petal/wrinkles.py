"""The fine skin of a petal: striations along the veins, small bumps, flecks of colour.

Each is a sum of plane waves with random directions and phases, the same for the same pattern number,
so heights and slopes come in closed form. Waves that the mesh cannot carry fade out.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.petal.veins import Relief, fan
from lightsim.scene.records import Petal

STRIAE, BUMPS, FLECKS = 22, 26, 30  # waves of each kind
FINEST, COARSEST = 3.0, 6.0  # edge lengths per wave below which it is gone, above which it is whole

POINTS_AT_ONCE = 1000  # so that what is worked on stays in the processor's cache


class Waves(NamedTuple):
    """Plane waves over the fan's own coordinates: (n, 2) per mm, (n,) phases, (n,) heights."""

    number: NDArray
    phase: NDArray
    height: NDArray


def skin_relief(petal: Petal, xy: NDArray) -> Relief:
    """Striations and bumps at points (n, 2) mm of the petal's plane, in units of the relief."""
    random = np.random.default_rng([petal.pattern, 101])
    striae = _waves(random, STRIAE, (0.35, 2.2), along=0.12, spacing_mm=petal.mesh_spacing_mm)
    bumps = _waves(random, BUMPS, (0.28, 1.4), along=None, spacing_mm=petal.mesh_spacing_mm)
    spread, spread_slope = _spread(petal, xy)
    height, slope = np.zeros(len(xy)), np.zeros((len(xy), 2))
    for waves, share in ((striae, 0.22), (bumps, 0.16)):
        z, dz = _sum(waves, spread)
        height += share * z
        slope[:, 0] += share * dz[:, 0] * spread_slope[0]
        slope[:, 1] += share * (dz[:, 0] * spread_slope[1] + dz[:, 1])
    return Relief(height, slope, np.zeros(len(xy)))


def flecks(petal: Petal, xy: NDArray) -> NDArray:
    """Irregular flecks at points (n, 2) mm, (n,) between 0 and 1."""
    random = np.random.default_rng([petal.pattern, 202])
    waves = _waves(random, FLECKS, (0.4, 6.0), along=0.6, spacing_mm=petal.mesh_spacing_mm)
    z, _ = _sum(waves._replace(height=waves.height**0.5), _spread(petal, xy)[0])
    return 0.5 + 0.5 * np.tanh(1.2 * z / max(float(z.std()), 1e-9))


def _waves(
    random: np.random.Generator,
    count: int,
    lengths_mm: tuple[float, float],
    along: float | None,
    spacing_mm: float,
) -> Waves:
    """Waves with lengths spread evenly in octaves and heights in proportion to their length.

    along : spread of their direction about "straight across" as a tangent; None for all directions alike.
    """
    length = np.geomspace(*lengths_mm, num=count)
    tilt = random.normal(0.0, 1.0, count)
    turn = random.uniform(0.0, np.pi, count) if along is None else np.arctan(along * tilt)
    phase = random.uniform(0.0, 2.0 * np.pi, count)
    carried = np.clip((length / spacing_mm - FINEST) / (COARSEST - FINEST), 0.0, 1.0)
    height = length / np.sqrt(0.5 * np.sum(length**2)) * carried
    return Waves(
        np.column_stack([np.cos(turn), np.sin(turn)]) * (2.0 * np.pi / length)[:, None], phase, height
    )


def _sum(waves: Waves, points: NDArray) -> tuple[NDArray, NDArray]:
    """Height (n,) and slopes (n, 2) per mm of the waves at points (n, 2).

    Angles are brought within half a turn of 0, where single precision has them to 2e-7.
    """
    used = waves.height > 0.0
    number, phase, height = waves.number[used], waves.phase[used], waves.height[used]
    steep = (height[:, None] * number).astype(np.float32)
    z, slope = np.zeros(len(points)), np.zeros((len(points), 2))
    for start in range(0, len(points), POINTS_AT_ONCE):
        rows = slice(start, start + POINTS_AT_ONCE)
        turns = (points[rows] @ number.T + phase) / (2.0 * np.pi)
        angle = (2.0 * np.pi * (turns - np.rint(turns))).astype(np.float32)
        z[rows] = np.sin(angle) @ height.astype(np.float32)
        slope[rows] = np.cos(angle) @ steep
    return z, slope


def _spread(petal: Petal, xy: NDArray) -> tuple[NDArray, tuple[NDArray, NDArray]]:
    """Points (n, 2) with the fan straightened, and the slopes of their x over x and over y."""
    opened, steep = fan(xy[:, 1] / petal.length_mm + 0.5)
    opened, steep = 0.45 + 0.55 * opened, 0.55 * steep / petal.length_mm
    straight = np.column_stack([xy[:, 0] / opened, xy[:, 1]])
    return straight, (1.0 / opened, -xy[:, 0] * steep / opened**2)
