"""The directions in which a point of the petal sees where light may leave a drop."""

from __future__ import annotations

from math import asin, cos, floor, pi, sin, sqrt
from typing import NamedTuple

from lightsim.trace.kernels.angles import angle_of
from lightsim.trace.kernels.jit import jit
from lightsim.trace.kernels.vectors import basis, dot, length, row, scale, sub

MOST_ASIDE = 0.3675  # rad: most |i - 2 r|, 21.04 degrees, and a little more


class Window(NamedTuple):
    """Directions in which a point of the petal sees the part of a drop where light leaves it, in the frame of
    the drop's normal: sine of their height from `low` on over `high`, turn about the normal from `turn` on
    over `round` (rad), counted from the direction `toward`; the solid angle of all."""

    low: float
    high: float
    turn: float
    round: float
    toward: float
    size: float


NO_WINDOW = Window(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
ALONG, ACROSS = 4, 5  # points of the outlet that a window is laid about
OUTLET = 2 * (ALONG + ACROSS) + 2
COARSE = 0.3  # cosine of the angle between them from which on a window is as wide as the drop is seen


@jit
def _outlet(drops, k, face):
    """Where the face's light, having gone through drop k, may leave it above the petal: height over the
    sphere's centre from, to (radii), turn about the normal from, over.

    Of a parallel beam no ray leaves further than MOST_ASIDE from the point opposite to the light: half the
    angle of the rainbow, whose rays turn back there.
    """
    c, r, up = row(drops.centre, k), drops.radius[k], row(drops.normal, k)
    to = sub(face.centre, c)
    far = length(to)
    s, t = basis(up)
    x, y, z = -dot(to, s) / far, -dot(to, t) / far, -dot(to, up) / far
    around = MOST_ASIDE + asin(min(r / far, 1.0)) + asin(min(face.spread / far, 1.0))
    height = asin(min(max(z, -1.0), 1.0))
    low = max(sin(max(height - around, -0.5 * pi)), dot(sub(row(drops.foot, k), c), up) / r)
    high = sin(min(height + around, 0.5 * pi))
    half = pi
    if abs(height) + around < 0.5 * pi:
        half = min(asin(min(sin(around) / cos(height), 1.0)), pi)
    return low, high, angle_of(y, x) - half, 2.0 * half


@jit
def note_outlet(drops, k, face, outlet):
    """Fill outlet (nd, OUTLET) of drop k: in the frame of its normal places about the part of it where the
    face's light may leave it: their heights, distances from the axis, cosines and sines of their turns, then
    cosine and sine of the angle across a cell between four of them. Where there is none the first height is
    the greater."""
    low, high, turn, round_it = _outlet(drops, k, face)
    up_it = (asin(high) - asin(low)) / (ALONG - 1)
    apart = sqrt(up_it * up_it + (round_it / (ACROSS - 1)) ** 2)
    outlet[k, OUTLET - 2], outlet[k, OUTLET - 1] = cos(apart), sin(apart)
    for i in range(ALONG):
        z = low + (high - low) * i / (ALONG - 1)
        outlet[k, i], outlet[k, ALONG + i] = z, sqrt(max(0.0, 1.0 - z * z))
    for j in range(ACROSS):
        a = turn + round_it * j / (ACROSS - 1)
        outlet[k, 2 * ALONG + j], outlet[k, 2 * ALONG + ACROSS + j] = cos(a), sin(a)


@jit
def _wrapped(turn):
    """A turn as one between -pi and pi."""
    return turn - 2.0 * pi * floor(turn / (2.0 * pi) + 0.5)


@jit
def window_of(drops, k, outlet, x):
    """The window about what x sees of drop k's outlet, see `note_outlet`; NO_WINDOW for nothing. What it
    leaves out is found from the light's side alone, as speckle."""
    if outlet[k, ALONG - 1] <= outlet[k, 0]:
        return NO_WINDOW
    up = row(drops.normal, k)
    s, t = basis(up)
    m = scale(sub(x, row(drops.centre, k)), 1.0 / drops.radius[k])
    mx, my, mz = dot(m, s), dot(m, t), dot(m, up)
    toward = angle_of(-my, -mx)
    least, most, left, right = 2.0, -2.0, 4.0, -4.0
    # places count that lie past the horizon by a cell, so that they lie round all that is seen
    past = 1.0 - outlet[k, OUTLET - 2] + sqrt(max(dot(m, m) - 1.0, 0.0)) * outlet[k, OUTLET - 1]
    for i in range(ALONG):
        z, across = outlet[k, i], outlet[k, ALONG + i]
        for j in range(ACROSS):
            px, py = across * outlet[k, 2 * ALONG + j], across * outlet[k, 2 * ALONG + ACROSS + j]
            dx, dy, dz = px - mx, py - my, z - mz
            if dx * px + dy * py + dz * z >= past:
                continue
            sine = dz / sqrt(dx * dx + dy * dy + dz * dz)
            a = _wrapped(angle_of(dy, dx) - toward)
            least, most, left, right = min(least, sine), max(most, sine), min(left, a), max(right, a)
    if most < least:
        return NO_WINDOW
    more, wider = 0.05 + 0.15 * (most - least), 0.05 + 0.15 * (right - left)
    least, most = max(least - more, -0.2), min(most + more, 1.0)
    left, right = left - wider, right + wider
    if outlet[k, OUTLET - 2] < COARSE:
        aside = asin(1.0 / max(sqrt(mx * mx + my * my), 1.0))
        least, most, left, right = -0.2, 1.0, min(left, -aside), max(right, aside)
    left, right = max(left, -pi), min(right, pi)
    return Window(least, most - least, left, right - left, toward, (most - least) * (right - left))


@jit
def in_window(window, up, d):
    """Whether direction d lies in it."""
    z = dot(d, up) - window.low
    if z < 0.0 or z > window.high:
        return False
    s, t = basis(up)
    turn = _wrapped(angle_of(dot(d, t), dot(d, s)) - window.toward) - window.turn
    return 0.0 <= turn <= window.round
