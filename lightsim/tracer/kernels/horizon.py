"""The petal's horizon before an emitter: how far up a strip of the emitter the petal hides it.

Rays from a point to a strip lie in a fan, a part of a plane. Where the fan cuts a triangle it cuts it along a
line, whose ends show up to where the triangle hides the strip. Of a sheet that the point itself lies on, what
hides one place of the strip hides all below it, so that one walk through the tree finds what would else take
many rays. Past a curled edge that need not be so: `horizon_map` drops such horizons.
"""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

from lightsim.tracer.kernels.emitters import Vector
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.petal_mesh import START, corner, edges
from lightsim.tracer.kernels.simd import fan_boxes_met, fan_triangles_met, lowest
from lightsim.tracer.kernels.strip_integral import gauss_legendre
from lightsim.tracer.kernels.vectors import along, cross, dot, scale, sub

STRIPS = 4  # of an emitter, along which the petal's horizon is known
ACROSS = gauss_legendre(STRIPS)  # across the emitter, -1 to 1


class Strips(NamedTuple):
    """How the strips of an emitter run as one side of a surface sees them, away from it: their direction and
    half their length, the direction across them and half the emitter's length along that."""

    way: Vector
    half: float
    across: Vector
    half_across: float


@jit
def strips_of(emitter, horizon_map, q):
    """The strips as seen from the front (q 0) or the back (q 1)."""
    sign = horizon_map.sign if q == 0 else -horizon_map.sign
    if horizon_map.across == 1:
        return Strips(scale(emitter.right, sign), emitter.half_width, emitter.up, emitter.half_height)
    return Strips(scale(emitter.up, sign), emitter.half_height, emitter.right, emitter.half_width)


@jit
def horizon_at(horizon, v):
    """The horizon at v (-1 to 1) across the emitter, straight between its strips (STRIPS,)."""
    i = 0
    while i < STRIPS - 2 and v > ACROSS.place[i + 1]:
        i += 1
    return horizon[i] + (v - ACROSS.place[i]) / (ACROSS.place[i + 1] - ACROSS.place[i]) * (
        horizon[i + 1] - horizon[i]
    )


class Fan(NamedTuple):
    """Rays from o to a strip: `out` toward the strip's line, `up` along the strip, `aside` across both, all
    of unit length; far: how far off the line is; foot: where along `up` the strip's start lies.

    A ray's slope is its part along `up` for one along `out`.
    """

    o: Vector
    out: Vector
    up: Vector
    aside: Vector
    far: float
    foot: float


@jit
def fan_of(o, start, way):
    """The fan from o to the strip start + t way (from o; way of unit length)."""
    foot = dot(start, way)
    out = along(start, way, -foot)
    far = sqrt(dot(out, out))
    out = scale(out, 1.0 / far)
    return Fan(o, out, way, cross(out, way), far, foot)


@jit
def _section(c0, a0, b0, c1, a1, b1):
    """Where the line between two corners goes through the fan's plane: along `out` and along `up`."""
    s = c0 / (c0 - c1)
    return a0 + s * (a1 - a0), b0 + s * (b1 - b0)


@jit
def _top(petal, f, fan, best):
    """Greatest slope at which triangle f cuts the fan; `best` where that is less."""
    p = sub(corner(petal, f), fan.o)
    e, g = edges(petal, f)
    c0, a0, b0 = dot(p, fan.aside), dot(p, fan.out), dot(p, fan.up)
    c1, a1, b1 = c0 + dot(e, fan.aside), a0 + dot(e, fan.out), b0 + dot(e, fan.up)
    c2, a2, b2 = c0 + dot(g, fan.aside), a0 + dot(g, fan.out), b0 + dot(g, fan.up)
    s0, s1, s2 = c0 >= 0.0, c1 >= 0.0, c2 >= 0.0
    if s0 == s1 and s1 == s2:
        return best
    if s0 == s1:
        a, b = _section(c2, a2, b2, c0, a0, b0)
        d, h = _section(c2, a2, b2, c1, a1, b1)
    elif s0 == s2:
        a, b = _section(c1, a1, b1, c0, a0, b0)
        d, h = _section(c1, a1, b1, c2, a2, b2)
    else:
        a, b = _section(c0, a0, b0, c1, a1, b1)
        d, h = _section(c0, a0, b0, c2, a2, b2)
    if a > d:
        a, b, d, h = d, h, a, b
    if d <= START or a >= fan.far:
        return best
    if a < START:
        a, b = START, b + (START - a) / (d - a) * (h - b)
    if d > fan.far:
        d, h = fan.far, h - (d - fan.far) / (d - a) * (h - b)
    return max(best, b / a, h / d)


@jit
def hidden_up_to(petal, fan, begin, end, stack):
    """Up to where, between two places of the strip, the petal hides it; `begin` for nowhere."""
    least, last = (begin + fan.foot) / fan.far, (end + fan.foot) / fan.far
    best = least
    low, high = along(fan.up, fan.out, -best), along(fan.up, fan.out, -last)
    stack[0] = 0
    top = 1
    while top > 0:
        top -= 1
        node = int(stack[top])
        met = fan_boxes_met(petal.box, node, fan.o, fan.aside, low, high)
        while met != 0:
            c = lowest(met)
            met &= met - 1
            first, many = int(petal.link[node, c, 0]), int(petal.link[node, c, 1])
            if many == 0:
                stack[top] = first
                top += 1
            elif many > 0:
                before = best
                found = fan_triangles_met(petal.lanes, first, many, fan.o, fan.aside, low, high)
                while found != 0:
                    best = _top(petal, first + lowest(found), fan, best)
                    found &= found - 1
                if best > before:
                    if best >= last:
                        return end
                    low = along(fan.up, fan.out, -best)
    return best * fan.far - fan.foot if best > least else begin
