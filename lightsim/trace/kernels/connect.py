"""How a point of a light reaches a point through, past or off a sphere of water: roots of one variable.

Everything lies in the plane through the sphere's centre, the light's point and the target; lengths in
radii, the light's point at height s on the +z axis, the target at (rho, z) with rho >= 0. A ray meets the
sphere at the angle of incidence i (signed like its distance from the axis), is refracted to r with sin r =
sin i / n, and after each chord stands chi = pi - 2 r further round the centre:

  outside, after m chords (m = 0: mirrored; 1: through; 2: once mirrored inside):
      stands at  i - w + m chi,           runs along  2 i - w + m chi
  inside, on its chord number j + 1:
      stands at  i - w + j chi,           runs along  i - w + pi - r + j chi

with sin w = sin i / s; angles are counted from +z toward +rho. q(i) is the distance of the target from
the ray; the flux density at the target follows from the derivative at each root of q:
  density = I T cos i / (s^2 cos w |rho / sin i| |dq/di|),
I the light's intensity, T the Fresnel share that gets through. This is conservation of flux in a narrow
cone of rays, with rotational symmetry about the axis; dq/di = 0 is the caustic.
"""

from __future__ import annotations

from math import asin, atan2, cos, inf, nan, pi, sin, sqrt

import numpy as np

from lightsim.constants import WATER_INDEX
from lightsim.trace.kernels.jit import jit, making
from lightsim.trace.kernels.water import fresnel

N = WATER_INDEX
NODES = 41
MIRRORED, THROUGH, ONCE_INSIDE, INSIDE, INSIDE_AGAIN = 0, 1, 2, 3, 4
COURSES = 5


def _node_table() -> np.ndarray:
    """Per course and node, for a light far away: i, direction (rho, z), stand x direction, sin i, place',
    direction', lean.
    """
    table = np.zeros((COURSES, NODES, 8))
    u = np.linspace(-1.0, 1.0, NODES)
    angle = 0.5 * pi * np.sin(0.5 * pi * u) * (1.0 - 1e-6)
    for course in range(COURSES):
        for node, i in enumerate(angle):
            r = asin(sin(i) / N)
            r1 = cos(i) / (N * cos(r))
            chi = pi - 2.0 * r
            if course < INSIDE:
                stand, run = i + course * chi, 2.0 * i + course * chi
                stand1, run1, lean = 1.0 - 2.0 * course * r1, 2.0 - 2.0 * course * r1, -cos(i)
            else:
                j = course - INSIDE
                stand, run = i + j * chi, i + pi - r + j * chi
                stand1, run1, lean = 1.0 - 2.0 * j * r1, 1.0 - r1 - 2.0 * j * r1, cos(r)
            moment = sin(stand) * cos(run) - cos(stand) * sin(run)
            table[course, node] = (
                i,
                sin(run),
                cos(run),
                moment,
                sin(i),
                stand1 * lean,
                run1,
                sin(stand) * sin(run) + cos(stand) * cos(run),
            )
    return table


TABLE = _node_table()


@jit
def course_of(i, s, course):
    """At incidence i: stand (rho, z), direction (rho, z), their derivatives by i, cos i, cos r, cos w."""
    si, ci = sin(i), cos(i)
    sr = si / N
    cr = sqrt(1.0 - sr * sr)
    sw = si / s
    cw = sqrt(1.0 - sw * sw)
    w1 = ci / (s * cw)
    r1 = ci / (N * cr)
    # chi = pi - 2 r
    cx, sx = 2.0 * sr * sr - 1.0, 2.0 * sr * cr
    # stand = i - w + m chi
    x, z = si * cw - ci * sw, ci * cw + si * sw
    m = course if course < INSIDE else course - INSIDE
    for _ in range(m):
        x, z = x * cx + z * sx, z * cx - x * sx
    stand1 = 1.0 - w1 - 2.0 * m * r1
    if course < INSIDE:
        dx, dz = x * ci + z * si, z * ci - x * si
        run1 = stand1 + 1.0
    else:
        # + pi - r
        dx, dz = -(x * cr - z * sr), -(z * cr + x * sr)
        run1 = stand1 - r1
    return x, z, dx, dz, stand1, run1, ci, cr, cw


