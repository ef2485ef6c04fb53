"""Light that reaches a point by way of a drop: to its wet base, and past or off it to the dry petal."""

from __future__ import annotations

from math import acos, asin, cos, inf, pi, sin, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import connection, drop_spheres, petal_mesh
from lightsim.tracer.kernels.beam_footprint import falls, may_fall
from lightsim.tracer.kernels.drop_visibility import (
    CLEAR,
    HIDDEN,
    MIXED,
    PATCHES,
    petal_lets_through,
    shaded,
    sight,
)
from lightsim.tracer.kernels.emitters import face_met, hidden_by
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.refraction import bend, fresnel, mirror
from lightsim.tracer.kernels.vectors import along, basis, dot, in_frame, length, row, scale, sub

# Light mirrored once inside a drop is worked out for one in so many of a pixel's paths, and counts so often.
AGAIN = 4
# Height in radii below which light from under the petal's plane may not enter: the petal's relief is there.
RIM = 0.1
UNSURE = 0.3  # share of the most that may come to which a way over a drop is looked for at the least
EVERY, UNEVEN, EVEN = 0, 1, 2  # ways over drops
SHARES = 65536
WEAK = 0.1  # share of the beam from which a way over a drop begins to be asked for path by path
CAUSTIC = 2.0  # times the beam from which, at the most that may come, a caustic may be near
CAUSTIC_INSIDE, CAUSTIC_AGAIN = 4.0, 0.2  # the same on the wet base: a drop draws the beam together to 2.5
# times by itself; for light mirrored once inside
CLOSE_BY = 4.0  # pixels from a drop within which its ways all are
FOLD = 0.05  # pixels: no caustic is taken to be sharper, where nothing else keeps it finite
LEVEL = 0.02  # of `least` at which the strides of `gather_list` hold for a surface square to the light


@jit
def base_light(
    petal, drops, k, course, x, n, y, power, radiance, face, cards, near, softest, both, a, b, stack
):  # fmt: skip
    """Irradiance at x on drop k's base (normal n) from the point y of a face by one course, power = radiance
    times the area that the point stands for, radiance of an even face.

    both : whether it is looked for along the direction up from x numbered a, b (in 0..1), too; see
    `base_caustic`. Each path then counts by how likely the two ways find it (balance heuristic; Veach and
    Guibas, SIGGRAPH 1995), which keeps the focus and the folds of the caustic finite.
    """
    if near.state[k, 0] == HIDDEN:
        return 0.0
    r = drops.radius[k]
    c = row(drops.centre, k)
    axis, side, rho, z, s = drop_spheres.plane_of(drops, k, x, y)
    total = 0.0
    seen = sight(near.sees, k, face, y)
    entry = connection.stretches_at(rho, z, s)
    progress = -1 if seen == HIDDEN or power == 0.0 else 0
    while progress >= 0:
        _, progress, way = connection.next_root(rho, z, s, course, entry, progress)
        if progress < 0:
            break
        _, _, t = connection.miss(rho, z, way, course)
        if t <= 0.0:
            continue
        d = along(scale(side, way.dx), axis, way.dz)
        cos_p = -dot(d, n)
        if cos_p <= 0.0:
            continue
        e = _entry(way, c, r, side, axis)
        if drop_spheres.height(drops, k, e) <= 0.0:
            continue
        if course == connection.INSIDE_AGAIN:
            turn = along(c, along(scale(side, way.x), axis, way.z), r)
            if drop_spheres.height(drops, k, turn) <= 0.0:
                continue
        out = sub(y, e)
        reach = length(out)
        out = scale(out, 1.0 / reach)
        cos_y = -dot(out, face.out)
        if cos_y <= 0.0 or not _comes_in(petal, drops, cards, near, k, e, out, reach, seen, stack):
            continue
        least = 1e-6 if both or course == connection.INSIDE else FOLD * softest / r
        flux = connection.density(way, s, course, t, least)
        if both:
            flux /= 1.0 + _image_in_water(flux, course, way.ci, face, cos_y, r) / (2.0 * pi)
        total += cos_p * cos_y * flux
    total *= power / (r * r)
    if both:
        total += _up_from_base(petal, drops, k, course, x, n, face, radiance, cards, near, a, b, stack)
    return total


@jit
def _comes_in(petal, drops, cards, near, k, e, out, reach, seen, stack):
    """Whether light of a face comes to e on drop k, `reach` away along `out`; seen: see `sees`."""
    if from_below(drops, k, e, out) or hidden_by(cards, e, out, reach):
        return False
    return sees(petal, drops, near, k, e, out, reach, seen, stack)


