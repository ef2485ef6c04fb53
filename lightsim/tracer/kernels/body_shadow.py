"""Penumbrae of cards and solid bodies, with those of the drops near a point: strip by strip of the emitter.

A body's outline begins and ends somewhere across the emitter. Between such places what a strip sends changes
smoothly, so each part between two of them is integrated by itself: the penumbra has neither grain nor steps.
"""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.bodies import body_covers, flat_covers
from lightsim.tracer.kernels.drop_shadow import SHADOW, drop_hides
from lightsim.tracer.kernels.emitters import Vector
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.strip_integral import above, gauss_legendre, sent, strip_of
from lightsim.tracer.kernels.vectors import along, dot, length, scale, sub

ACROSS = gauss_legendre(8)
TRIED = 9  # strips, evenly across the emitter, among which an outline's end is looked for
HALVINGS = 6  # to find it
ALL = -1  # of a strip, hidden by a card or a body; else the sum of 2^i of those that hide a part of it


class StripAbove(NamedTuple):
    """A strip of an emitter as far as it is above a surface: start + t way from the surface's point, for
    begin < t < end."""

    start: Vector
    way: Vector
    begin: float
    end: float


@jit
def _board_covers(cards, i, o, start, way, begin, end):
    """As `body_covers`, by card i."""
    f = cards.frame
    right, up = (f[i, 3], f[i, 4], f[i, 5]), (f[i, 6], f[i, 7], f[i, 8])
    out, off = (f[i, 9], f[i, 10], f[i, 11]), (o[0] - f[i, 0], o[1] - f[i, 1], o[2] - f[i, 2])
    m = dot(off, right), dot(off, up), dot(off, out)
    s, w = (
        (dot(start, right), dot(start, up), dot(start, out)),
        (dot(way, right), dot(way, up), dot(way, out)),
    )
    return flat_covers(m, s, w, cards.size[i, 0], cards.size[i, 1], cards.size[i, 2] > 0.5, begin, end)


@jit
def _solid_covers(boards, i, o, strip):
    """From where to where a strip lies behind thing i: cards, then bodies."""
    cards, start, way, begin, end = boards.frame.shape[0], strip.start, strip.way, strip.begin, strip.end
    if i < cards:
        return _board_covers(boards, i, o, start, way, begin, end)
    return body_covers(boards.body, i - cards, o, start, way, begin, end)


@jit
def _covers(boards, blockers, i, o, strip):
    """The same of cards, bodies and then the listed drops."""
    solid = boards.frame.shape[0] + boards.body.shape[0]
    if i < solid:
        return _solid_covers(boards, i, o, strip)
    k = blockers.listed[i - solid]
    return drop_hides(blockers.drops, k, o, strip.start, strip.way, strip.begin, strip.end)


@jit
def _strip_at(emitter, o, n, v):
    """The strip at v across an emitter, -1 to 1, above a surface at o with the normal n."""
    half = emitter.half_width * sqrt(max(1.0 - v * v, 0.0)) if emitter.disc else emitter.half_width
    start = along(sub(emitter.centre, o), emitter.up, v * emitter.half_height)
    begin, end = above(n, start, emitter.right, half)
    return StripAbove(start, emitter.right, begin, end)


@jit
def _hidden_of(boards, emitter, o, n, v):
    """Which cards and bodies hide a part of the strip at v, as the sum of 2^i; ALL where one hides all."""
    strip = _strip_at(emitter, o, n, v)
    hidden, many = 0, boards.frame.shape[0] + boards.body.shape[0]
    for i in range(many):
        low, high = _solid_covers(boards, i, o, strip)
        if low <= strip.begin and high >= strip.end:
            return ALL
        if max(low, strip.begin) < min(high, strip.end):
            hidden += 1 << i
    return hidden