@jit
def miss(rho, z, i, s, course):
    """q and dq/di at incidence i, and how far along the ray the target lies."""
    x, y, dx, dz, stand1, run1, ci, cr, _ = course_of(i, s, course)
    q = (rho - x) * dz - (z - y) * dx
    t = (rho - x) * dx + (z - y) * dz
    lean = -ci if course < INSIDE else cr
    return q, stand1 * lean - t * run1, t


@jit
def node_miss(rho, z, s, course, node):
    """q and dq/di at a node of the table, to second order in 1 / s."""
    dx, dz = TABLE[course, node, 1], TABLE[course, node, 2]
    ahead = rho * dx + z * dz
    q = rho * dz - z * dx - TABLE[course, node, 3] + TABLE[course, node, 4] / s * ahead
    slope = TABLE[course, node, 5] - (ahead - TABLE[course, node, 7]) * TABLE[course, node, 6]
    return q, slope


@jit
def polish(rho, z, s, course, low, high, q_low):
    """The root between low and high, where q changes sign: Newton, kept inside by bisection."""
    i = 0.5 * (low + high)
    for _ in range(24):
        q, slope, _ = miss(rho, z, i, s, course)
        if abs(q) < 1e-9:
            break
        if (q > 0.0) == (q_low > 0.0):
            low = i
        else:
            high = i
        step = i - q / slope if slope != 0.0 else low - 1.0
        if step <= low or step >= high:
            step = 0.5 * (low + high)
        if abs(step - i) < 1e-7:
            i = step
            break
        i = step
    return i


@jit
def turning(rho, z, s, course, low, high, slope_low, slope_high):
    """The place between low and high where dq/di changes sign: false position, which is enough for so
    smooth a curve."""
    i = low
    for _ in range(4):
        i = low - slope_low * (high - low) / (slope_high - slope_low)
        _, slope, _ = miss(rho, z, i, s, course)
        if abs(slope) < 1e-5:
            break
        if (slope > 0.0) == (slope_low > 0.0):
            low, slope_low = i, slope
        else:
            high, slope_high = i, slope
    return i


@jit
def mirrored_root(rho, z, s):
    """The one root of the mirrored course, nan where the sphere hides the target.

    Newton from half the phase angle.
    """
    i = 0.5 * atan2(rho, z)
    for _ in range(12):
        i = min(max(i, 0.0), 0.5 * pi)
        q, slope, t = miss(rho, z, i, s, MIRRORED)
        step = q / slope
        i -= step
        if abs(step) < 1e-7:
            return i if 0.0 <= i <= 0.5 * pi and t > 0.0 else nan
    return nan


@jit
def _may_turn_over(q0, q1, slope0, slope1, low, high):
    """Whether q may reach zero between two nodes where it has one sign and its slope turns: twice what a
    parabola says."""
    share = slope0 / (slope0 - slope1)
    dip = 0.5 * abs(slope0) * share * (high - low)
    return min(abs(q0), abs(q1)) < 2.0 * dip


