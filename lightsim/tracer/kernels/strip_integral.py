"""A strip of a face as a point of a surface sees it: which part is above its horizon, what a part sends."""

from __future__ import annotations

from math import copysign, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels.angles import angle_of
from lightsim.tracer.kernels.emitters import Vector
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.vectors import along, dot


class Quadrature(NamedTuple):
    """A rule for an integral over -1 to 1: place (n,) and weight (n,)."""

    place: NDArray
    weight: NDArray


def gauss_legendre(points: int) -> Quadrature:
    """The rule of Gauss and Legendre."""
    return Quadrature(*np.polynomial.legendre.leggauss(points))


def crowded(points: int) -> Quadrature:
    """The same with its places crowded toward both ends, for what goes there like a square root."""
    t, weight = gauss_legendre(points)
    return Quadrature(1.5 * t - 0.5 * t**3, 1.5 * (1.0 - t**2) * weight)


NARROWING = 0.9  # a disc from its middle or lower up: 0.88 by integration, a rim alone 0.86, most of it 0.93


@jit
def above(n, start, way, half):
    """Between where and where a strip's light falls on a surface's front."""
    a, b = dot(n, start), dot(n, way)
    if a >= abs(b) * half:
        return -half, half
    if a <= -abs(b) * half:
        return half, -half
    return (-a / b, half) if b > 0.0 else (-half, -a / b)


@jit
def mean_place(n, start, way, low, end, narrows):
    """Where between two of a strip's places the light of a face comes from on average, on a surface with the
    normal n: as if it came with the cosine alone, which grows evenly along the strip. narrows: whether the
    face does, toward the strip's end."""
    a, b = dot(n, start), dot(n, way)
    first, last = max(a + b * low, 0.0), max(a + b * end, 0.0)
    share = 0.5 if first + last <= 0.0 else (first + 2.0 * last) / (3.0 * (first + last))
    if narrows:
        share = share * NARROWING if last >= first else 1.0 - (1.0 - share) * NARROWING
    return low + (end - low) * share


@jit
def toward_part(n, to, way, half, low, narrows):
    """Where the light of a strip through a face's middle, `to` + t way for -half < t < half, comes from on
    average on a surface with the normal n, of what is above the horizon and from `low` up; where that is
    nothing, its end nearest to the horizon. narrows: see `mean_place`."""
    begin, end = above(n, to, way, half)
    low = max(begin, low)
    if low >= end:
        return along(to, way, end if begin < end else copysign(half, dot(n, way)))
    return along(to, way, mean_place(n, to, way, low, end, narrows))


class Strip(NamedTuple):
    """A strip of a face, start + t way, with what its irradiance is worked out from: where it is nearest,
    that distance and its square, the cosine's part that is even about it and the part that grows."""

    start: Vector
    way: Vector
    middle: float
    near: float
    square: float
    even: float
    growing: float


@jit
def strip_of(n, start, way):
    """The strip as a surface with the normal n sees it."""
    middle = -dot(start, way)
    square = dot(start, start) - middle * middle
    growing = dot(n, way)
    even = dot(n, start) + growing * middle
    return Strip(start, way, middle, sqrt(square), square, even, growing)


@jit
def _sent_to(strip, t):
    s = t - strip.middle
    once = 1.0 / (s * s + strip.square)
    turn = angle_of(s, strip.near) / strip.near
    return 0.5 * (strip.even * (s * once + turn) / strip.square - strip.growing * once)


@jit
def sent(strip, low, high):
    """What a strip sends between two of its places, for a unit of its radiance, width and distance from the
    face's plane: the integral of n.p / (p.p)^2 along it."""
    return _sent_to(strip, high) - _sent_to(strip, low)