@jit
def _strip_sent(boards, blockers, emitter, o, n, v):
    """What the strip at v sends and what gets past everything."""
    part = _strip_at(emitter, o, n, v)
    if part.begin >= part.end:
        return 0.0, 0.0
    strip = strip_of(n, part.start, part.way)
    whole, free, t = sent(strip, part.begin, part.end), 0.0, part.begin
    many = boards.frame.shape[0] + boards.body.shape[0] + blockers.many
    while t < part.end:
        covered, until = t, part.end
        for i in range(many):
            low, high = _covers(boards, blockers, i, o, part)
            if high <= t or low >= until:
                continue
            if low <= t:
                covered = max(covered, high)
            else:
                until = low
        if covered > t:
            t = covered
            continue
        free += sent(strip, t, until)
        t = until
    return whole, free


@jit
def _part_sent(boards, blockers, emitter, o, n, low, high):
    """The same of the part of the emitter between two places across it."""
    whole, free, half = 0.0, 0.0, 0.5 * (high - low)
    for k in range(ACROSS.place.shape[0]):
        one, some = _strip_sent(boards, blockers, emitter, o, n, low + half * (1.0 + ACROSS.place[k]))
        whole, free = whole + half * ACROSS.weight[k] * one, free + half * ACROSS.weight[k] * some
    return whole, free


@jit
def _change_between(boards, emitter, o, n, low, high, before):
    """Where between two strips, of which the first is hidden as `before` says and the other is not, that
    changes."""
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        if _hidden_of(boards, emitter, o, n, middle) == before:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


@jit
def _near(to, far, spread, m, reach):
    """Whether a ball of the radius reach, at m, comes near the lines to an emitter `far` off along `to`."""
    t = min(max(dot(m, to), 0.0), far)
    off = along(m, to, -t)
    room = reach + spread * (t + reach) / far
    return dot(off, off) < room * room


@jit
def _may_be_hidden(boards, emitter, o):
    """Whether a card or a body may stand in the way of some of an emitter's light to o."""
    to = sub(emitter.centre, o)
    far = length(to)
    to, near, f = scale(to, 1.0 / far), False, boards.frame
    for i in range(f.shape[0]):
        m, w, h = sub((f[i, 0], f[i, 1], f[i, 2]), o), boards.size[i, 0], boards.size[i, 1]
        near = near or _near(to, far, emitter.spread, m, sqrt(w * w + h * h))
    for i in range(boards.body.shape[0]):
        m = sub((boards.body[i, 0], boards.body[i, 1], boards.body[i, 2]), o)
        near = near or _near(to, far, emitter.spread, m, sqrt(boards.body[i, 16]))
    return near


@jit
def unblocked_share(boards, blockers, emitter, o, n):
    """Share of an emitter's light on a surface at o with the normal n that gets past cards, bodies and the
    listed drops."""
    if blockers.many == 0 and not _may_be_hidden(boards, emitter, o):
        return 1.0
    whole, free, begin = 0.0, 0.0, -1.0
    v = 1.0 / TRIED - 1.0
    before = _hidden_of(boards, emitter, o, n, v)
    for k in range(1, TRIED):
        after = (2.0 * k + 1.0) / TRIED - 1.0
        now = _hidden_of(boards, emitter, o, n, after)
        if now != before:
            at = _change_between(boards, emitter, o, n, v, after, before)
            one, some = _part_sent(boards, blockers, emitter, o, n, begin, at)
            whole, free, begin, before = whole + one, free + some, at, now
        v = after
    one, some = _part_sent(boards, blockers, emitter, o, n, begin, 1.0)
    whole, free = whole + one, free + some
    return min(max(free / whole, 0.0), 1.0) if whole > 0.0 else 1.0


@jit
def unblocked_share_of_pixel(light, pixel, n, blockers):
    """The same of a pixel that sees the petal wholly, n its normal toward the side that counts."""
    paths, scene = light.paths, light.scene
    if blockers.many == 0:
        return unblocked_share(scene.boards, blockers, light.emitter, pixel.x, n)
    first, many, total = paths.petal_start[pixel.number], min(SHADOW.places, paths.samples), 0.0
    for e in range(first, first + many):
        f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
        o = petal_mesh.place(scene.petal, f, u, v)
        total += unblocked_share(scene.boards, blockers, light.emitter, o, n)
    return total / many
