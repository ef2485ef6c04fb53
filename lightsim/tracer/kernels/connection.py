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

from math import asin, cos, inf, nan, pi, sin, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import WATER_INDEX
from lightsim.tracer.kernels.angles import angle_of
from lightsim.tracer.kernels.jit import alone, jit
from lightsim.tracer.kernels.refraction import fresnel

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

# Stretches between nodes in which a root may lie, by course and by where the target is: wedges by angle from
# the axis, steps of the distance inside the sphere, of one over the distance outside.
WEDGES, STEPS, LISTED = 32, 24, 16
NEAREST_LIGHT = 5.0  # radii from the sphere's centre
NONE, ANY = -1, -2


def _stretch_table() -> NDArray[np.int8]:
    """(courses, 2 WEDGES STEPS, LISTED) int8: the first node of each stretch, then NONE; ANY where they are
    more than fit. At a node q and dq/di are linear in the target's place (rho, z) and in one over the
    light's height, so their ranges follow from corners; what an arc bulges over its chord is added."""
    g = np.linspace(0.0, 2.0, WEDGES + 1)
    angle = np.arctan2(1.0 - np.abs(1.0 - g), 1.0 - g)
    sine, cosine = np.sin(angle)[:, None], np.cos(angle)[:, None]
    bulge = 1.1 * (np.diff(angle) ** 2 / 8.0)[:, None, None]
    step = np.linspace(0.0, 1.0, STEPS + 1)[:, None]
    found = np.full((COURSES, 2, WEDGES, STEPS, LISTED), NONE, dtype=np.int8)
    for course in range(THROUGH, COURSES):
        node, dx, dz, moment, si, lean, turn, stand = TABLE[course].T
        for outside in (0, 1):
            # inside: q at places d (sin, cos); outside: q over d for (sin, cos) and 1 / d
            far, one = (1.0, step) if outside else (step, 1.0)
            q = []
            for bend in (0.0 * si, si / NEAREST_LIGHT):
                run = sine * (dz + bend * dx) + cosine * (bend * dz - dx)
                q.append(far * run[:, None, :] - one * moment)
            ahead = (sine * dx + cosine * dz)[:, None, :]
            slope = one * (lean + stand * turn) - far * ahead * turn
            found[course, outside] = _may_hold(
                _ranges(q, bulge), _ranges([slope], bulge * np.abs(turn)), np.diff(node)
            )
    return found.reshape(COURSES, 2 * WEDGES * STEPS, LISTED)


def _ranges(of: list[NDArray], more: NDArray) -> tuple[NDArray, NDArray]:
    """Least and most between four corners, widened."""
    first, last = slice(None, -1), slice(1, None)
    corners = [one[a, b] for one in of for a in (first, last) for b in (first, last)]
    return np.min(corners, axis=0) - more, np.max(corners, axis=0) + more


def _may_hold(q: tuple[NDArray, NDArray], slope: tuple[NDArray, NDArray], apart: NDArray) -> NDArray:
    """(wedges, steps, LISTED): the stretches in which q may have a root, from the ranges at the nodes."""
    steepest = np.maximum(np.abs(slope[0]), np.abs(slope[1]))[..., :-1]
    least = np.maximum(np.maximum(q[0], -q[1]), 0.0)
    dips = np.minimum(least[..., :-1], least[..., 1:]) <= steepest * apart
    may = _may_differ(*q) | (_may_differ(*slope) & dips)
    many = may.sum(axis=-1)
    first = np.argsort(~may, axis=-1, kind="stable")[..., :LISTED]
    listed = np.where(np.arange(LISTED) < many[..., None], first, NONE)
    listed[many > LISTED] = ANY
    return listed


def _may_differ(low: NDArray, high: NDArray) -> NDArray:
    """Whether the signs at the two ends of each stretch may differ."""
    rises = (low[..., :-1] <= 0.0) & (high[..., 1:] > 0.0)
    return rises | ((high[..., :-1] > 0.0) & (low[..., 1:] <= 0.0))


STRETCHES = _stretch_table()
CLOSE = 1e-4  # step of the incidence, rad, after which a root is known well enough: Newton squares the error


class Way(NamedTuple):
    """A ray's course at one incidence, in the plane: stand (x, z), direction (dx, dz), their derivatives by
    the incidence, and sines and cosines of incidence i, refraction r and the angle w at the light."""

    x: float
    z: float
    dx: float
    dz: float
    stand1: float
    run1: float
    si: float
    ci: float
    cr: float
    sw: float
    cw: float