@jit
def sees(petal, drops, near, k, e, out, reach, seen, stack):
    """Whether neither drops nor the petal hide a light from e on drop k; seen: what `sight` says of it."""
    if seen != MIXED:
        return seen == CLEAR
    if shaded(drops, near.shades[k], near.shade_count[k], k, e, out, reach):
        return False
    return near.state[k, 0] != MIXED or not petal_mesh.blocked(petal, e, out, petal_mesh.START, reach, stack)


@jit
def _image_in_water(share, course, ci, face, cos_y, r):
    """Solid angle in the water in which the face would be seen if all of it were like this point of it."""
    f = fresnel(ci, connection.N)
    through = (1.0 - f) * (f if course == connection.INSIDE_AGAIN else 1.0)
    return share / through * face.area * cos_y / (r * r * connection.N * connection.N)


@jit
def _up_from_base(petal, drops, k, course, x, n, face, radiance, cards, near, a, b, stack):
    """The share of `base_light` along one direction up from the base, even over the half-sphere."""
    r = drops.radius[k]
    c = row(drops.centre, k)
    s, t = basis(n)
    across = sqrt(max(0.0, 1.0 - a * a))
    d = in_frame(s, t, n, (across * cos(2.0 * pi * b), across * sin(2.0 * pi * b), a))
    e, last, left = x, 0.0, 1.0
    for turn in range(connection.INSIDE, course + 1):
        _, far = drop_spheres.sphere(drops, k, e, d)
        if far == inf or far <= 0.0:
            return 0.0
        e = along(e, d, far)
        inward = scale(sub(c, e), 1.0 / r)
        cos_in = min(1.0, max(0.0, -dot(d, inward)))
        f = fresnel(cos_in, 1.0 / connection.N)
        if f >= 1.0 or drop_spheres.height(drops, k, e) <= 0.0:
            return 0.0
        if turn == connection.INSIDE:
            last = far
        if turn < course:
            left = f
            d = mirror(d, inward)
    out = bend(d, inward, cos_in, 1.0 / connection.N)
    reach, cos_y = face_met(face, e, out)
    if reach == inf:
        return 0.0
    seen = sight(near.sees, k, face, along(e, out, reach))
    if not _comes_in(petal, drops, cards, near, k, e, out, reach, seen, stack):
        return 0.0
    away = length(sub(along(e, out, reach), c)) / r
    ci = min(1.0, max(1e-6, -dot(out, inward)))
    way = connection.course_at(sqrt(1.0 - ci * ci), ci, away, course)
    share = connection.density(way, away, course, last / r, 1e-6)
    image = max(_image_in_water(share, course, ci, face, cos_y, r), 1e-12)
    return connection.N * connection.N * radiance * left * (1.0 - f) * a / (1.0 / (2.0 * pi) + 1.0 / image)


@jit
def behind(petal, f, x, n, y, power, face, cards, state, stack):
    """Irradiance on the back of the petal at x from the point y of a face."""
    if state == HIDDEN:
        return 0.0
    to = sub(y, x)
    far = length(to)
    d = scale(to, 1.0 / far)
    cos_n, cos_y = dot(n, d), -dot(d, face.out)
    if cos_n >= 0.0 or cos_y <= 0.0 or dot(petal_mesh.flat_normal(petal, f), d) >= 0.0:
        return 0.0
    if state == MIXED and petal_lets_through(petal, f, x, y, stack) == 0:
        return 0.0
    if hidden_by(cards, x, d, far):
        return 0.0
    return -power * cos_y * cos_n / (far * far)


@jit
def _entry(way, c, r, side, axis):
    """Where a way meets the sphere first."""
    x, z = connection.entry_of(way)
    return along(c, along(scale(side, x), axis, z), r)


