"""The petal's skyline before a face: how far up each strip of the face the petal hides it.

Where the petal's own shadow changes quickly over the picture its skyline does not: it rises and sinks evenly
from place to place. So it is looked for from blocks of pixels, and each pixel takes from between them what
the petal leaves it, strip by strip and without grain, and of that what the drops leave.
"""

from __future__ import annotations

from math import asin, inf, nan, pi, sqrt

import numpy as np

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.caustic_sampling import FINE_SAMPLES
from lightsim.tracer.kernels.crossing import (
    COUNTS,
    PLACE,
    STRIPS,
    axes_of,
    left_across,
    run_along,
    strips_of,
    top_at,
)
from lightsim.tracer.kernels.drop_shadow import BROAD, FINE, PLACES, sent_past, toward_light, width_of_edge
from lightsim.tracer.kernels.horizon import fan_of, hidden_up_to
from lightsim.tracer.kernels.jit import jit, making
from lightsim.tracer.kernels.strip_integral import above, sent, strip_of, toward_part
from lightsim.tracer.kernels.vectors import along, cubic, dot, row, scale, sub

BLOCK = 4  # pixels along the side of a block
BORDER = np.cumsum(COUNTS) - 1.0  # across the face: where the part ends that a strip stands for
ROUND_STRIPS = 8  # of a round face, between those for which the skyline is known
ROUND_PLACE, ROUND_COUNTS = np.polynomial.legendre.leggauss(ROUND_STRIPS)
LIFT = 5e-4  # mm off the surface from which the petal is looked at
PAST = 1.25  # half lengths of a strip up to which it is looked for, since it sinks and rises past the ends
NEAR = 0.1  # half lengths below where a neighbour's skyline was from which it is looked for first
LEANING = 0.05  # least part of a strip's way that must lead away from the surface
CLOSE = 0.1  # half lengths about the skyline within which a strip's place is not told to be hidden or not
APART = 0.4  # half lengths: most that blocks may differ by where no cubic can be laid through four
UNKNOWN = -9.0  # half lengths: no skyline
UNEVEN = 0.1  # half lengths: most that a straight line and a cubic between blocks may differ


@making
def none_before():
    """No skyline of a neighbour known."""
    return np.full((2, STRIPS), inf)


@jit
def look_up(petal, face, looks, f, x, before, a, b, stack):
    """Find the skyline from x on triangle f, for its front and its back.

    looks : its sky is filled in row a, column b, with half lengths from the strips' middles, -PAST to PAST;
    left NaN where strips do not lead up from the surface.
    before (2, STRIPS) : where a neighbour's was; kept up to date.
    """
    ng = petal_mesh.flat_normal(petal, f)
    ng = scale(ng, 1.0 / sqrt(dot(ng, ng)))
    for q in range(2):
        way, half, aside, high = strips_of(face, looks, q)
        facing = ng if q == 0 else scale(ng, -1.0)
        lean, o = dot(facing, way), along(x, facing, LIFT)
        if lean < LEANING:
            continue
        shift = 0.0
        for i in range(STRIPS):
            start = along(sub(face.centre, o), aside, PLACE[i] * high)
            begin, end = max(-PAST * half, -dot(facing, start) / lean), PAST * half
            top = end
            if begin < end:
                hint = (before[q, i] + shift - NEAR) * half
                top = _top_about(hint, petal, fan_of(o, start, way), begin, end, stack)
            shift = top / half - before[q, i]
            before[q, i] = looks.sky[a, b, q, i] = top / half


@jit
def _top_about(hint, petal, fan, begin, end, stack):
    """As `hidden_up_to`; looked for from `hint` on first: the less may be found, the shorter is the walk."""
    if begin < hint < end:
        top = hidden_up_to(petal, fan, hint, end, stack)
        if top > hint:
            return top
        end = hint
    return hidden_up_to(petal, fan, begin, end, stack)


@jit
def hides(face, looks, tops, q, y):
    """Whether the petal hides the face's point y from side q by its skyline (STRIPS,): 1 or 0; -1 close to it
    or where it is not known."""
    way, half, aside, high = strips_of(face, looks, q)
    off = sub(y, face.centre)
    over = dot(off, way) / half - top_at(tops, dot(off, aside) / high)
    if not abs(over) > CLOSE:
        return -1
    return 1 if over < 0.0 else 0


@jit
def forget(sky, a, b):
    """Mark a block's skyline as not known."""
    for q in range(2):
        for i in range(STRIPS):
            sky[a, b, q, i] = nan


