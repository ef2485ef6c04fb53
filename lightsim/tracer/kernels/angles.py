"""Angles of points in a plane, at a third of the mathematical library's time."""

from __future__ import annotations

from math import pi

from lightsim.tracer.kernels.jit import jit


@jit
def angle_of(y, x):
    """Angle of the point x, y from the axis of x, -pi to pi, to 3e-8; 0 at the origin. Abramowitz and Stegun,
    Handbook of Mathematical Functions, 4.4.49."""
    ax, ay = abs(x), abs(y)
    z = min(ax, ay) / (max(ax, ay) + 1e-300)
    s = z * z
    p = -0.0161657367 + 0.0028662257 * s
    p = 0.0429096138 + p * s
    p = -0.0752896400 + p * s
    p = 0.1065626393 + p * s
    p = -0.1420889944 + p * s
    p = 0.1999355085 + p * s
    p = -0.3333314528 + p * s
    angle = z + z * s * p
    if ay > ax:
        angle = 0.5 * pi - angle
    if x < 0.0:
        angle = pi - angle
    return -angle if y < 0.0 else angle
