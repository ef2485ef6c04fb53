"""Irradiance above the petal's horizon: penumbrae of the petal and of drops, strip by strip in closed form.

The horizon is known along few strips of the emitter that cross it. Where a drop's edge runs along these it
would hide one after the other, in steps; so there the drops' share is integrated along strips that cross its
edge, from where the horizon lets each of them begin.
"""

from __future__ import annotations

from math import asin, pi, sqrt

import numpy as np

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.drop_shadow import (
    SHADOW,
    crosses_upright,
    sent_past,
    toward_light,
    width_of_edge,
)
from lightsim.tracer.kernels.drop_visibility import OccluderList
from lightsim.tracer.kernels.horizon import ACROSS, STRIPS, horizon_at, strips_of
from lightsim.tracer.kernels.horizon_map import horizon_between
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.strip_integral import above, gauss_legendre, sent, strip_of, toward_part
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, dot, row, scale, sub

CORNER = np.concatenate(
    [[-1.0], ACROSS.place, [1.0]]
)  # across the emitter: the horizon runs straight between these
BORDER = np.cumsum(ACROSS.weight) - 1.0  # across the emitter: where the part ends that a strip stands for
ROUND = gauss_legendre(8)  # strips of a round emitter
CROSSING = gauss_legendre(6)  # strips that cross a drop's edge
UNKNOWN = -9.0  # half lengths: no horizon


@jit
def _corner(horizon, m):
    """The horizon at CORNER m, beyond the outermost strips straight on."""
    if m == 0:
        return horizon[0] - (1.0 + ACROSS.place[0]) / (ACROSS.place[1] - ACROSS.place[0]) * (
            horizon[1] - horizon[0]
        )
    if m == STRIPS + 1:
        return horizon[STRIPS - 1] + (1.0 + ACROSS.place[0]) / (ACROSS.place[1] - ACROSS.place[0]) * (
            horizon[STRIPS - 1] - horizon[STRIPS - 2]
        )
    return horizon[m - 1]


@jit
def _lowest(horizon, level, slope, lean):
    """Lowest place along the strips, -1 to 1, of which anything may be seen over the petal's horizon and the
    surface's own plane; level, slope, lean: height of the emitter's centre above that plane, and how it grows
    across the emitter and along the strips."""
    low = 1.0
    for m in range(STRIPS + 2):
        top = _corner(horizon, m)
        if lean > 0.0:
            top = max(top, -(level + slope * CORNER[m]) / lean)
        low = min(low, top)
    return max(low, -1.0)


@jit
def _over(horizon, s, m):
    """Where, from CORNER m on, a strip across at s first runs above the horizon, -1 to 1, and the first
    corner after that; the first place is the greater for nowhere."""
    one, other = _corner(horizon, m), _corner(horizon, m + 1)
    if one >= s and other >= s:
        return 1.0, -1.0, m + 1
    begin = CORNER[m]
    if one >= s:
        begin += (CORNER[m + 1] - begin) * (one - s) / (one - other)
    while other < s and m < STRIPS:
        m += 1
        one, other = other, _corner(horizon, m + 1)
    end = CORNER[m + 1]
    if other >= s:
        end = CORNER[m] + (end - CORNER[m]) * (s - one) / (other - one)
    return begin, end, m + 1


@jit
def edge_runs_along(blockers, emitter, horizon_map, o):
    """Whether the nearest drop's edge runs along the horizon's strips."""
    return blockers.many > 0 and crosses_upright(blockers, emitter, o) == (horizon_map.across == 1)


@jit
def unshaded_share(blockers, emitter, strips, horizon, o, n):
    """Share that the drops leave of what an emitter sends over the horizon (STRIPS,) to o on the side of n,
    by strips that cross the horizon's."""
    way, half, aside, high = strips
    to = sub(emitter.centre, o)
    low = _lowest(horizon, dot(n, to), dot(n, aside) * high, dot(n, way) * half)
    whole, free = 0.0, 0.0
    for i in range(CROSSING.place.shape[0]):
        s = low + 0.5 * (1.0 - low) * (1.0 + CROSSING.place[i])
        start = along(to, way, s * half)
        wide = high * sqrt(max(1.0 - s * s, 0.0)) if emitter.disc else high
        begin, end = above(n, start, aside, wide)
        strip, m = strip_of(n, start, aside), 0
        while m <= STRIPS and begin < end:
            first, last, m = _over(horizon, s, m)
            first, last = max(first * high, begin), min(last * high, end)
            if first < last:
                one = sent(strip, first, last)
                whole += CROSSING.weight[i] * one
                free += CROSSING.weight[i] * sent_past(blockers, o, strip, first, last, one)
    return min(max(free / whole, 0.0), 1.0) if whole > 0.0 else 1.0


@jit
def _strip_sent(blockers, emitter, strips, top, v, o, n):
    """What the strip at v across an emitter sends to o on the side of n, and what gets past petal and drops.
    top : the horizon there, half lengths."""
    way, longest, aside, high = strips
    half = longest * sqrt(1.0 - v * v) if emitter.disc else longest
    start = along(sub(emitter.centre, o), aside, v * high)
    begin, end = above(n, start, way, half)
    if begin >= end:
        return 0.0, 0.0
    strip, low = strip_of(n, start, way), max(begin, top * longest)
    whole = sent(strip, begin, end)
    if low >= end:
        return whole, 0.0
    over = sent(strip, low, end) if low > begin else whole
    return whole, sent_past(blockers, o, strip, low, end, over)