NO_WAY = Way(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


@jit
def sine_cosine(i):
    """Sine and cosine of an angle of no more than a quarter turn and a little, to 1e-10: their series, about
    zero and about half of that."""
    x = 0.5 * i
    y = x * x
    s = x * (1.0 - y / 6.0 * (1.0 - y / 20.0 * (1.0 - y / 42.0 * (1.0 - y / 72.0 * (1.0 - y / 110.0)))))
    c = 1.0 - y / 2.0 * (
        1.0 - y / 12.0 * (1.0 - y / 30.0 * (1.0 - y / 56.0 * (1.0 - y / 90.0 * (1.0 - y / 132.0))))
    )
    return 2.0 * s * c, 1.0 - 2.0 * s * s


@jit
def course_of(i, s, course):
    """The way at incidence i."""
    si, ci = sine_cosine(i)
    return course_at(si, ci, s, course)


@jit
def course_at(si, ci, s, course):
    """The way at an incidence of this sine and cosine."""
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
    return Way(x, z, dx, dz, stand1, run1, si, ci, cr, sw, cw)


@jit
def entry_of(way):
    """Where a way meets the sphere first (rho, z)."""
    return way.si * way.cw - way.ci * way.sw, way.ci * way.cw + way.si * way.sw


@jit
def miss(rho, z, way, course):
    """q and dq/di of a way, and how far along the ray the target lies."""
    q = (rho - way.x) * way.dz - (z - way.z) * way.dx
    t = (rho - way.x) * way.dx + (z - way.z) * way.dz
    lean = -way.ci if course < INSIDE else way.cr
    return q, way.stand1 * lean - t * way.run1, t


@jit
def node_miss(rho, z, s, course, node):
    """q and dq/di at a node of the table, to second order in 1 / s."""
    dx, dz = TABLE[course, node, 1], TABLE[course, node, 2]
    ahead = rho * dx + z * dz
    q = rho * dz - z * dx - TABLE[course, node, 3] + TABLE[course, node, 4] / s * ahead
    slope = TABLE[course, node, 5] - (ahead - TABLE[course, node, 7]) * TABLE[course, node, 6]
    return q, slope


@jit
def polish(rho, z, s, course, low, high, q_low, guess):
    """The root between low and high, where q changes sign, and its way: Newton, kept inside by bisection."""
    i = guess if low < guess < high else 0.5 * (low + high)
    way = course_of(i, s, course)
    for _ in range(24):
        q, slope, _ = miss(rho, z, way, course)
        step = q / slope if slope != 0.0 else inf
        if abs(q) < 1e-9 or abs(step) < CLOSE:
            break
        if (q > 0.0) == (q_low > 0.0):
            low = i
        else:
            high = i
        i -= step
        if not low < i < high:
            i = 0.5 * (low + high)
        way = course_of(i, s, course)
    return i, way


@jit
def between(low, high, q0, q1, slope0, slope1):
    """Where a curve that rises or falls from q0 to q1 is about zero: a cubic through both ends, read
    backward."""
    d = q1 - q0
    t = -q0 / d
    h = high - low
    if slope0 * d <= 0.2 * d * d / h or slope1 * d <= 0.2 * d * d / h:
        return low + h * t
    return low + h * t + t * (1.0 - t) * ((d / slope0 - h) * (1.0 - t) + (h - d / slope1) * t)


@jit
def turning(rho, z, s, course, low, high, slope_low, slope_high):
    """The place between low and high where dq/di changes sign, and q there: false position, which is enough
    for so smooth a curve."""
    i, q = low, 0.0
    for _ in range(4):
        i = low - slope_low * (high - low) / (slope_high - slope_low)
        q, slope, _ = miss(rho, z, course_of(i, s, course), course)
        if abs(slope) < 1e-5:
            break
        if (slope > 0.0) == (slope_low > 0.0):
            low, slope_low = i, slope
        else:
            high, slope_high = i, slope
    return i, q


@jit
def mirrored_root(rho, z, s):
    """The one root of the mirrored course and its way, nan where the sphere hides the target.

    Newton, begun where far away sin i = d sin(2 i - theta) has its root for small angles.
    """
    theta, d = angle_of(rho, z), sqrt(rho * rho + z * z)
    i = theta * d / max(2.0 * d - 1.0, 1e-9)
    for _ in range(12):
        i = min(max(i, 0.0), 0.5 * pi)
        way = course_of(i, s, MIRRORED)
        q, slope, t = miss(rho, z, way, MIRRORED)
        step = q / slope
        if abs(step) < CLOSE:
            return (i if t > 0.0 else nan), way
        i -= step
    return nan, way


@jit
def _may_turn_over(q0, q1, slope0, slope1, low, high):
    """Whether q may reach zero between two nodes where it has one sign and its slope turns: twice what a
    parabola says."""
    share = slope0 / (slope0 - slope1)
    dip = 0.5 * abs(slope0) * share * (high - low)
    return min(abs(q0), abs(q1)) < 2.0 * dip


@jit
def stretches_at(rho, z, s):
    """The entry of STRETCHES for a target; -1 where the light is too near for it: all are looked at."""
    if s < NEAREST_LIGHT:
        return -1
    d = sqrt(rho * rho + z * z)
    g = 1.0 - z / (abs(z) + rho + 1e-300)  # grows with the angle from the axis: 0 to 2
    a = min(int(g * (0.5 * WEDGES)), WEDGES - 1)
    if d > 1.0:
        return (WEDGES + a) * STEPS + min(int(STEPS / d), STEPS - 1)
    return a * STEPS + min(int(STEPS * d), STEPS - 1)


@jit
def next_root(rho, z, s, course, entry, state):
    """The next root after `state` (0 to begin): (i, state to go on from, way); state -1: there are no more.

    entry : of `stretches_at`.
    Each stretch between two nodes is looked at twice, for the roots before and after a turning point
    inside it, so that the two roots near a fold of the caustic are both found.
    """
    n = state >> 1
    if course == MIRRORED:
        if n == 0:
            i, way = mirrored_root(rho, z, s)
            if i == i:
                return i, 2, way
        return 0.0, -1, NO_WAY
    if entry >= 0 and STRETCHES[course, entry, 0] == ANY:
        entry = -1
    while n < (LISTED if entry >= 0 else NODES - 1):
        node = n
        if entry >= 0:
            node = int(STRETCHES[course, entry, n])
            if node < 0:
                break
        q0, slope0 = node_miss(rho, z, s, course, node)
        q1, slope1 = node_miss(rho, z, s, course, node + 1)
        low, high = TABLE[course, node, 0], TABLE[course, node + 1, 0]
        if (q0 > 0.0) != (q1 > 0.0):
            if state & 1 == 0:
                guess = between(low, high, q0, q1, slope0, slope1)
                i, way = polish(rho, z, s, course, low, high, q0, guess)
                return i, (n + 1) << 1, way
        elif (
            (slope0 > 0.0) != (slope1 > 0.0)
            and (q0 > 0.0) != (slope0 > 0.0)
            and _may_turn_over(q0, q1, slope0, slope1, low, high)
        ):
            middle, q = turning(rho, z, s, course, low, high, slope0, slope1)
            if (q > 0.0) != (q0 > 0.0):
                if state & 1 == 0:
                    guess = middle - (middle - low) * sqrt(q / (q - q0))
                    i, way = polish(rho, z, s, course, low, middle, q0, guess)
                    return i, (n << 1) | 1, way
                guess = middle + (high - middle) * sqrt(q / (q - q1))
                i, way = polish(rho, z, s, course, middle, high, q, guess)
                return i, (n + 1) << 1, way
        state = 0
        n += 1
    return 0.0, -1, NO_WAY


@jit
def density(way, s, course, t, softest):
    """Flux density across the ray per unit of I / R^2 (see the head of this file), T included.

    softest : the least product |rho / sin i| |dq/di| allowed: a pixel sees no caustic sharper than itself.
    """
    m = course if course < INSIDE else course - INSIDE
    lean = -way.ci if course < INSIDE else way.cr
    slope = way.stand1 * lean - t * way.run1
    if abs(way.si) > 1e-6:
        spread = (way.x + t * way.dx) / way.si
    else:
        sign = 1.0 if m % 2 == 0 else -1.0
        on = t * way.run1
        spread = sign * (way.stand1 + on) if course < INSIDE else sign * (way.stand1 - on)
    f = fresnel(way.ci, N)
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
    return share * way.ci / (s * s * way.cw * area) if area > 0.0 else inf


@jit
def field(rho, z, course):
    """Flux density at (rho, z) of a parallel beam of unit density, all roots added (for choosing drops)."""
    s = 1e6
    total = 0.0
    state = 0
    entry = stretches_at(rho, z, s)
    while True:
        _, state, way = next_root(rho, z, s, course, entry, state)
        if state < 0:
            return total
        _, _, t = miss(rho, z, way, course)
        if t > 0.0:
            total += s * s * density(way, s, course, t, 0.02)


REACH_COSINES, REACH_STEPS = 65, 33


@alone(lambda: np.zeros((COURSES, REACH_COSINES, REACH_STEPS)))
def reach_table():
    """(5, 65, 33) float64: flux density beside and in a drop in a parallel beam by course (mirrored, through,
    once inside; inside, inside again), against the cosine of the angle from the light (-1..1) and the drop's
    radius over the distance (0..1), inside the distance over the radius.

    Each entry is the greatest of its neighbours: a bound to choose drops by, not a value.
    """
    table = np.zeros((COURSES, REACH_COSINES, REACH_STEPS))
    for course in range(COURSES):
        for a in range(REACH_COSINES):
            c = -1.0 + 2.0 * a / (REACH_COSINES - 1)
            sine = sqrt(max(0.0, 1.0 - c * c))
            for b in range(1, REACH_STEPS):
                distance = (REACH_STEPS - 1) / b * (1.0 + 1e-6)
                if course >= INSIDE:
                    distance = 1.0 / distance
                table[course, a, b] = field(distance * sine, distance * c, course)
    wide = table.copy()
    for course in range(COURSES):
        for a in range(REACH_COSINES):
            for b in range(REACH_STEPS):
                for i in range(max(0, a - 1), min(REACH_COSINES, a + 2)):
                    for j in range(max(0, b - 1), min(REACH_STEPS, b + 2)):
                        wide[course, a, b] = max(wide[course, a, b], table[course, i, j])
    return wide