@jit
def next_root(rho, z, s, course, state):
    """The next root after `state` (0 to begin): (i, state to go on from), state -1 when there are no more.

    Each stretch between two nodes is looked at twice, for the roots before and after a turning point
    inside it, so that the two roots near a fold of the caustic are both found.
    """
    node = state >> 1
    if course == MIRRORED:
        i = mirrored_root(rho, z, s) if node == 0 else nan
        return (i, NODES << 1) if i == i else (0.0, -1)
    if node < NODES - 1:
        q0, slope0 = node_miss(rho, z, s, course, node)
    while node < NODES - 1:
        q1, slope1 = node_miss(rho, z, s, course, node + 1)
        low, high = TABLE[course, node, 0], TABLE[course, node + 1, 0]
        if (q0 > 0.0) != (q1 > 0.0):
            if state & 1 == 0:
                return polish(rho, z, s, course, low, high, q0), (node + 1) << 1
        elif (
            (slope0 > 0.0) != (slope1 > 0.0)
            and (q0 > 0.0) != (slope0 > 0.0)
            and _may_turn_over(q0, q1, slope0, slope1, low, high)
        ):
            middle = turning(rho, z, s, course, low, high, slope0, slope1)
            q, _, _ = miss(rho, z, middle, s, course)
            if (q > 0.0) != (q0 > 0.0):
                if state & 1 == 0:
                    return polish(rho, z, s, course, low, middle, q0), (node << 1) | 1
                return polish(rho, z, s, course, middle, high, q), (node + 1) << 1
        state = 0
        node += 1
        q0, slope0 = q1, slope1
    return 0.0, -1


@jit
def density(i, s, course, t, stand_x, dx, stand1, run1, ci, cr, cw, softest):
    """Flux density across the ray per unit of I / R^2 (see the head of this file), T included.

    softest : the least product |rho / sin i| |dq/di| allowed: a pixel sees no caustic sharper than itself.
    """
    si = sin(i)
    m = course if course < INSIDE else course - INSIDE
    lean = -ci if course < INSIDE else cr
    slope = stand1 * lean - t * run1
    if abs(si) > 1e-6:
        spread = (stand_x + t * dx) / si
    else:
        sign = 1.0 if m % 2 == 0 else -1.0
        spread = sign * (stand1 + t * run1) if course < INSIDE else sign * (stand1 - t * run1)
    f = fresnel(ci, N)
    if course == MIRRORED:
        share = f
    elif course == THROUGH:
        share = (1.0 - f) * (1.0 - f)
    elif course == ONCE_INSIDE:
        share = (1.0 - f) * (1.0 - f) * f
    elif course == INSIDE:
        share = 1.0 - f
    else:
        share = (1.0 - f) * f
    area = max(abs(spread * slope), softest)
    return share * ci / (s * s * cw * area) if area > 0.0 else inf


@jit
def field(rho, z, course):
    """Flux density at (rho, z) of a parallel beam of unit density, all roots added (for choosing drops)."""
    s = 1e6
    total = 0.0
    state = 0
    while True:
        i, state = next_root(rho, z, s, course, state)
        if state < 0:
            return total
        x, y, dx, dz, stand1, run1, ci, cr, cw = course_of(i, s, course)
        t = (rho - x) * dx + (z - y) * dz
        if t > 0.0:
            total += s * s * density(i, s, course, t, x, dx, stand1, run1, ci, cr, cw, 0.02)


REACH_COSINES, REACH_STEPS = 65, 33


@making
def reach_table():
    """(3, 65, 33) float64: flux density beside a drop in a parallel beam by course (mirrored, through, once
    inside), against the cosine of the angle from the light (-1..1) and the drop's radius over the distance
    (0..1).

    Each entry is the greatest of its neighbours: a bound to choose drops by, not a value.
    """
    table = np.zeros((INSIDE, REACH_COSINES, REACH_STEPS))
    for course in range(INSIDE):
        for a in range(REACH_COSINES):
            c = -1.0 + 2.0 * a / (REACH_COSINES - 1)
            sine = sqrt(max(0.0, 1.0 - c * c))
            for b in range(1, REACH_STEPS):
                distance = (REACH_STEPS - 1) / b * (1.0 + 1e-6)
                table[course, a, b] = field(distance * sine, distance * c, course)
    wide = table.copy()
    for course in range(INSIDE):
        for a in range(REACH_COSINES):
            for b in range(REACH_STEPS):
                for i in range(max(0, a - 1), min(REACH_COSINES, a + 2)):
                    for j in range(max(0, b - 1), min(REACH_STEPS, b + 2)):
                        wide[course, a, b] = max(wide[course, a, b], table[course, i, j])
    return wide
