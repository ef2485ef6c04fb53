"""What is known of one emitter's light before it is added: which drops it reaches, its cached visibility."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import drop_visibility, visibility_cache
from lightsim.tracer.kernels.drop_visibility import STATE, DropVisibility
from lightsim.tracer.kernels.emitters import Lamp
from lightsim.tracer.kernels.horizon import STRIPS
from lightsim.tracer.kernels.horizon_map import HorizonMap
from lightsim.tracer.kernels.visibility_cache import VisibilityCache
from lightsim.tracer.prepared_scene import Ground

INDIRECT_FINEST = 3  # quadrature points along a face, for its indirect light


def drop_visibility_of(ground: Ground, face: Lamp) -> DropVisibility:
    """How the drops see an emitter."""
    packed = ground.packed
    many = len(packed.rims)
    found = DropVisibility(
        np.zeros((many, 2), dtype=np.uint8),
        np.zeros((many, drop_visibility.CANDIDATES), dtype=np.int32),
        np.zeros(many, dtype=np.int64),
    )
    drop_visibility.classify_drops(many, packed.petal, packed.drops, face, found)
    return found


def reach_for(ground: Ground, face: Lamp) -> NDArray[np.float64]:
    """How far light by way of a drop is looked for, for a face as wide as this."""
    return _widened(ground.reach, float(np.arctan(face.size[4] / np.linalg.norm(face.frame[:3]))))


def _widened(reach: NDArray, half_angle: float) -> NDArray:
    """The reach table for a light this wide (rad): each entry the greatest within that angle of its own."""
    angle = np.arccos(np.linspace(-1.0, 1.0, reach.shape[1]))
    within = np.abs(angle[:, None] - angle[None, :]) <= half_angle
    return np.ascontiguousarray(np.stack([reach[:, near, :].max(axis=1) for near in within], axis=1))


def new_cache(height: int, width: int, face: Lamp, normal: NDArray) -> VisibilityCache:
    """Of a picture of this size, before any block is classified: every path traces its own shadow ray.

    normal (3,) : the petal's, on the whole; strips of the emitter run across its horizon.
    """
    right, up = float(normal @ face.frame[3:6]), float(normal @ face.frame[6:9])
    across = abs(right) * face.size[0] >= abs(up) * face.size[1]
    coarse, fine = (
        cell_grid(height, width, size) for size in (visibility_cache.COARSE, visibility_cache.BLOCK)
    )
    elevation = np.full((*fine, 2, STRIPS), np.nan, dtype=np.float32)
    return VisibilityCache(
        np.full(coarse, STATE.mixed, dtype=np.uint8),
        np.full(fine, STATE.mixed, dtype=np.uint8),
        np.zeros((*fine, 2), dtype=np.float32),
        np.zeros((*fine, 2), dtype=np.uint32),
        np.full(fine, STATE.mixed, dtype=np.uint8),
        np.zeros((*fine, 1), dtype=np.float32),
        np.full((*fine, 2), -1.0, dtype=np.float32),
        HorizonMap(elevation, int(across), float(np.copysign(1.0, right if across else up))),
    )


def cell_grid(height: int, width: int, size: int) -> tuple[int, int]:
    """Rows and columns of cells of so many pixels."""
    return -(-height // size), -(-width // size)
