"""Solid bodies in the way of light: boxes and round rods against rays and against strips of a light's face.

A body hides of a strip of a face, seen from a point, one piece, since it is convex. That piece is found in
closed form: from a box's faces or a rod's two ends and the tangents of its side.
"""

from __future__ import annotations

from math import copysign, inf, sqrt

from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.vectors import dot

LEVEL = 1e-12  # a ray that runs along a body's side

# columns of a body: centre, right, up, out, half width, height and depth, 1 for a rod, square of its reach
COLUMNS = 17


@jit
def _local(body, i, p):
    """A direction in a body's own axes."""
    return (
        p[0] * body[i, 3] + p[1] * body[i, 4] + p[2] * body[i, 5],
        p[0] * body[i, 6] + p[1] * body[i, 7] + p[2] * body[i, 8],
        p[0] * body[i, 9] + p[1] * body[i, 10] + p[2] * body[i, 11],
    )


@jit
def _from_middle(body, i, o):
    return o[0] - body[i, 0], o[1] - body[i, 1], o[2] - body[i, 2]


@jit
def _within_slab(o, d, half, low, high):
    """From where to where, between low and high, o + t d lies within half of 0."""
    if abs(d) < LEVEL:
        return (low, high) if abs(o) < half else (inf, -inf)
    one, other = (-half - o) / d, (half - o) / d
    return max(low, min(one, other)), min(high, max(one, other))


@jit
def body_met(body, i, o, d):
    """Distance at which a ray enters body i, 0 from inside, inf when it misses."""
    m = _from_middle(body, i, o)
    along, apart = dot(m, d), dot(m, m)
    if apart - along * along > body[i, 16] or (along > 0.0 and apart > body[i, 16]):
        return inf
    p, r = _local(body, i, m), _local(body, i, d)
    low, high = _within_slab(p[2], r[2], body[i, 14], 0.0, inf)
    if body[i, 15] > 0.5:
        a = r[0] * r[0] + r[1] * r[1]
        c = p[0] * p[0] + p[1] * p[1] - body[i, 12] * body[i, 12]
        if a < LEVEL:
            return low if c < 0.0 and low < high else inf
        b = p[0] * r[0] + p[1] * r[1]
        square = b * b - a * c
        if square <= 0.0:
            return inf
        low, high = max(low, (-b - sqrt(square)) / a), min(high, (-b + sqrt(square)) / a)
    else:
        low, high = _within_slab(p[0], r[0], body[i, 12], low, high)
        low, high = _within_slab(p[1], r[1], body[i, 13], low, high)
    return low if low < high else inf


@jit
def body_before(body, o, d, t_max):
    """Whether a body stands between a ray's origin and t_max."""
    before = False
    for i in range(body.shape[0]):
        before = before or body_met(body, i, o, d) < t_max
    return before


@jit
def _above_nothing(low, high, a, b):
    """From where to where, between low and high, a + b t is not negative."""
    if abs(b) < LEVEL:
        return (low, high) if a >= 0.0 else (inf, -inf)
    return (max(low, -a / b), high) if b > 0.0 else (low, min(high, -a / b))


@jit
def _below_nothing(low, high, q0, q1, q2, rising):
    """From where to where, between low and high, q0 + 2 q1 t + q2 t^2 is not positive: of a hyperbola the
    branch that runs on to the end (rising) or to the beginning."""
    square = q1 * q1 - q2 * q0
    if square <= 0.0:
        return (low, high) if q2 < 0.0 else (inf, -inf)
    w = -q1 - copysign(sqrt(square), q1)
    if abs(q2) < LEVEL or w == 0.0:
        return _above_nothing(low, high, -q0, -2.0 * q1)
    one, other = min(w / q2, q0 / w), max(w / q2, q0 / w)
    if q2 > 0.0:
        return max(low, one), min(high, other)
    return (max(low, other), high) if rising else (low, min(high, one))


