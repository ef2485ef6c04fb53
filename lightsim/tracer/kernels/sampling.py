"""Sample points as a function of (pixel, sample, dimension): no state, any order, any thread.

Two-dimensional Sobol points with hashed Owen scrambling, a fresh scramble for each pixel and pair of
dimensions. Burley, J. Computer Graphics Techniques 9 (2020) 4.
"""

from __future__ import annotations

from math import cos, pi, sin, sqrt
from typing import NamedTuple

import numpy as np

from lightsim.tracer.kernels.jit import jit

MASK = np.uint64(0xFFFFFFFF)
TO_UNIT = 1.0 / 4294967296.0

GOLDEN = pi * (3.0 - sqrt(5.0))
GOLDEN_SHARE = 0.5 * (sqrt(5.0) - 1.0)  # numbers so far apart, less their whole part, lie evenly


class Pairs(NamedTuple):
    """Numbers of the pairs of dimensions: what each is drawn for."""

    pixel: int = 1
    lens: int = 2
    event: int = 3
    light: int = 4
    mirror_light: int = 5
    bounce: int = 6
    again_inside: int = 7


PAIR = Pairs()


@jit
def mix(x):
    """A 32-bit integer hash with good avalanche (lowbias32 constants)."""
    x = np.uint64(x) & MASK
    x ^= x >> np.uint64(16)
    x = (x * np.uint64(0x7FEB352D)) & MASK
    x ^= x >> np.uint64(15)
    x = (x * np.uint64(0x846CA68B)) & MASK
    return x ^ (x >> np.uint64(16))


@jit
def key(seed, pixel, pair):
    """A scramble for one pixel and one pair of dimensions."""
    a = mix(np.uint64(seed) + np.uint64(0x9E3779B9) * np.uint64(pair))
    return mix(a ^ (np.uint64(pixel) & MASK))


@jit
def reverse_bits(x):
    x = ((x >> np.uint64(1)) & np.uint64(0x55555555)) | ((x & np.uint64(0x55555555)) << np.uint64(1))
    x = ((x >> np.uint64(2)) & np.uint64(0x33333333)) | ((x & np.uint64(0x33333333)) << np.uint64(2))
    x = ((x >> np.uint64(4)) & np.uint64(0x0F0F0F0F)) | ((x & np.uint64(0x0F0F0F0F)) << np.uint64(4))
    x = ((x >> np.uint64(8)) & np.uint64(0x00FF00FF)) | ((x & np.uint64(0x00FF00FF)) << np.uint64(8))
    return ((x >> np.uint64(16)) | (x << np.uint64(16))) & MASK


@jit
def owen(x, scramble):
    """Owen scrambling of a bit-reversed number (Laine and Karras 2011, with Burley's constants)."""
    x = (x + scramble) & MASK
    x ^= (x * np.uint64(0x6C50B47C)) & MASK
    x ^= (x * np.uint64(0xB82F1E52)) & MASK
    x ^= (x * np.uint64(0xC7AFE638)) & MASK
    x ^= (x * np.uint64(0x8D22F6E6)) & MASK
    return x


@jit
def reversed_second(index):
    """Second Sobol coordinate of a point, its 32 bits in reverse; of the first these are the index itself.

    The generating matrix is Pascal's triangle by odd and even: bit j is the sum of all bits i of the index
    whose number has all bits of j (Lucas), and a sum over supersets takes one step for each of five bits.
    """
    index ^= (index >> np.uint64(1)) & np.uint64(0x55555555)
    index ^= (index >> np.uint64(2)) & np.uint64(0x33333333)
    index ^= (index >> np.uint64(4)) & np.uint64(0x0F0F0F0F)
    index ^= (index >> np.uint64(8)) & np.uint64(0x00FF00FF)
    return index ^ ((index >> np.uint64(16)) & np.uint64(0x0000FFFF))


@jit
def pair_of(scramble, sample):
    """Point number `sample` of the scrambled sequence `scramble`, in [0, 1) x [0, 1)."""
    index = np.uint64(sample)
    index = reverse_bits(owen(reverse_bits(index), scramble))
    sx = mix(scramble ^ np.uint64(0x68BC21EB))
    sy = mix(scramble ^ np.uint64(0x02E5BE93))
    x = reverse_bits(owen(index, sx))
    y = reverse_bits(owen(reversed_second(index), sy))
    return x * TO_UNIT, y * TO_UNIT


@jit
def shifted_pair(scramble, sample):
    """Point number `sample` of the Sobol sequence under a random digital shift.

    Quicker than `pair_of`, less well mixed.
    """
    index = np.uint64(sample)
    x = reverse_bits(index) ^ scramble
    y = reverse_bits(reversed_second(index)) ^ mix(scramble ^ np.uint64(0x02E5BE93))
    return x * TO_UNIT, y * TO_UNIT


@jit
def single(scramble, sample, event):
    """An independent number in [0, 1) for one event of one sample."""
    return mix(scramble + np.uint64(0x9E3779B9) * np.uint64(sample * 64 + event + 1)) * TO_UNIT


@jit
def to_disc(u, v):
    """Map the unit square to the unit disc, keeping areas.

    Shirley and Chiu, J. Graphics Tools 2 (1997) 45.
    """
    a = 2.0 * u - 1.0
    b = 2.0 * v - 1.0
    if a == 0.0 and b == 0.0:
        return 0.0, 0.0
    if abs(a) > abs(b):
        radius = a
        angle = (pi / 4.0) * (b / a)
    else:
        radius = b
        angle = pi / 2.0 - (pi / 4.0) * (a / b)
    return radius * cos(angle), radius * sin(angle)


@jit
def spiral_direction(i, many, turn, begin=0.5):
    """Direction i of `many` about +z with density cos / pi: on the disc below them a spiral, turned by
    `turn`, whose points lie a golden angle apart; evener than as many points of a sequence. begin, 0 to 1:
    how far into its share of the disc each lies."""
    radius, angle = sqrt((i + begin) / many), i * GOLDEN + turn
    return radius * cos(angle), radius * sin(angle), sqrt(1.0 - radius * radius)
