"""What drops leave of the part of a face above the petal's skyline, by strips that cross the drops' edge.

The skyline is known along few strips of the face that cross it. Where a drop's edge runs along these it would
hide one after the other, in steps; so what the drops leave is asked along strips that cross its edge, from
where the skyline lets each of them begin.
"""

from __future__ import annotations

from math import sqrt

import numpy as np

from lightsim.tracer.kernels.drop_shadow import crosses_upright, sent_past
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.strip_integral import above, sent, strip_of
from lightsim.tracer.kernels.vectors import along, dot, scale, sub

STRIPS = 4  # of a face, along which the petal's skyline is known
PLACE, COUNTS = np.polynomial.legendre.leggauss(STRIPS)
CORNER = np.concatenate([[-1.0], PLACE, [1.0]])  # across the face: between these the skyline runs straight
CROSSING = 6  # strips that cross a drop's edge
CROSSING_PLACE, CROSSING_COUNTS = np.polynomial.legendre.leggauss(CROSSING)


@jit
def axes_of(face, across):
    """The face's axes along the skyline's strips and across them, each with half the face's length along
    it."""
    if across == 1:
        return face.right, face.half_width, face.up, face.half_height
    return face.up, face.half_height, face.right, face.half_width


@jit
def strips_of(face, looks, q):
    """How the skyline's strips run as seen from side q of a surface, away from it: their direction, half the
    face's length along it, the direction across them, half the face's length along that."""
    side, half, aside, high = axes_of(face, looks.across)
    return scale(side, looks.sign if q == 0 else -looks.sign), half, aside, high


@jit
def top_at(tops, v):
    """The skyline at v (-1 to 1) across the face, between its strips."""
    i = 0
    while i < STRIPS - 2 and v > PLACE[i + 1]:
        i += 1
    return tops[i] + (v - PLACE[i]) / (PLACE[i + 1] - PLACE[i]) * (tops[i + 1] - tops[i])


@jit
def run_along(drops, face, looks, o, listed, count):
    """Whether the nearest edge of the listed drops runs along the skyline's strips."""
    return count > 0 and crosses_upright(drops, face, listed, count, o) == (looks.across == 1)


@jit
def _corner(tops, m):
    """The skyline at CORNER m, beyond the outermost strips straight on."""
    if m == 0:
        return tops[0] - (1.0 + PLACE[0]) / (PLACE[1] - PLACE[0]) * (tops[1] - tops[0])
    if m == STRIPS + 1:
        return tops[STRIPS - 1] + (1.0 + PLACE[0]) / (PLACE[1] - PLACE[0]) * (
            tops[STRIPS - 1] - tops[STRIPS - 2]
        )
    return tops[m - 1]


@jit
def _lowest(tops, level, slope, lean):
    """How far down along the skyline's strips, -1 to 1, anything of the face may be seen over the skyline and
    the horizon of a surface; level, slope, lean: how high above that its middle is, how that grows across the
    face and along the strips."""
    low = 1.0
    for m in range(STRIPS + 2):
        top = _corner(tops, m)
        if lean > 0.0:
            top = max(top, -(level + slope * CORNER[m]) / lean)
        low = min(low, top)
    return max(low, -1.0)


@jit
def _over(tops, s, m):
    """Between which places across the face, -1 to 1, a strip at s is over the skyline, from CORNER m on as
    far as it is at once, and the first corner after that; the first place is the greater for nowhere."""
    one, other = _corner(tops, m), _corner(tops, m + 1)
    if one >= s and other >= s:
        return 1.0, -1.0, m + 1
    begin = CORNER[m]
    if one >= s:
        begin += (CORNER[m + 1] - begin) * (one - s) / (one - other)
    while other < s and m < STRIPS:
        m += 1
        one, other = other, _corner(tops, m + 1)
    end = CORNER[m + 1]
    if other >= s:
        end = CORNER[m] + (end - CORNER[m]) * (s - one) / (other - one)
    return begin, end, m + 1


@jit
def left_across(drops, face, looks, tops, o, n, q, listed, count):
    """Share that the listed drops leave of what a face sends over the skyline (STRIPS,) to side q of a
    surface at o, n its normal toward that side."""
    way, half, aside, high = strips_of(face, looks, q)
    to = sub(face.centre, o)
    low = _lowest(tops, dot(n, to), dot(n, aside) * high, dot(n, way) * half)
    whole, free = 0.0, 0.0
    for i in range(CROSSING):
        s = low + 0.5 * (1.0 - low) * (1.0 + CROSSING_PLACE[i])
        start = along(to, way, s * half)
        wide = high * sqrt(max(1.0 - s * s, 0.0)) if face.disc else high
        begin, end = above(n, start, aside, wide)
        strip, m = strip_of(n, start, aside), 0
        while m <= STRIPS and begin < end:
            first, last, m = _over(tops, s, m)
            first, last = max(first * high, begin), min(last * high, end)
            if first < last:
                one = sent(strip, first, last)
                whole += CROSSING_COUNTS[i] * one
                free += CROSSING_COUNTS[i] * sent_past(drops, listed, count, o, strip, first, last, one)
    return min(max(free / whole, 0.0), 1.0) if whole > 0.0 else 1.0