@jit
def sent_over_horizon(blockers, emitter, horizon_map, horizon, q, o, n):
    """What an emitter sends to the front (q 0) or back (q 1) of a surface at o, n its normal toward that
    side, and what gets past petal and drops, in the same unit. horizon (STRIPS,): half lengths."""
    strips = strips_of(emitter, horizon_map, q)
    whole, free, aside = 0.0, 0.0, edge_runs_along(blockers, emitter, horizon_map, o)
    across = held(OccluderList(blockers.drops, blockers.listed, 0 if aside else blockers.many))
    for i in range(ROUND.place.shape[0] if emitter.disc else STRIPS):
        v = ROUND.place[i] if emitter.disc else ACROSS.place[i]
        top = horizon_at(horizon, v) if emitter.disc else horizon[i]
        one, some = _strip_sent(across, emitter, strips, top, v, o, n)
        wide = ROUND.weight[i] if emitter.disc else ACROSS.weight[i]
        whole, free = whole + wide * one, free + wide * some
    if aside and free > 0.0:
        free *= unshaded_share(blockers, emitter, strips, horizon, o, n)
    return whole, free


@jit
def toward_visible(emitter, horizon_map, x, n, q, top):
    """As `toward_light`, toward the part above the horizon in the middle strip, half lengths; UNKNOWN where
    that is not known."""
    if top == UNKNOWN:
        return toward_light(emitter, x, n)
    strips = strips_of(emitter, horizon_map, q)
    to, half = sub(emitter.centre, x), strips.half
    return toward_part(n, to, strips.way, half, top * half, emitter.disc)


@jit
def horizon_in_the_middle(horizon):
    """The horizon in the middle between the strips of an emitter."""
    return 0.5 * (horizon[STRIPS // 2 - 1] + horizon[STRIPS // 2])


@jit
def visible_share_of_pixel(light, pixel, q, n, blockers):
    """Share of an emitter's light on the front (q 0) or the back (q 1) of a pixel in focus, n its normal
    toward that side, that gets past petal and drops; -1 where the horizon is not known or a drop's penumbra
    is too fine. Leaves the horizon in `light.horizon`."""
    paths, emitter, p = light.paths, light.emitter, pixel.number
    column, line = (paths.first + p) % paths.width + 0.5, (paths.first + p) // paths.width + 0.5
    if not horizon_between(light.cache.horizon.elevation, column, line, q, light.horizon):
        return -1.0
    o, many = row(paths.mean_place, p), 1
    if blockers.many > 0:
        wide = width_of_edge(blockers, emitter, o) / light.settings.pixel_mm
        if wide < SHADOW.fine_px:
            return -1.0
        many = 1 if wide >= SHADOW.broad_px else min(SHADOW.places, paths.samples)
    first, whole, free = paths.petal_start[p], 0.0, 0.0
    for e in range(first, first + many):
        if many > 1:
            o = petal_mesh.place(
                light.scene.petal, int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
            )
        one, some = sent_over_horizon(blockers, emitter, light.cache.horizon, light.horizon, q, o, n)
        whole, free = whole + one, free + some
    return min(max(free / whole, 0.0), 1.0) if whole > 0.0 else 1.0


@jit
def strip_irradiance(light, column, line, q, point, at, blockers):
    """Irradiance on the front (q 0) or the back (q 1) at a point of the petal by one strip of the emitter,
    `at` of its area from one end (0 to 1): the mean over all strips is the whole emitter's. By the horizon
    about the place in the picture where the middle of the lens sees the point; -1 where that is not known.
    Leaves that horizon in `light.horizon`.

    The strip takes the horizon of the one nearest to it: between two it would be too even, and of a jagged
    horizon more stands out than of its mean.
    """
    emitter, horizon_map, horizon = light.emitter, light.cache.horizon, light.horizon
    if not horizon_between(horizon_map.elevation, column, line, q, horizon):
        return -1.0
    v, wide = 2.0 * at - 1.0, 2.0
    if emitter.disc:
        v = _height_with(at)
        wide = 0.5 * pi / sqrt(1.0 - v * v)
    i = 0
    while i < STRIPS - 1 and v > BORDER[i]:
        i += 1
    n, strips = scale(point.n, 1.0 if q == 0 else -1.0), strips_of(emitter, horizon_map, q)
    _, free = _strip_sent(blockers, emitter, strips, horizon[i], v, point.x, n)
    across = strips.half_across
    return -emitter.radiance[0, 0] * wide * across * free * dot(sub(emitter.centre, point.x), emitter.out)


@jit
def _height_with(share):
    """How high a disc must be filled, -1 to 1, to hold a share of its area: by Newton's method."""
    v = 2.0 * share - 1.0
    v *= 0.8
    for _ in range(3):
        wide = sqrt(max(1.0 - v * v, 1e-6))
        v -= (0.5 + (v * wide + asin(v)) / pi - share) * pi / (2.0 * wide)
        v = min(max(v, -0.999), 0.999)
    return v
