"""Rays followed backward from a point through a drop, in a plane through the point and the sphere's centre.

No refraction leaves such a plane. In it, lengths in radii, the centre at the origin, the point x at (-s, 0),
a ray leaves x along psi and runs in air along its last direction, from where it leaves the sphere; it passes
a point p at the distance q = run x p - sin i, linear in p, with i the angle of incidence of the light that
comes that way. A ray is numbered by an angle:

- x outside the sphere (s > 1): by i, signed like its side. With sin psi = sin i / s and sin r = sin i / n it
  meets the sphere at i - psi from x's side, leaves it at 2 r - (i - psi) from the other and runs along that
  less i.
- x inside, on a drop's base: by t, with sin psi = sin t / m and m the greater of 1 and n s, psi beyond a
  quarter turn where t is. With sin r = s sin psi and sin i = n sin r it leaves the sphere at psi + r and runs
  along that less i. Where n s is more than 1 no ray between asin(1 / n s) and half a turn less that gets out:
  these two have the same number, t = pi / 2.
"""

from __future__ import annotations

from math import pi, sqrt
from typing import NamedTuple

from lightsim.tracer.kernels import connection
from lightsim.tracer.kernels.jit import jit


class RayFan(NamedTuple):
    """Of the rays that are followed for a point."""

    nodes: int = 24  # how many
    half: int = 12  # the first of them, from inside the sphere, beyond a quarter turn
    kept: int = 10  # numbers of a node
    steepest: float = 0.5 * pi - 1e-3


FAN = RayFan()


class Ray(NamedTuple):
    """A ray's course in the plane, cosines and sines: of the incidence, along which it leaves x, where it
    meets the sphere from x's side, where it leaves it, along which it runs then. From inside the sphere it
    meets it where it leaves it."""

    ci: float
    si: float
    cx: float
    sx: float
    cm: float
    sm: float
    ce: float
    se: float
    c: float
    s: float


@jit
def ray_at(i, s):
    """Ray number i from a point s radii from the sphere's centre."""
    return _from_outside(i, s) if s > 1.0 else _from_inside(i, s)


@jit
def _from_outside(i, s):
    si, ci = connection.sine_cosine(i)
    sx = si / s
    cx = sqrt(1.0 - sx * sx)
    sm, cm = si * cx - ci * sx, ci * cx + si * sx
    sr = si / connection.N
    s2, c2 = 2.0 * sr * sqrt(1.0 - sr * sr), 1.0 - 2.0 * sr * sr
    se, ce = s2 * cm - c2 * sm, c2 * cm + s2 * sm
    return Ray(ci, si, cx, sx, cm, sm, ce, se, ce * ci + se * si, se * ci - ce * si)


@jit
def _from_inside(t, s):
    st, _ = connection.sine_cosine(min(t, pi - t))
    sx = st / max(connection.N * s, 1.0)
    cx = sqrt(1.0 - sx * sx)
    cx = cx if t < 0.5 * pi else -cx
    sr = s * sx
    cr, si = sqrt(1.0 - sr * sr), connection.N * sr
    ci = sqrt(max(1.0 - si * si, 0.0))
    se, ce = sx * cr + cx * sr, cx * cr - sx * sr
    return Ray(ci, si, cx, sx, -ce, se, ce, se, ce * ci + se * si, se * ci - ce * si)


@jit
def leaving(ray, s):
    """How fast the angle psi along which a ray leaves x inside the sphere grows with its number."""
    m = connection.N * s
    return ray.ci / (m * abs(ray.cx)) if m > 1.0 else 1.0


@jit
def _turning(ray, s):
    """How fast a ray's sin i and its last direction grow with its number."""
    cr = sqrt(1.0 - (ray.si / connection.N) ** 2)
    if s > 1.0:
        return ray.ci, ray.ci / (s * ray.cx) - 2.0 + 2.0 * ray.ci / (connection.N * cr)
    psi = leaving(ray, s)
    sine = connection.N * s * ray.cx * psi
    return sine, psi + sine / (connection.N * cr) - sine / ray.ci


@jit
def _put_node(nodes, k, i, s):
    """Row k of the table: the ray's last direction, sin i, how fast that grows with its number, where it
    meets and leaves the sphere, how fast its last direction turns, its number."""
    ray = ray_at(i, s)
    nodes[k, 0], nodes[k, 1], nodes[k, 2] = ray.c, ray.s, ray.si
    nodes[k, 4], nodes[k, 5], nodes[k, 6], nodes[k, 7] = ray.cm, ray.sm, ray.ce, ray.se
    nodes[k, 3], nodes[k, 8] = _turning(ray, s)
    nodes[k, 9] = i


@jit
def _number(k, s):
    """Number of the ray of node k; none from inside the sphere lies close to a quarter turn."""
    if s > 1.0:
        return FAN.steepest * k / (FAN.nodes - 1)
    if k < FAN.half:
        return FAN.steepest * k / (FAN.half - 1)
    return pi - FAN.steepest * (FAN.nodes - 1 - k) / (FAN.half - 1)


@jit
def follow_nodes(s, nodes):
    """Fill nodes (nodes, kept) for a point s radii away; one lies wherever the last direction turns back."""
    for k in range(FAN.nodes):
        _put_node(nodes, k, _number(k, s), s)
    _turn_back(s, nodes, 0, FAN.nodes - 1 if s > 1.0 else FAN.half - 1)


@jit
def _turn_back(s, nodes, first, last):
    """Move one of the nodes between first and last to each place where the last direction turns back; beyond
    a quarter turn from inside it never does."""
    rises = nodes[first, 8] > 0.0
    for k in range(first + 1, last + 1):
        after = nodes[k, 8]
        if (after > 0.0) == rises:
            continue
        rises = not rises
        before, low, high = nodes[k - 1, 8], nodes[k - 1, 9], nodes[k, 9]
        i = low + (high - low) * before / (before - after)
        ahead = k == first + 1 or (2.0 * i > low + high and k < last)
        _put_node(nodes, k if ahead else k - 1, i, s)