@jit
def gathered(petal, drops, k, course, x, n, y, power, face, near, softest, stack):
    """Irradiance at x on the dry petal (front normal n) that the point y of a face sends by one course over
    drop k; softest (mm) as in connection.density. Near a caustic of light through it see `image`."""
    if near.state[k, 0] == HIDDEN:
        return 0.0
    r = drops.radius[k]
    c = row(drops.centre, k)
    axis, side, rho, z, s = drop_spheres.plane_of(drops, k, x, y)
    total = 0.0
    seen = sight(near.sees, k, face, y)
    progress = -1 if seen == HIDDEN or not falls(near, drops, k, course, axis, side, rho, z) else 0
    entry = connection.stretches_at(rho, z, s)
    while progress >= 0:
        _, progress, way = connection.next_root(rho, z, s, course, entry, progress)
        if progress < 0:
            break
        _, _, t = connection.miss(rho, z, way, course)
        if t <= 0.0:
            continue
        came = along(scale(side, -way.dx), axis, -way.dz)
        cos_p = dot(came, n)
        if cos_p <= 0.0:
            continue
        e = _entry(way, c, r, side, axis)
        leave = along(c, along(scale(side, way.x), axis, way.z), r)
        if drop_spheres.height(drops, k, e) <= 0.0 or drop_spheres.height(drops, k, leave) <= 0.0:
            continue
        if course == connection.ONCE_INSIDE and _inner_turn_below(drops, k, way, c, r, side, axis):
            continue
        out = sub(y, e)
        reach = length(out)
        out = scale(out, 1.0 / reach)
        cos_y = -dot(out, face.out)
        if cos_y <= 0.0 or from_below(drops, k, e, out):
            continue
        if drop_spheres.between(drops, k, x, came, t * r, stack):
            continue
        if not sees(petal, drops, near, k, e, out, reach, seen, stack):
            continue
        total += cos_p * cos_y * connection.density(way, s, course, t, FOLD * softest / r)
    return total * power / (r * r)


@jit
def from_below(drops, k, e, to_light):
    """Whether light comes to e, low on drop k, from under the petal's plane."""
    return dot(to_light, row(drops.normal, k)) < 0.0 and drop_spheres.height(drops, k, e) < RIM


@jit
def _inner_turn_below(drops, k, way, c, r, side, axis):
    """Whether the inner mirroring point of the once-inside course lies below the petal: it stands half way
    round from where the light comes in to where it leaves."""
    x, z = connection.entry_of(way)
    sr = way.si / connection.N
    cx, sx = 2.0 * sr * sr - 1.0, 2.0 * sr * way.cr
    x, z = x * cx + z * sx, z * cx - x * sx
    return drop_spheres.height(drops, k, along(c, along(scale(side, x), axis, z), r)) <= 0.0


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
    a = (dot(m, to_light) / far + 1.0) * (0.5 * (connection.REACH_COSINES - 1))
    b = drops.radius[k] / max(far - spread, drops.radius[k]) * (connection.REACH_STEPS - 1)
    i = min(max(int(a), 0), connection.REACH_COSINES - 2)
    j = min(int(b), connection.REACH_STEPS - 2)
    return Spot(i, j, a - i, b - j, far)


@jit
def beam_share(table, course, spot):
    """What a table of connection.reach_table says of a spot about a drop."""
    i, j, u, v = spot.row, spot.column, spot.down, spot.on
    low = table[course, i, j] * (1.0 - v) + table[course, i, j + 1] * v
    high = table[course, i + 1, j] * (1.0 - v) + table[course, i + 1, j + 1] * v
    return low * (1.0 - u) + high * u


@jit
def base_caustic(table, drops, k, course, x, to_light):
    """Whether light of a face may be drawn together by a course about x on drop k's base: what a table of
    connection.reach_table, widened for the face, says. to_light: toward its middle, whatever the point of it
    that is asked, or both ways to find light would not share all of it."""
    m = scale(sub(x, row(drops.centre, k)), 1.0 / drops.radius[k])
    far = max(length(m), 1e-9)
    i = int((dot(m, to_light) / far + 1.0) * 0.5 * (connection.REACH_COSINES - 1) + 0.5)
    j = min(int(far * (connection.REACH_STEPS - 1) + 0.5), connection.REACH_STEPS - 1)
    return table[course, i, j] > (CAUSTIC_INSIDE if course == connection.INSIDE else CAUSTIC_AGAIN)


@jit
def _ramp(x, low, high):
    return min(max((x - low) / (high - low), 0.0), 1.0)


@jit
def uneven_share(strength, pixels):
    """Share of a way's light that is asked for path by path, so many pixels off its drop; the rest, where
    the way is weak and its light smooth, is taken between cells of pixels. It changes gently, so that both
    meet without a seam."""
    return 1.0 - (1.0 - _ramp(strength, WEAK, 2.0 * WEAK)) * _ramp(pixels, CLOSE_BY, 3.0 * CLOSE_BY)


