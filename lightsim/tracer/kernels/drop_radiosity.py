"""Radiosity between a drop's wet base and the petal round it, drop by drop."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels.jit import jit, threaded

ROUNDS = 7  # of light between base and base


class DropMatrices(NamedTuple):
    """Transfer in drops of one contact angle, irradiance per unit of exitance: base_to_base (nodes, nodes),
    base_to_ring (places, nodes), ring_to_ring (places, places); reflectance (m, 3): of the petal under each
    of the drops."""

    base_to_base: NDArray
    base_to_ring: NDArray
    ring_to_ring: NDArray
    reflectance: NDArray


@jit
def _add_product(matrix, values, out):
    """Add a matrix (rows, columns) times values (3, columns) to out (3, rows)."""
    for r in range(matrix.shape[0]):
        a, b, c = 0.0, 0.0, 0.0
        for j in range(matrix.shape[1]):
            a += matrix[r, j] * values[0, j]
            b += matrix[r, j] * values[1, j]
            c += matrix[r, j] * values[2, j]
        out[0, r] += a
        out[1, r] += b
        out[2, r] += c


@jit
def _send(matrices, through, base, sent, q):
    """Fill sent (3, nodes): the exitance of drop q's base in its light."""
    for c in range(3):
        for n in range(sent.shape[1]):
            sent[c, n] = matrices.reflectance[q, c] * base[q, c, n] + through[q, c]


@threaded
def exchange(begin, end, matrices, through, ring_exitance, base, by_drop):
    """Pass light round in some drops (m).

    through (m, 3) : exitance of their bases by light from behind the petal. ring_exitance (m, 3, places) : of
    the petal round them. base (m, 3, nodes) : irradiance on the bases from outside; what comes from the bases
    themselves is added. by_drop (m, 3, places) : what base and rings send to the rings is added.
    """
    sent = np.empty((3, base.shape[2]))
    for q in range(begin, end):
        outside = base[q].copy()
        for _ in range(ROUNDS):
            _send(matrices, through, base, sent, q)
            base[q, :, :] = outside
            _add_product(matrices.base_to_base, sent, base[q])
        _send(matrices, through, base, sent, q)
        _add_product(matrices.base_to_ring, sent, by_drop[q])
        _add_product(matrices.ring_to_ring, ring_exitance[q], by_drop[q])
