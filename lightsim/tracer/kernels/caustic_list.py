"""Which drops may send caustics to a pixel, by tables of a parallel beam, and how often each is sampled."""

from __future__ import annotations

from math import acos, asin, cos, inf, pi, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import connection
from lightsim.tracer.kernels.backward_rays import FAN
from lightsim.tracer.kernels.drop_visibility import CANDIDATES, STATE
from lightsim.tracer.kernels.emitters import Vector
from lightsim.tracer.kernels.jit import jit, jit_allocating
from lightsim.tracer.kernels.vectors import dot, length, row, scale, sub


class CausticColumns(NamedTuple):
    """Columns of a `CausticList`: see `Caustic`."""

    drop: int = 0
    path_type: int = 1
    stride: int = 2
    by_planes: int = 3


COLUMN = CausticColumns()


class CausticLimits(NamedTuple):
    """Strengths of caustics, in shares of the beam."""

    unsure: float = 0.3  # share of its bound that a caustic is taken to have at the least
    fold: float = 2.0  # bound from which on a fold may be near on the petal
    fold_on_base: float = 4.0  # the same on the wet base: a drop draws the beam together to 2.5 by itself
    fold_again: float = 0.2  # the same of light mirrored once inside
    level: float = 0.02  # `least` at which strides hold for a surface square to the light


LIMITS = CausticLimits()


class CausticList(NamedTuple):
    """Caustics that may reach a pixel: found (n, columns), see `CausticColumns`; how many, many (1,) says;
    nodes: room for `backward_rays.follow_nodes`."""

    found: NDArray
    many: NDArray
    nodes: NDArray


class Caustic(NamedTuple):
    """A drop's light by one type of path (`connection`): one in `stride` of the pixel's paths evaluates it,
    weighed by that, and `share` of it. by_planes: whether a fold may be near, so that it is integrated over
    the light's image (`light_image`) rather than sampled."""

    drop: int
    path_type: int
    stride: int
    by_planes: bool


class CausticQuery(NamedTuple):
    """Caustics at a place x, `spread` (mm) wide, of more than `least` of the beam, the light's centre in the
    direction to_light. part: EVERY, or those that are UNEVEN or EVEN over many pixels, which share each
    caustic; rarest: the greatest stride."""

    x: Vector
    spread: float
    to_light: Vector
    least: float
    rarest: int


class LitBall(NamedTuple):
    """A ball of the radius reach (mm) about c, the direction from there to a light's centre, and by how much
    (rad) that changes within the ball."""

    c: Vector
    reach: float
    to_light: Vector
    widen: float


class BeamLimits(NamedTuple):
    """What of a light's beam matters: as far as `radii` radii of a drop (`farthest`), more than `least`
    of it; pixel_mm: of the picture."""

    radii: float
    least: float
    pixel_mm: float


@jit
def caustic_at(caustics, c):
    """Number c of a `CausticList`."""
    found = caustics.found
    return Caustic(
        int(found[c, COLUMN.drop]),
        int(found[c, COLUMN.path_type]),
        int(found[c, COLUMN.stride]),
        found[c, COLUMN.by_planes] > 0,
    )


class Spot(NamedTuple):
    """Where a point lies about a drop, for tables of connection.reach_table: row and column, how far on from
    them, distance from the drop's centre (mm)."""

    row: int
    column: int
    down: float
    on: float
    far: float


@jit
def spot_of(drops, k, x, spread, to_light):
    """The spot of a point x, `spread` wide, about drop k."""
    m = sub(x, row(drops.centre, k))
    far = length(m)
    a = (dot(m, to_light) / far + 1.0) * (0.5 * (connection.SIZES.reach_cosines - 1))
    b = drops.radius[k] / max(far - spread, drops.radius[k]) * (connection.SIZES.reach_steps - 1)
    i = min(max(int(a), 0), connection.SIZES.reach_cosines - 2)
    j = min(int(b), connection.SIZES.reach_steps - 2)
    return Spot(i, j, a - i, b - j, far)


@jit
def beam_share(table, path_type, spot):
    """The entry of a table of connection.reach_table for a spot about a drop."""
    i, j, u, v = spot.row, spot.column, spot.down, spot.on
    low = table[path_type, i, j] * (1.0 - v) + table[path_type, i, j + 1] * v
    high = table[path_type, i + 1, j] * (1.0 - v) + table[path_type, i + 1, j + 1] * v
    return low * (1.0 - u) + high * u


