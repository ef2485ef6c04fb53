"""Vectors of three as tuples of floats: the compiler keeps them in registers."""

from __future__ import annotations

from math import sqrt

from lightsim.tracer.kernels.jit import jit


@jit
def add(a, b):
    return a[0] + b[0], a[1] + b[1], a[2] + b[2]


@jit
def sub(a, b):
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


@jit
def times(a, b):
    """Component by component."""
    return a[0] * b[0], a[1] * b[1], a[2] * b[2]


@jit
def scale(a, k):
    return a[0] * k, a[1] * k, a[2] * k


@jit
def along(o, d, t):
    """o + t d"""
    return o[0] + t * d[0], o[1] + t * d[1], o[2] + t * d[2]


@jit
def dot(a, b):
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@jit
def cross(a, b):
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


@jit
def length(a):
    return sqrt(dot(a, a))


@jit
def unit(a):
    return scale(a, 1.0 / length(a))


@jit
def row(array, i):
    """Row i of an (n, 3) array."""
    return float(array[i, 0]), float(array[i, 1]), float(array[i, 2])


@jit
def basis(n):
    """Two unit vectors that make a right-handed frame with the unit vector n.

    Duff et al., J. Computer Graphics Techniques 6 (2017) 1.
    """
    sign = 1.0 if n[2] >= 0.0 else -1.0
    a = -1.0 / (sign + n[2])
    b = n[0] * n[1] * a
    return (1.0 + sign * n[0] * n[0] * a, sign * b, -sign * n[0]), (b, sign + n[1] * n[1] * a, -n[1])


@jit
def in_frame(s, t, n, a):
    """The vector with components a in the frame (s, t, n)."""
    return (
        s[0] * a[0] + t[0] * a[1] + n[0] * a[2],
        s[1] * a[0] + t[1] * a[1] + n[1] * a[2],
        s[2] * a[0] + t[2] * a[1] + n[2] * a[2],
    )


@jit
def cubic(t):
    """Weight of a cell whose middle lies `t` cells off: a cubic through four of them (Keys, IEEE Trans.
    Acoustics 29 (1981) 1153, a = -1/2)."""
    t = abs(t)
    if t < 1.0:
        return (1.5 * t - 2.5) * t * t + 1.0
    return ((2.5 - 0.5 * t) * t - 4.0) * t + 2.0 if t < 2.0 else 0.0
