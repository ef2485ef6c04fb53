"""What is known of one face's light before it is added: which drops it reaches, its shadows by blocks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.first_irradiance import State
from lightsim.tracer.kernels import drop_visibility, visibility_cache
from lightsim.tracer.kernels.emitters import Lamp
from lightsim.tracer.kernels.skyline import STRIPS
from lightsim.tracer.kernels.visibility_cache import Looks
from lightsim.tracer.prepared_scene import Ground

INDIRECT_FINEST = 3  # quadrature points along a face whose indirect light is asked for


def drop_state(ground: Ground, face: Lamp, own: bool) -> State:
    """The drops in a face's light, a lamp's own or a card's: see `drop_visibility.look_at_drops`."""
    packed = ground.packed
    many = len(packed.rims)
    state = np.zeros((many, 2), dtype=np.uint8)
    shades = np.zeros((many, drop_visibility.CANDIDATES), dtype=np.int32)
    count = np.zeros(many, dtype=np.int64)
    sees = np.zeros((many, drop_visibility.PATCHES**2 + 1 if own else 1), dtype=np.uint8)
    found = state, shades, count, sees
    drop_visibility.look_at_drops(many, packed.petal, packed.drops, packed.foot_face, face, *found)
    return found


def reach_for(ground: Ground, face: Lamp) -> NDArray[np.float64]:
    """How far light by way of a drop is looked for, for a face as wide as this."""
    return _widened(ground.reach, float(np.arctan(face.size[4] / np.linalg.norm(face.frame[:3]))))


def _widened(reach: NDArray, half_angle: float) -> NDArray:
    """The reach table for a light this wide (rad): each entry the greatest within that angle of its own."""
    angle = np.arccos(np.linspace(-1.0, 1.0, reach.shape[1]))
    within = np.abs(angle[:, None] - angle[None, :]) <= half_angle
    return np.ascontiguousarray(np.stack([reach[:, near, :].max(axis=1) for near in within], axis=1))


def no_looks(height: int, width: int, face: Lamp, normal: NDArray) -> Looks:
    """Of a picture of this size, before any block is looked at: every path has to find out for itself.

    normal (3,) : the petal's, on the whole; strips of the face run across its horizon.
    """
    right, up = float(normal @ face.frame[3:6]), float(normal @ face.frame[6:9])
    across = abs(right) * face.size[0] >= abs(up) * face.size[1]
    wide, close = (
        cells_of(height, width, visibility_cache.WIDE),
        cells_of(height, width, visibility_cache.BLOCK),
    )
    return Looks(
        np.full(wide, visibility_cache.MIXED, dtype=np.uint8),
        np.zeros((*wide, 2), dtype=np.float32),
        np.zeros(wide, dtype=np.uint64),
        np.zeros((*wide, 2), dtype=np.uint32),
        np.full(close, visibility_cache.MIXED, dtype=np.uint8),
        np.zeros((*close, 2), dtype=np.float32),
        np.zeros((*close, 2), dtype=np.uint32),
        np.full(close, visibility_cache.MIXED, dtype=np.uint8),
        np.zeros((*close, 1), dtype=np.float32),
        np.full((*close, 2, STRIPS), np.nan, dtype=np.float32),
        int(across),
        float(np.copysign(1.0, right if across else up)),
    )


def cells_of(height: int, width: int, size: int) -> tuple[int, int]:
    """Rows and columns of cells of so many pixels."""
    return -(-height // size), -(-width // size)