@jit
def flat_covers(m, s, w, across, up, disc, begin, end):
    """From where to where a strip, seen from m, lies behind a flat face; the first the greater for nowhere.

    In the face's own axes with its middle at 0 and its plane across the third: m the place that sees it, s
    and w the strip's start (from m) and way; begin, end: the part of the strip that counts.
    """
    e = -m[2]
    if abs(e) < LEVEL:
        return end, begin
    side = copysign(1.0, e)
    # the ray to the strip's place t crosses the plane at the share e / (s2 + t w2) of its way, at most 1
    low, high = _above_nothing(begin, end, side * s[2] - abs(e), side * w[2])
    u0, u1 = m[0] * s[2] + e * s[0], m[0] * w[2] + e * w[0]
    v0, v1 = m[1] * s[2] + e * s[1], m[1] * w[2] + e * w[1]
    if disc:
        r2 = across * across
        q0, q1 = u0 * u0 + v0 * v0 - r2 * s[2] * s[2], u0 * u1 + v0 * v1 - r2 * s[2] * w[2]
        q2 = u1 * u1 + v1 * v1 - r2 * w[2] * w[2]
        return _below_nothing(low, high, q0, q1, q2, side * w[2] > 0.0)
    a, b = side * across, side * up
    low, high = _above_nothing(low, high, a * s[2] - u0, a * w[2] - u1)
    low, high = _above_nothing(low, high, a * s[2] + u0, a * w[2] + u1)
    low, high = _above_nothing(low, high, b * s[2] - v0, b * w[2] - v1)
    return _above_nothing(low, high, b * s[2] + v0, b * w[2] + v1)


@jit
def _wider(low, high, one, other):
    """The least piece that holds two, of which either may be nothing."""
    if one >= other:
        return low, high
    if low >= high:
        return one, other
    return min(low, one), max(high, other)


@jit
def _turned(p, axis):
    """A vector with `axis` as its third."""
    if axis == 0:
        return p[1], p[2], p[0]
    if axis == 1:
        return p[2], p[0], p[1]
    return p


@jit
def _box_covers(m, s, w, half, begin, end):
    low, high = end, begin
    for axis in range(3):
        p, h = _turned(m, axis), _turned(half, axis)
        if abs(p[2]) <= h[2]:
            continue
        before = p[0], p[1], p[2] - copysign(h[2], p[2])
        one, other = flat_covers(before, _turned(s, axis), _turned(w, axis), h[0], h[1], False, begin, end)
        low, high = _wider(low, high, one, other)
    return low, high


@jit
def _touches(m, s, w, half, t):
    """Whether the line to the strip's place t, which touches a rod's side, does so between the rod's ends and
    before the strip."""
    p = s[0] + t * w[0], s[1] + t * w[1], s[2] + t * w[2]
    flat = p[0] * p[0] + p[1] * p[1]
    share = -(m[0] * p[0] + m[1] * p[1]) / flat if flat > 0.0 else -1.0
    return 0.0 < share < 1.0 and abs(m[2] + share * p[2]) < half[2]


@jit
def _rod_covers(m, s, w, half, begin, end):
    low, high = end, begin
    for side in range(2):
        before = m[0], m[1], m[2] - (half[2] if side == 0 else -half[2])
        one, other = flat_covers(before, s, w, half[0], half[0], True, begin, end)
        low, high = _wider(low, high, one, other)
    apart = m[0] * m[0] + m[1] * m[1] - half[0] * half[0]
    if apart <= 0.0:
        return low, high
    # a line with the direction p comes as near to the axis as |m x p| / |p|, seen along the axis
    s2, sw, w2 = s[0] * s[0] + s[1] * s[1], s[0] * w[0] + s[1] * w[1], w[0] * w[0] + w[1] * w[1]
    ms, mw, r2 = m[0] * s[1] - m[1] * s[0], m[0] * w[1] - m[1] * w[0], half[0] * half[0]
    toward = -(m[0] * s[0] + m[1] * s[1]), -(m[0] * w[0] + m[1] * w[1])
    one, other = _above_nothing(begin, end, toward[0], toward[1])
    one, other = _below_nothing(
        one, other, ms * ms - r2 * s2, ms * mw - r2 * sw, mw * mw - r2 * w2, toward[1] > 0.0
    )
    if one >= other:
        return low, high
    for t in (one, other):
        if _touches(m, s, w, half, t):
            low, high = _wider(low, high, t - LEVEL, t + LEVEL)
    return low, high


@jit
def body_covers(body, i, o, start, way, begin, end):
    """From where to where a strip of a face, start + t way from o for begin < t < end, lies behind body i;
    the first the greater for nowhere."""
    m = _local(body, i, _from_middle(body, i, o))
    s, w = _local(body, i, start), _local(body, i, way)
    half = body[i, 12], body[i, 13], body[i, 14]
    if body[i, 15] > 0.5:
        low, high = _rod_covers(m, s, w, half, begin, end)
    else:
        low, high = _box_covers(m, s, w, half, begin, end)
    return max(low, begin), min(high, end)
