"""Where a drop's light may fall on the dry petal: tables that spare looking for light where none comes.

Seen from a drop of one contact angle, its normal up, a parallel beam's rays are followed by each type of
path out of the water. They leave it above the petal only, which cuts off most of what a whole sphere
would send. At each place over the petal's plane (turn about the normal from the direction away from the
light, one over the distance from the axis) the least and the greatest slope are kept at which rays pass
there, seen from the drop's foot: a point of the petal that lies lower or higher gets none.
"""

from __future__ import annotations

from math import acos, cos, inf, pi, sin, sqrt
from typing import NamedTuple

from lightsim.tracer.kernels import connection
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.vectors import along, dot, row, scale, sub


class FootprintLimits(NamedTuple):
    """How the tables are made and read."""

    angles: int = 128  # of the light, by its cosine with the drop's normal
    turns: int = 36  # over half a turn: the other half is the same
    steps: int = 32  # of one over the distance in radii
    nearest: float = 1.25  # greatest one over the distance in radii
    rays: int = 36  # over the angle of incidence and about the beam's axis
    margin: float = 0.01  # radii below the petal's plane at which light may yet come in or leave
    first: float = 0.02  # radii: distance of the first place along a ray
    ratio: float = 1.25  # of the distances of two places
    places: int = 34  # along a ray
    most_read: int = 16  # places of the table about a pixel: a small drop's pixel covers too much of it
    steepest: float = 3.0  # slope from which on places are not read
    overhead: float = 0.05  # sine of the light's angle from the normal below which turns about it mean little


LIMITS = FootprintLimits()


@jit
def _turn(ahead, aside):
    """0 to 2, grows with the angle from straight ahead to straight back."""
    return 1.0 - ahead / (abs(ahead) + aside + 1e-300)


@jit
def _mark(table, path_type, o, d, ground):
    """Widen the slopes at the places along a ray from o along d; ground: height of the petal's plane."""
    t = LIMITS.first
    before = (o[2] - ground) / max(sqrt(o[0] * o[0] + o[1] * o[1]), 1e-9)
    for _ in range(LIMITS.places):
        p = along(o, d, t)
        t *= LIMITS.ratio
        far = sqrt(p[0] * p[0] + p[1] * p[1])
        slope = (p[2] - ground) / max(far, 1e-9)
        low, high = min(slope, before), max(slope, before)
        before = slope
        if far * LIMITS.nearest <= 1.0 or low >= LIMITS.steepest or high <= -LIMITS.steepest:
            continue
        a = min(int(_turn(p[0], abs(p[1])) * (0.5 * LIMITS.turns)), LIMITS.turns - 1)
        b = min(int(LIMITS.steps / (LIMITS.nearest * far)), LIMITS.steps - 1)
        table[path_type, a, b, 0] = min(table[path_type, a, b, 0], low)
        table[path_type, a, b, 1] = max(table[path_type, a, b, 1], high)


@jit_allocating
def _trace_one(ground, table, angle):
    lean = acos(2.0 * (angle + 0.5) / LIMITS.angles - 1.0)
    axis, across = (-sin(lean), 0.0, cos(lean)), (cos(lean), 0.0, sin(lean))
    mine = table[angle]
    for path_type in range(connection.PATH.inside):
        for a in range(LIMITS.turns):
            for b in range(LIMITS.steps):
                mine[path_type, a, b, 0], mine[path_type, a, b, 1] = inf, -inf
        for n in range(LIMITS.rays):
            i = 0.5 * pi * min(n / (LIMITS.rays - 1), 0.9995)
            path = connection.path_at_angle(i, 1e6, path_type)
            turned = connection.path_at_angle(i, 1e6, connection.PATH.through)
            first = connection.entry_of(path)
            for m in range(LIMITS.rays):
                round_it = pi * m / (LIMITS.rays - 1)
                side = along(scale(across, cos(round_it)), (0.0, 1.0, 0.0), sin(round_it))
                leave = along(scale(side, path.x), axis, path.z)
                low = min(side[2] * first[0] + axis[2] * first[1], leave[2])
                if path_type == connection.PATH.once_inside:
                    low = min(low, side[2] * turned.x + axis[2] * turned.z)
                if low - ground > -LIMITS.margin:
                    _mark(mine, path_type, leave, along(scale(side, path.dx), axis, path.dz), ground)