@jit
def _weights(u):
    """What four places in a row count at u, 0 to 1 between the middle two."""
    return cubic(1.0 + u), cubic(u), cubic(1.0 - u), cubic(2.0 - u)


@jit
def _smooth(weight, before, one, other, beyond):
    """The cubic through four places in a row."""
    return weight[0] * before + weight[1] * one + weight[2] * other + weight[3] * beyond


@jit
def _columns(sky, top, under):
    """How many columns of blocks there are, 0 where the skyline is known in neither row."""
    for b in range(sky.shape[1]):
        for q in range(2):
            if not (np.isnan(sky[top, b, q, 0]) and np.isnan(sky[under, b, q, 0])):
                return sky.shape[1]
    return 0


@making
def along_row(sky, y):
    """The skyline between the blocks above and below row y of pixels: (columns, 2, STRIPS, 2), half lengths,
    by a cubic through four blocks and by a straight line between two; NaN where these are not known. No
    columns where it is known in none."""
    v = (y - BLOCK // 2) / BLOCK
    if v < 0.0 or v > sky.shape[0] - 1:  # beside the outermost blocks' middles it is not known
        return np.empty((0, 2, STRIPS, 2))
    top = min(int(v), max(sky.shape[0] - 2, 0))
    v -= top
    weight, last = _weights(v), sky.shape[0] - 1
    above_it, under, below_it = max(top - 1, 0), min(top + 1, last), min(top + 2, last)
    found = np.empty((_columns(sky, top, under), 2, STRIPS, 2))
    for b in range(found.shape[0]):
        for q in range(2):
            for i in range(STRIPS):
                one, other = sky[top, b, q, i], sky[under, b, q, i]
                first, beyond = sky[above_it, b, q, i], sky[below_it, b, q, i]
                found[b, q, i, 0] = _smooth(weight, first, one, other, beyond)
                if np.isnan(one):
                    one = other
                elif np.isnan(other):
                    other = one
                straight = one + v * (other - one)
                found[b, q, i, 1] = straight if abs(other - one) <= APART else nan
    return found


@jit
def _between(row_sky, x, q, tops):
    """Fill `tops` (STRIPS,) with the skyline of side q at pixel x of a row, half lengths; False where it is
    not known or changes unevenly. row_sky : see `along_row`."""
    if row_sky.shape[0] == 0:
        return False
    u, last = (x - BLOCK // 2) / BLOCK, row_sky.shape[0] - 1
    if u < 0.0 or u > last:
        return False
    b = min(int(u), max(last - 1, 0))
    u -= b
    before, after, beyond = max(b - 1, 0), min(b + 1, last), min(b + 2, last)
    weight = _weights(u)
    for i in range(STRIPS):
        smooth = _smooth(
            weight, row_sky[before, q, i, 0], row_sky[b, q, i, 0], row_sky[after, q, i, 0],
            row_sky[beyond, q, i, 0],
        )  # fmt: skip
        one, other = row_sky[b, q, i, 1], row_sky[after, q, i, 1]
        straight = one + u * (other - one)
        if not abs(other - one) <= (APART if np.isnan(smooth) else inf):
            return False
        if abs(smooth - straight) > UNEVEN:
            return False
        tops[i] = straight if np.isnan(smooth) else smooth
    return True


@jit
def _left_of(drops, face, looks, top, v, o, n, q, listed, count):
    """What the strip at v across a face sends to side q of a surface at o, n its normal toward that side, and
    what petal and listed drops leave of it. top : the skyline there, half lengths."""
    way, longest, aside, high = strips_of(face, looks, q)
    half = longest * sqrt(1.0 - v * v) if face.disc else longest
    start = along(sub(face.centre, o), aside, v * high)
    begin, end = above(n, start, way, half)
    if begin >= end:
        return 0.0, 0.0
    strip, low = strip_of(n, start, way), max(begin, top * longest)
    whole = sent(strip, begin, end)
    if low >= end:
        return whole, 0.0
    over = sent(strip, low, end) if low > begin else whole
    return whole, sent_past(drops, listed, count, o, strip, low, end, over)


@jit
def left_of_place(drops, face, looks, tops, o, n, q, listed, count):
    """What a face sends to side q of a surface at o, n its normal toward that side, and what petal and listed
    drops leave of it, in the same unit. tops (STRIPS,) : the skyline."""
    whole, free, aside = 0.0, 0.0, run_along(drops, face, looks, o, listed, count)
    asked = 0 if aside else count
    for i in range(ROUND_STRIPS if face.disc else STRIPS):
        v = ROUND_PLACE[i] if face.disc else PLACE[i]
        top = top_at(tops, v) if face.disc else tops[i]
        one, some = _left_of(drops, face, looks, top, v, o, n, q, listed, asked)
        wide = ROUND_COUNTS[i] if face.disc else COUNTS[i]
        whole, free = whole + wide * one, free + wide * some
    if aside and free > 0.0:
        free *= left_across(drops, face, looks, tops, o, n, q, listed, count)
    return whole, free


@jit
def toward_left(face, looks, x, n, q, top):
    """As `toward_light`, of what the petal leaves of the face above its skyline in the middle strip, half
    lengths; UNKNOWN where that is not known."""
    if top == UNKNOWN:
        return toward_light(face, x, n)
    way, longest, _, _ = strips_of(face, looks, q)
    return toward_part(n, sub(face.centre, x), way, longest, top * longest, face.disc)


@jit
def in_the_middle(tops):
    """The skyline in the middle between the strips of a face."""
    return 0.5 * (tops[STRIPS // 2 - 1] + tops[STRIPS // 2])


@jit
def left_of_pixel(
    row_sky, looks, paths, petal, drops, face, p, n, q, listed, count, pixel_mm, tops
):  # fmt: skip
    """Share of a face's light that petal and listed drops leave on the front (q 0) or the back (q 1) of a
    pixel that sees the petal wholly and in focus, n its normal toward that side; -1 where that is not known
    or a drop's half-shadow is too fine. tops (STRIPS,): room for the skyline."""
    if not _between(row_sky, p % paths.width, q, tops):
        return -1.0
    o, many = row(paths.mean_place, p), 1
    if count > 0:
        wide = width_of_edge(drops, face, o, listed, count) / pixel_mm
        if wide < FINE:
            return -1.0
        many = 1 if wide >= BROAD or paths.samples < FINE_SAMPLES else min(PLACES, paths.samples)
    first, whole, free = paths.petal_start[p], 0.0, 0.0
    for e in range(first, first + many):
        if many > 1:
            o = petal_mesh.place(petal, int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1])
        one, some = left_of_place(drops, face, looks, tops, o, n, q, listed, count)
        whole, free = whole + one, free + some
    return min(max(free / whole, 0.0), 1.0) if whole > 0.0 else 1.0


@jit
def _tops_at(sky, x, y, q, tops):
    """Fill `tops` (STRIPS,) with the skyline of side q between the four blocks about a place x, y (pixels),
    half lengths; False where one of them does not know it or they differ by much."""
    u, v = (x - 0.5 - BLOCK // 2) / BLOCK, (y - 0.5 - BLOCK // 2) / BLOCK
    if u < 0.0 or v < 0.0 or u >= sky.shape[1] - 1 or v >= sky.shape[0] - 1:
        return False
    b, a = int(u), int(v)
    u, v = u - b, v - a
    for i in range(STRIPS):
        p0, p1, p2, p3 = sky[a, b, q, i], sky[a, b + 1, q, i], sky[a + 1, b, q, i], sky[a + 1, b + 1, q, i]
        tops[i] = (1.0 - v) * (p0 + u * (p1 - p0)) + v * (p2 + u * (p3 - p2))
        if np.isnan(tops[i]) or max(p0, p1, p2, p3) - min(p0, p1, p2, p3) > APART:
            return False
    return True


@jit
def by_strip(looks, x, y, drops, face, at, o, n, q, listed, count, tops):
    """Irradiance that petal and listed drops leave on side q at o, n its normal toward that side, as one
    strip of the face tells it, `at` of its area from one end (0 to 1): the mean over all strips is the whole
    face's. By the skyline about the place where the middle of the lens sees o (pixels); -1 where that is not
    known. tops (STRIPS,): room for the skyline.

    The strip takes the skyline of the one nearest to it: between two it would be too even, and of a jagged
    skyline more stands out than of its mean.
    """
    if not _tops_at(looks.sky, x, y, q, tops):
        return -1.0
    v, wide = 2.0 * at - 1.0, 2.0
    if face.disc:
        v = _height_with(at)
        wide = 0.5 * pi / sqrt(1.0 - v * v)
    i = 0
    while i < STRIPS - 1 and v > BORDER[i]:
        i += 1
    _, free = _left_of(drops, face, looks, tops[i], v, o, n, q, listed, count)
    _, _, _, across = axes_of(face, looks.across)
    return -face.radiance[0, 0] * wide * across * free * dot(sub(face.centre, o), face.out)


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