@jit
def may_be_uneven(crest, radii, drops, k, c, reach, to_light, widen, least, pixel_mm):
    """Whether any course over drop k may have an UNEVEN part at any point of a ball about c; widen: by how
    much (rad) the light's direction changes there; radii: see `farthest`."""
    m = sub(c, row(drops.centre, k))
    far, r = length(m), drops.radius[k]
    if far <= reach + r:
        return True
    if far - reach > radii * r:
        return False
    if far - reach - r >= 3.0 * CLOSE_BY * pixel_mm:
        least = max(least, WEAK)
    angle = acos(min(max(dot(m, to_light) / far, -1.0), 1.0))
    around = widen + asin(min(reach / far, 1.0))
    steps, cosines = connection.REACH_STEPS - 1, 0.5 * (connection.REACH_COSINES - 1)
    low = int((cos(min(angle + around, pi)) + 1.0) * cosines)
    high = min(int((cos(max(angle - around, 0.0)) + 1.0) * cosines), crest.shape[0] - 1)
    first, last = int(r / (far + reach) * steps), min(int(r / (far - reach) * steps), crest.shape[1] - 1)
    for i in range(low, high + 1):
        for j in range(first, last + 1):
            if crest[i, j] > least:
                return True
    return False


@jit
def _worth(crest, spot, least, part, pixels):
    """Whether any course over a drop may belong to a part: a quick look before the exact one."""
    if part == UNEVEN and pixels >= 3.0 * CLOSE_BY:
        least = max(least, WEAK)
    return crest[spot.row, spot.column] > least


def crest_of(reach: NDArray) -> NDArray:
    """(64, 32) the most of any course to the petal between four neighbouring entries of
    connection.reach_table."""
    most = reach[: connection.INSIDE].max(axis=0)
    return np.max([most[:-1, :-1], most[1:, :-1], most[:-1, 1:], most[1:, 1:]], axis=0)


def most_of(crest: NDArray) -> NDArray:
    """(32,) the most of `crest_of` at each step of the distance, whatever the light's direction."""
    return crest.max(axis=0)


@jit
def farthest(most, least):
    """How many radii from a drop more than `least` of the beam may come by it; see `most_of`."""
    for j in range(most.shape[0]):
        if most[j] > least:
            return (connection.REACH_STEPS - 1) / j if j > 0 else inf
    return 0.0


@jit
def gather_list(
    near, listed, drops, first, last, x, spread, to_light, least, part, pixel_mm, rarest,
    found,
):  # fmt: skip
    """Of the listed drops, those and the courses by which more than `least` of the beam may come to x.

    reach: the most that the light, as wide as it is, may send; core: the most from its middle (see
    connection.reach_table); crest, most: see `crest_of`, `most_of`. part : EVERY way, the UNEVEN ones or
    those that are EVEN over many pixels. found (n, 5): drop, course, stride, the share of it that belongs to
    the part times SHARES, whether a caustic of light through the drop may be near (1) or surely is not (0).
    Stride: one in so many of the pixel's paths asks for it, the fewer the weaker it is, but one in `rarest`
    at least. Returns how many."""
    n = 0
    radii = farthest(near.most, least)
    for q in range(first, last):
        k = listed[q]
        m = sub(x, row(drops.centre, k))
        room = radii * drops.radius[k] + spread
        if dot(m, m) > room * room or near.sees[k, PATCHES * PATCHES] == HIDDEN:
            continue
        spot = spot_of(drops, k, x, spread, to_light)
        pixels = (spot.far - drops.radius[k]) / pixel_mm
        if not _worth(near.crest, spot, least, part, pixels):
            continue
        courses = may_fall(near, drops, k, x, spread)
        for course in range(connection.INSIDE):
            if courses & (1 << course) == 0:
                continue
            strength = beam_share(near.reach, course, spot)
            if strength <= least or n == found.shape[0]:
                continue
            share = 1.0
            if part != EVERY:
                share = uneven_share(strength, pixels)
            if part == EVEN:
                share = 1.0 - share
            if share > 0.0:
                found[n, 0] = k
                found[n, 1] = course
                likely = max(beam_share(near.core, course, spot), UNSURE * strength)
                found[n, 2] = min(_stride(likely * share * sqrt(LEVEL / least)), rarest)
                found[n, 3] = int(share * SHARES)
                found[n, 4] = 1 if course == connection.THROUGH and strength > CAUSTIC else 0
                n += 1
    return n


@jit
def _stride(strength):
    if strength > 2.5:
        return 1
    if strength > 0.8:
        return 2
    if strength > 0.3:
        return 4
    return 8 if strength > 0.1 else 16