@threaded
def trace_falls(begin, end, ground, table, angles):
    """Fill table (angles, path types, turns, steps, 2) float32 for some of the angles: least and greatest
    slope at which a drop's light passes whose petal's plane lies `ground` radii over its centre."""
    for one in range(begin, end):
        _trace_one(ground, table, angles[one])


@jit
def angle_index(cosine):
    """Which of angles a light's cosine with a drop's normal belongs to."""
    return min(max(int((cosine + 1.0) * (0.5 * LIMITS.angles)), 0), LIMITS.angles - 1)


@jit
def may_fall(footprint, drops, k, x, spread):
    """The path types, bit by bit, by which drop k's light may fall at x or as far as `spread` (mm) about
    it.

    footprint.wide (n, path types, turns, steps, 2): as wide as the light. footprint.stand (nd, 9): away
    from the light along the petal's plane (3); aside (3); height of the plane, in radii over the centre;
    which of footprint.wide; which shape of footprint.falls.
    """
    stand = footprint.stand
    m = scale(sub(x, row(drops.centre, k)), 1.0 / drops.radius[k])
    ahead = m[0] * stand[k, 0] + m[1] * stand[k, 1] + m[2] * stand[k, 2]
    aside = abs(m[0] * stand[k, 3] + m[1] * stand[k, 4] + m[2] * stand[k, 5])
    far = sqrt(ahead * ahead + aside * aside)
    close = far - spread / drops.radius[k]
    every = (1 << connection.PATH.inside) - 1
    if close * LIMITS.nearest <= 1.0:
        return every
    slope = (dot(m, row(drops.normal, k)) - stand[k, 6]) / far
    if abs(slope) >= LIMITS.steepest:
        return every
    turn, around = _turn(ahead, aside), spread / (drops.radius[k] * far)
    a0 = max(int((turn - around) * (0.5 * LIMITS.turns)), 0)
    a1 = min(int((turn + around) * (0.5 * LIMITS.turns)), LIMITS.turns - 1)
    b0 = int(LIMITS.steps / (LIMITS.nearest * (2.0 * far - close)))
    b1 = min(int(LIMITS.steps / (LIMITS.nearest * close)), LIMITS.steps - 1)
    if (a1 - a0 + 1) * (b1 - b0 + 1) > LIMITS.most_read:
        return every
    which = int(stand[k, 7])
    path_types = 0
    for path_type in range(connection.PATH.inside):
        for a in range(a0, a1 + 1):
            for b in range(b0, b1 + 1):
                if (
                    footprint.wide[which, path_type, a, b, 0] <= slope + around
                    and footprint.wide[which, path_type, a, b, 1] >= slope - around
                ):
                    path_types |= 1 << path_type
    return path_types


@jit
def falls(footprint, drops, k, path_type, plane, target):
    """Whether by a type of path drop k's light from along the axis may fall at a target, both as of
    `drop_spheres.plane_of`: (axis, side) and (rho, z)."""
    (axis, side), (rho, z) = plane, target
    up = row(drops.normal, k)
    cosine = dot(axis, up)
    high = rho * dot(side, up) + z * cosine
    sine = sqrt(max(1.0 - cosine * cosine, 0.0))
    far = sqrt(max(rho * rho + z * z - high * high, 0.0))
    if sine < LIMITS.overhead or far * LIMITS.nearest <= 1.0:
        return True
    once = 1.0 / far
    slope = (high - footprint.stand[k, 6]) * once
    if abs(slope) >= LIMITS.steepest:
        return True
    ahead = (cosine * high - z) / sine
    a = min(
        int(_turn(ahead, sqrt(max(far * far - ahead * ahead, 0.0))) * (0.5 * LIMITS.turns)), LIMITS.turns - 1
    )
    b = min(int(LIMITS.steps / LIMITS.nearest * once), LIMITS.steps - 1)
    at = angle_index(cosine)
    which = int(footprint.stand[k, 8])
    return (
        footprint.falls[which, at, path_type, a, b, 0] <= slope
        and footprint.falls[which, at, path_type, a, b, 1] >= slope
    )
