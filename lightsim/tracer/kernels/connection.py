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

from lightsim.constants import WATER_INDEX as N
from lightsim.tracer.kernels.angles import angle_of
from lightsim.tracer.kernels.jit import jit, single_threaded
from lightsim.tracer.kernels.refraction import fresnel

NODES = 41


class PathTypes(NamedTuple):
    """Numbers of the types of path: those to places outside the sphere first, by their chords."""

    mirrored: int = 0
    through: int = 1
    once_inside: int = 2
    inside: int = 3
    inside_again: int = 4


PATH = PathTypes()


def _node_table() -> np.ndarray:
    """Per path type and node, for a light far away: i, direction (rho, z), stand x direction, sin i, place',
    direction', lean.
    """
    table = np.zeros((len(PATH), NODES, 8))
    u = np.linspace(-1.0, 1.0, NODES)
    angle = 0.5 * pi * np.sin(0.5 * pi * u) * (1.0 - 1e-6)
    for path_type in range(len(PATH)):
        for node, i in enumerate(angle):
            r = asin(sin(i) / N)
            r1 = cos(i) / (N * cos(r))
            chi = pi - 2.0 * r
            if path_type < PATH.inside:
                stand, run = i + path_type * chi, 2.0 * i + path_type * chi
                stand1, run1, lean = 1.0 - 2.0 * path_type * r1, 2.0 - 2.0 * path_type * r1, -cos(i)
            else:
                j = path_type - PATH.inside
                stand, run = i + j * chi, i + pi - r + j * chi
                stand1, run1, lean = 1.0 - 2.0 * j * r1, 1.0 - r1 - 2.0 * j * r1, cos(r)
            moment = sin(stand) * cos(run) - cos(stand) * sin(run)
            table[path_type, node] = (
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

# Stretches between nodes in which a root may lie, by path type and by where the target is: wedges by angle
# from the axis, steps of the distance inside the sphere, of one over the distance outside.


class TableSizes(NamedTuple):
    """Of the tables of stretches and of reach."""

    wedges: int = 32  # by the target's angle from the axis
    steps: int = 24  # of its distance inside the sphere, of one over that outside
    listed: int = 16  # stretches at the most for each of these
    nearest_light: float = 5.0  # radii from the sphere's centre
    none: int = -1  # no further stretch
    any: int = -2  # more stretches than are listed: a root may lie in each
    reach_cosines: int = 65  # of the angle between target and light
    reach_steps: int = 33  # of one over the target's distance


SIZES = TableSizes()


def _stretch_table() -> NDArray[np.int8]:
    """(path types, 2 wedges steps, listed) int8: the first node of each stretch, then `none`; `any` where
    they are more than fit. At a node q and dq/di are linear in the target's place (rho, z) and in one
    over the light's height, so their ranges follow from corners; what an arc bulges over its chord is
    added."""
    g = np.linspace(0.0, 2.0, SIZES.wedges + 1)
    angle = np.arctan2(1.0 - np.abs(1.0 - g), 1.0 - g)
    sine, cosine = np.sin(angle)[:, None], np.cos(angle)[:, None]
    bulge = 1.1 * (np.diff(angle) ** 2 / 8.0)[:, None, None]
    step = np.linspace(0.0, 1.0, SIZES.steps + 1)[:, None]
    found = np.full((len(PATH), 2, SIZES.wedges, SIZES.steps, SIZES.listed), SIZES.none, dtype=np.int8)
    for path_type in range(PATH.through, len(PATH)):
        node, dx, dz, moment, si, lean, turn, stand = TABLE[path_type].T
        for outside in (0, 1):
            # inside: q at places d (sin, cos); outside: q over d for (sin, cos) and 1 / d
            far, one = (1.0, step) if outside else (step, 1.0)
            q = []
            for bend in (0.0 * si, si / SIZES.nearest_light):
                run = sine * (dz + bend * dx) + cosine * (bend * dz - dx)
                q.append(far * run[:, None, :] - one * moment)
            ahead = (sine * dx + cosine * dz)[:, None, :]
            slope = one * (lean + stand * turn) - far * ahead * turn
            found[path_type, outside] = _may_hold(
                _ranges(q, bulge), _ranges([slope], bulge * np.abs(turn)), np.diff(node)
            )
    return found.reshape(len(PATH), 2 * SIZES.wedges * SIZES.steps, SIZES.listed)


def _ranges(of: list[NDArray], more: NDArray) -> tuple[NDArray, NDArray]:
    """Least and most between four corners, widened."""
    first, last = slice(None, -1), slice(1, None)
    corners = [one[a, b] for one in of for a in (first, last) for b in (first, last)]
    return np.min(corners, axis=0) - more, np.max(corners, axis=0) + more


def _may_hold(q: tuple[NDArray, NDArray], slope: tuple[NDArray, NDArray], apart: NDArray) -> NDArray:
    """(wedges, steps, listed): the stretches in which q may have a root, from the ranges at the nodes."""
    steepest = np.maximum(np.abs(slope[0]), np.abs(slope[1]))[..., :-1]
    least = np.maximum(np.maximum(q[0], -q[1]), 0.0)
    dips = np.minimum(least[..., :-1], least[..., 1:]) <= steepest * apart
    may = _may_differ(*q) | (_may_differ(*slope) & dips)
    many = may.sum(axis=-1)
    first = np.argsort(~may, axis=-1, kind="stable")[..., : SIZES.listed]
    listed = np.where(np.arange(SIZES.listed) < many[..., None], first, SIZES.none)
    listed[many > SIZES.listed] = SIZES.any
    return listed


def _may_differ(low: NDArray, high: NDArray) -> NDArray:
    """Whether the signs at the two ends of each stretch may differ."""
    rises = (low[..., :-1] <= 0.0) & (high[..., 1:] > 0.0)
    return rises | ((high[..., :-1] > 0.0) & (low[..., 1:] <= 0.0))


STRETCHES = _stretch_table()
CLOSE = 1e-4  # step of the incidence, rad, after which a root is known well enough: Newton squares the error


class SpherePath(NamedTuple):
    """A path at one incidence, in the plane: where it is on the sphere last (x, z), direction (dx, dz),
    their derivatives by the incidence, and sines and cosines of incidence i, refraction r and the angle w
    at the light."""

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


NO_PATH = SpherePath(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


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
def path_at_angle(i, s, path_type):
    """The path at incidence i."""
    si, ci = sine_cosine(i)
    return path_at(si, ci, s, path_type)


@jit
def path_at(si, ci, s, path_type):
    """The path at an incidence of this sine and cosine."""
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
    m = path_type if path_type < PATH.inside else path_type - PATH.inside
    for _ in range(m):
        x, z = x * cx + z * sx, z * cx - x * sx
    stand1 = 1.0 - w1 - 2.0 * m * r1
    if path_type < PATH.inside:
        dx, dz = x * ci + z * si, z * ci - x * si
        run1 = stand1 + 1.0
    else:
        # + pi - r
        dx, dz = -(x * cr - z * sr), -(z * cr + x * sr)
        run1 = stand1 - r1
    return SpherePath(x, z, dx, dz, stand1, run1, si, ci, cr, sw, cw)


@jit
def entry_of(path):
    """Where a path meets the sphere first (rho, z)."""
    return path.si * path.cw - path.ci * path.sw, path.ci * path.cw + path.si * path.sw


@jit
def miss(rho, z, path, path_type):
    """q and dq/di of a path, and how far along the ray the target lies."""
    q = (rho - path.x) * path.dz - (z - path.z) * path.dx
    t = (rho - path.x) * path.dx + (z - path.z) * path.dz
    lean = -path.ci if path_type < PATH.inside else path.cr
    return q, path.stand1 * lean - t * path.run1, t


@jit
def node_miss(rho, z, s, path_type, node):
    """q and dq/di at a node of the table, to second order in 1 / s."""
    dx, dz = TABLE[path_type, node, 1], TABLE[path_type, node, 2]
    ahead = rho * dx + z * dz
    q = rho * dz - z * dx - TABLE[path_type, node, 3] + TABLE[path_type, node, 4] / s * ahead
    slope = TABLE[path_type, node, 5] - (ahead - TABLE[path_type, node, 7]) * TABLE[path_type, node, 6]
    return q, slope


@jit
def polish(rho, z, s, path_type, low, high, q_low, guess):
    """The root between low and high, where q changes sign, and its path: Newton, kept inside by bisection."""
    i = guess if low < guess < high else 0.5 * (low + high)
    path = path_at_angle(i, s, path_type)
    for _ in range(24):
        q, slope, _ = miss(rho, z, path, path_type)
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
        path = path_at_angle(i, s, path_type)
    return i, path


@jit
def cubic_root(low, high, q0, q1, slope0, slope1):
    """Where a curve that rises or falls from q0 to q1 is about zero: a cubic through both ends, read
    backward."""
    d = q1 - q0
    t = -q0 / d
    h = high - low
    if slope0 * d <= 0.2 * d * d / h or slope1 * d <= 0.2 * d * d / h:
        return low + h * t
    return low + h * t + t * (1.0 - t) * ((d / slope0 - h) * (1.0 - t) + (h - d / slope1) * t)


@jit
def turning(rho, z, s, path_type, low, high, slope_low, slope_high):
    """The place between low and high where dq/di changes sign, and q there: false position, which is enough
    for so smooth a curve."""
    i, q = low, 0.0
    for _ in range(4):
        i = low - slope_low * (high - low) / (slope_high - slope_low)
        q, slope, _ = miss(rho, z, path_at_angle(i, s, path_type), path_type)
        if abs(slope) < 1e-5:
            break
        if (slope > 0.0) == (slope_low > 0.0):
            low, slope_low = i, slope
        else:
            high, slope_high = i, slope
    return i, q


@jit
def mirrored_root(rho, z, s):
    """The one root of the mirrored path and that path, nan where the sphere hides the target.

    Newton, begun where far away sin i = d sin(2 i - theta) has its root for small angles.
    """
    theta, d = angle_of(rho, z), sqrt(rho * rho + z * z)
    i = theta * d / max(2.0 * d - 1.0, 1e-9)
    for _ in range(12):
        i = min(max(i, 0.0), 0.5 * pi)
        path = path_at_angle(i, s, PATH.mirrored)
        q, slope, t = miss(rho, z, path, PATH.mirrored)
        step = q / slope
        if abs(step) < CLOSE:
            return (i if t > 0.0 else nan), path
        i -= step
    return nan, path


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
    if s < SIZES.nearest_light:
        return -1
    d = sqrt(rho * rho + z * z)
    g = 1.0 - z / (abs(z) + rho + 1e-300)  # grows with the angle from the axis: 0 to 2
    a = min(int(g * (0.5 * SIZES.wedges)), SIZES.wedges - 1)
    if d > 1.0:
        return (SIZES.wedges + a) * SIZES.steps + min(int(SIZES.steps / d), SIZES.steps - 1)
    return a * SIZES.steps + min(int(SIZES.steps * d), SIZES.steps - 1)


@jit
def next_root(rho, z, s, path_type, entry, state):
    """The next root after `state` (0 to begin): (i, state to go on from, path); state -1: there are no more.

    entry : of `stretches_at`.
    Each stretch between two nodes is looked at twice, for the roots before and after a turning point
    inside it, so that the two roots near a fold of the caustic are both found.
    """
    n = state >> 1
    if path_type == PATH.mirrored:
        if n == 0:
            i, path = mirrored_root(rho, z, s)
            if i == i:
                return i, 2, path
        return 0.0, -1, NO_PATH
    if entry >= 0 and STRETCHES[path_type, entry, 0] == SIZES.any:
        entry = -1
    while n < (SIZES.listed if entry >= 0 else NODES - 1):
        node = n
        if entry >= 0:
            node = int(STRETCHES[path_type, entry, n])
            if node < 0:
                break
        q0, slope0 = node_miss(rho, z, s, path_type, node)
        q1, slope1 = node_miss(rho, z, s, path_type, node + 1)
        low, high = TABLE[path_type, node, 0], TABLE[path_type, node + 1, 0]
        if (q0 > 0.0) != (q1 > 0.0):
            if state & 1 == 0:
                guess = cubic_root(low, high, q0, q1, slope0, slope1)
                i, path = polish(rho, z, s, path_type, low, high, q0, guess)
                return i, (n + 1) << 1, path
        elif (
            (slope0 > 0.0) != (slope1 > 0.0)
            and (q0 > 0.0) != (slope0 > 0.0)
            and _may_turn_over(q0, q1, slope0, slope1, low, high)
        ):
            middle, q = turning(rho, z, s, path_type, low, high, slope0, slope1)
            if (q > 0.0) != (q0 > 0.0):
                if state & 1 == 0:
                    guess = middle - (middle - low) * sqrt(q / (q - q0))
                    i, path = polish(rho, z, s, path_type, low, middle, q0, guess)
                    return i, (n << 1) | 1, path
                guess = middle + (high - middle) * sqrt(q / (q - q1))
                i, path = polish(rho, z, s, path_type, middle, high, q, guess)
                return i, (n + 1) << 1, path
        state = 0
        n += 1
    return 0.0, -1, NO_PATH


@jit
def flux_density(path, s, path_type, t, softest):
    """Flux density across the ray per unit of I / R^2 (see the head of this file), T included.

    softest : the least product |rho / sin i| |dq/di| allowed: a pixel sees no caustic sharper than itself.
    """
    m = path_type if path_type < PATH.inside else path_type - PATH.inside
    lean = -path.ci if path_type < PATH.inside else path.cr
    slope = path.stand1 * lean - t * path.run1
    if abs(path.si) > 1e-6:
        spread = (path.x + t * path.dx) / path.si
    else:
        sign = 1.0 if m % 2 == 0 else -1.0
        on = t * path.run1
        spread = sign * (path.stand1 + on) if path_type < PATH.inside else sign * (path.stand1 - on)
    f = fresnel(path.ci, N)
    if path_type == PATH.mirrored:
        share = f
    elif path_type == PATH.through:
        share = (1.0 - f) * (1.0 - f)
    elif path_type == PATH.once_inside:
        share = (1.0 - f) * (1.0 - f) * f
    elif path_type == PATH.inside:
        share = 1.0 - f
    else:
        share = (1.0 - f) * f
    area = max(abs(spread * slope), softest)
    return share * path.ci / (s * s * path.cw * area) if area > 0.0 else inf


@jit
def beam_density(rho, z, path_type):
    """Flux density at (rho, z) of a parallel beam of unit density, all roots added (for choosing drops)."""
    s = 1e6
    total = 0.0
    state = 0
    entry = stretches_at(rho, z, s)
    while True:
        _, state, path = next_root(rho, z, s, path_type, entry, state)
        if state < 0:
            return total
        _, _, t = miss(rho, z, path, path_type)
        if t > 0.0:
            total += s * s * flux_density(path, s, path_type, t, 0.02)


@single_threaded(lambda: np.zeros((len(PATH), SIZES.reach_cosines, SIZES.reach_steps)))
def reach_table():
    """(5, 65, 33) float64: flux density beside and in a drop in a parallel beam by path type (mirrored,
    through, once inside; inside, inside again), against the cosine of the angle from the light (-1..1)
    and the drop's radius over the distance (0..1), inside the distance over the radius.

    Each entry is the greatest of its neighbours: a bound to choose drops by, not a value.
    """
    table = np.zeros((len(PATH), SIZES.reach_cosines, SIZES.reach_steps))
    for path_type in range(len(PATH)):
        for a in range(SIZES.reach_cosines):
            c = -1.0 + 2.0 * a / (SIZES.reach_cosines - 1)
            sine = sqrt(max(0.0, 1.0 - c * c))
            for b in range(1, SIZES.reach_steps):
                distance = (SIZES.reach_steps - 1) / b * (1.0 + 1e-6)
                if path_type >= PATH.inside:
                    distance = 1.0 / distance
                table[path_type, a, b] = beam_density(distance * sine, distance * c, path_type)
    wide = table.copy()
    for path_type in range(len(PATH)):
        for a in range(SIZES.reach_cosines):
            for b in range(SIZES.reach_steps):
                for i in range(max(0, a - 1), min(SIZES.reach_cosines, a + 2)):
                    for j in range(max(0, b - 1), min(SIZES.reach_steps, b + 2)):
                        wide[path_type, a, b] = max(wide[path_type, a, b], table[path_type, i, j])
    return wide