@jit
def base_caustic(table, drops, k, path_type, x, to_light):
    """Whether an emitter's light may be drawn together about x on drop k's base, by a table of
    connection.reach_table that is widened for the emitter. Uses the direction to its centre, not to a sample,
    so that both techniques of the balance heuristic make the same choice."""
    m = scale(sub(x, row(drops.centre, k)), 1.0 / drops.radius[k])
    far = max(length(m), 1e-9)
    i = int((dot(m, to_light) / far + 1.0) * 0.5 * (connection.SIZES.reach_cosines - 1) + 0.5)
    j = min(int(far * (connection.SIZES.reach_steps - 1) + 0.5), connection.SIZES.reach_steps - 1)
    return table[path_type, i, j] > (
        LIMITS.fold_on_base if path_type == connection.PATH.inside else LIMITS.fold_again
    )


@jit
def may_send_caustic(crest, drops, k, ball, limits):
    """Whether drop k may send a caustic anywhere into a `LitBall`; limits: a `BeamLimits`."""
    m = sub(ball.c, row(drops.centre, k))
    far, r, reach, least = length(m), drops.radius[k], ball.reach, limits.least
    if far <= reach + r:
        return True
    if far - reach > limits.radii * r:
        return False
    angle = acos(min(max(dot(m, ball.to_light) / far, -1.0), 1.0))
    around = ball.widen + asin(min(reach / far, 1.0))
    steps, cosines = connection.SIZES.reach_steps - 1, 0.5 * (connection.SIZES.reach_cosines - 1)
    low = int((cos(min(angle + around, pi)) + 1.0) * cosines)
    high = min(int((cos(max(angle - around, 0.0)) + 1.0) * cosines), crest.shape[0] - 1)
    first, last = int(r / (far + reach) * steps), min(int(r / (far - reach) * steps), crest.shape[1] - 1)
    for i in range(low, high + 1):
        for j in range(first, last + 1):
            if crest[i, j] > least:
                return True
    return False


def crest_of(reach: NDArray) -> NDArray:
    """(64, 32) the most of any path type to the petal between four neighbouring entries of
    connection.reach_table."""
    most = reach[: connection.PATH.inside].max(axis=0)
    return np.max([most[:-1, :-1], most[1:, :-1], most[:-1, 1:], most[1:, 1:]], axis=0)


def most_of(crest: NDArray) -> NDArray:
    """(32,) the most of `crest_of` at each step of the distance, whatever the light's direction."""
    return crest.max(axis=0)


@jit
def farthest(most, least):
    """How many radii from a drop a caustic may have more than `least` of the beam; see `most_of`."""
    for j in range(most.shape[0]):
        if most[j] > least:
            return (connection.SIZES.reach_steps - 1) / j if j > 0 else inf
    return 0.0


@jit_allocating
def new_caustics():
    """Room for a pixel's caustics."""
    found = np.empty((4 * CANDIDATES, len(COLUMN)), dtype=np.int32)
    return CausticList(found, np.zeros(1, dtype=np.int64), np.empty((FAN.nodes, FAN.kept)))


@jit
def list_caustics(light, listed, first, last, query):
    """Fill the pass's `CausticList` with those of the drops listed[first:last] that a `CausticQuery` asks
    for.

    The tables of `light.drop_light`: reach, the most that an emitter as wide as this may send; core, the
    most from its centre (connection.reach_table); crest, most: see `crest_of`, `most_of`.
    """
    drops, near, caustics = light.scene.drops, light.drop_light, light.caustics
    found, n, x, spread = caustics.found, 0, query.x, query.spread
    radii = farthest(near.most, query.least)
    for q in range(first, last):
        k = listed[q]
        m = sub(x, row(drops.centre, k))
        room = radii * drops.radius[k] + spread
        if dot(m, m) > room * room or near.visibility.state[k, 0] == STATE.hidden:
            continue
        spot = spot_of(drops, k, x, spread, query.to_light)
        if near.crest[spot.row, spot.column] <= query.least:
            continue
        for path_type in range(connection.PATH.inside):
            strength = beam_share(near.reach, path_type, spot)
            if strength <= query.least or n == found.shape[0]:
                continue
            likely = max(beam_share(near.core, path_type, spot), LIMITS.unsure * strength)
            found[n, COLUMN.drop] = k
            found[n, COLUMN.path_type] = path_type
            found[n, COLUMN.stride] = min(_stride(likely * sqrt(LIMITS.level / query.least)), query.rarest)
            found[n, COLUMN.by_planes] = path_type == connection.PATH.through and strength > LIMITS.fold
            n += 1
    caustics.many[0] = n


@jit
def _stride(strength):
    """One in so many of a pixel's paths evaluates a caustic of such a strength."""
    if strength > 2.5:
        return 1
    if strength > 0.8:
        return 2
    if strength > 0.3:
        return 4
    return 8 if strength > 0.1 else 16
