"""Soft light between a drop's wet base and the petal round it, drop by drop."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels.jit import jit, threaded
from lightsim.tracer.kernels.vectors import along, row, times


class Settling(NamedTuple):
    """What goes round in drops of one shape: of `drop_transfer.Shape` members (m,), thrown (nodes,), back
    (nodes, nodes), base (places, nodes), petal (places, places); near, beneath (places,): the sums over rows
    of petal, and of petal and base; how often `rounds`.

    Of all drops: reflectance, transmittance (nd, 3); straight (nd, nodes): first light and the dome's on the
    base, own (nd, nodes): of it what camera paths are given; behind (nd, 3): light on the petal's back; ring
    (nd, places, 3): first light round the drop; far (nd, places, 3): what comes there by way of it from far
    off, less what it hides; soft (nd, 3): soft light on the petal about it.
    """

    members: NDArray
    thrown: NDArray
    back: NDArray
    base: NDArray
    petal: NDArray
    near: NDArray
    beneath: NDArray
    rounds: int
    reflectance: NDArray
    transmittance: NDArray
    straight: NDArray
    own: NDArray
    behind: NDArray
    ring: NDArray
    far: NDArray
    soft: NDArray


@jit
def _passed(weights, i, values):
    """Row i of weights (rows, n) times values (3, n), one row for each colour."""
    a, b, c = 0.0, 0.0, 0.0
    for j in range(weights.shape[1]):
        a += weights[i, j] * values[0, j]
        b += weights[i, j] * values[1, j]
        c += weights[i, j] * values[2, j]
    return a, b, c


@jit
def _put(values, i, colour):
    values[0, i], values[1, i], values[2, i] = colour


@jit
def _on_base(s, k, through, outside, whole, before, source):
    """Light on drop k's base, `whole` (3, nodes), thrown back to it again and again."""
    rho = row(s.reflectance, k)
    nodes = s.thrown.shape[0]
    for n in range(nodes):
        light = s.straight[k, n]
        at = light + outside[k, n, 0], light + outside[k, n, 1], light + outside[k, n, 2]
        at = along(at, through, s.thrown[n])
        _put(source, n, at)
        _put(whole, n, at)
    for _ in range(s.rounds):
        for c in range(3):
            for n in range(nodes):
                before[c, n] = rho[c] * whole[c, n]
        for n in range(nodes):
            back = _passed(s.back, n, before)
            for c in range(3):
                whole[c, n] = source[c, n] + back[c]


@jit
def _round_it(s, k, through, whole, before, i):
    """What place i of the petal round drop k gets of its base, `whole` (3, nodes), of the other places,
    `before` (3, places), and from farther off."""
    got = along(_passed(s.base, i, whole), _passed(s.petal, i, before), 1.0)
    got = times(row(s.reflectance, k), along(got, row(s.soft, k), s.near[i]))
    return along(along(got, through, s.beneath[i]), row(s.far[k], i), 1.0)


@jit
def _settle_one(s, outside, base, glow, around, whole, before, source, round_it, q):
    k = int(s.members[q])
    through = times(row(s.transmittance, k), row(s.behind, k))
    _on_base(s, k, through, outside, whole, before, source)
    for n in range(s.thrown.shape[0]):
        for c in range(3):
            base[k, n, c] = whole[c, n] - s.own[k, n]
    for i in range(s.near.shape[0]):
        _put(round_it, i, row(around[k], i))
    for i in range(s.near.shape[0]):
        light = _round_it(s, k, through, whole, round_it, i)
        for c in range(3):
            glow[k, i, c] = light[c]
            around[k, i, c] = s.ring[k, i, c] + light[c]


@threaded
def settle(begin, end, settling, outside, base, glow, around):
    """Light on the members' bases, base (nd, nodes, 3) without their own, and on the petal round them, glow
    (nd, places, 3); around: glow and ring. outside (nd, nodes, 3): see `base_transfer.from_outside`."""
    nodes, places = settling.thrown.shape[0], settling.near.shape[0]
    whole, before, source = np.empty((3, nodes)), np.empty((3, nodes)), np.empty((3, nodes))
    round_it = np.empty((3, places))
    for q in range(begin, end):
        _settle_one(settling, outside, base, glow, around, whole, before, source, round_it, q)
