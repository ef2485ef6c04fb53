"""What cards and solid bodies leave of a face's light at a point, with the drops near it: strip by strip.

A body's outline begins and ends somewhere across the face. Between such places what a strip sends changes
smoothly, so each part between two of them is integrated by itself: the penumbra has neither grain nor steps.
"""

from __future__ import annotations

from math import sqrt

import numpy as np

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.bodies import body_covers, flat_covers
from lightsim.tracer.kernels.drop_shadow import PLACES, drop_hides
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.strip_integral import above, sent, strip_of
from lightsim.tracer.kernels.vectors import along, dot, length, row, scale, sub

GAUSS = 8
PLACE, COUNTS = np.polynomial.legendre.leggauss(GAUSS)
TRIED = 9  # strips, evenly across the face, among which an outline's end is looked for
HALVINGS = 6  # to find it
ALL = -1  # of a strip, hidden by a card or a body; else the sum of 2^i of those that hide a part of it


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
def _covers(drops, cards, listed, i, o, start, way, begin, end):
    """From where to where a strip lies behind thing i: cards, then bodies, then the listed drops."""
    boards, bodies = cards.frame.shape[0], cards.body.shape[0]
    if i < boards:
        return _board_covers(cards, i, o, start, way, begin, end)
    if i < boards + bodies:
        return body_covers(cards.body, i - boards, o, start, way, begin, end)
    return drop_hides(drops, listed[i - boards - bodies], o, start, way, begin, end)


@jit
def _strip_at(face, o, n, v):
    """The strip at v across the face, -1 to 1: start (from o), begin, end; of what is above the horizon."""
    half = face.half_width * sqrt(max(1.0 - v * v, 0.0)) if face.disc else face.half_width
    start = along(sub(face.centre, o), face.up, v * face.half_height)
    begin, end = above(n, start, face.right, half)
    return start, begin, end


@jit
def _hidden_of(drops, cards, face, listed, o, n, v):
    """Which cards and bodies hide a part of the strip at v, as the sum of 2^i; ALL where one hides all."""
    start, begin, end = _strip_at(face, o, n, v)
    hidden, many = 0, cards.frame.shape[0] + cards.body.shape[0]
    for i in range(many):
        low, high = _covers(drops, cards, listed, i, o, start, face.right, begin, end)
        if low <= begin and high >= end:
            return ALL
        if max(low, begin) < min(high, end):
            hidden += 1 << i
    return hidden


@jit
def _free_of(drops, cards, face, listed, count, o, n, v):
    """What the strip at v sends and what is left of it past everything."""
    start, begin, end = _strip_at(face, o, n, v)
    if begin >= end:
        return 0.0, 0.0
    strip = strip_of(n, start, face.right)
    whole, free, t = sent(strip, begin, end), 0.0, begin
    many = cards.frame.shape[0] + cards.body.shape[0] + count
    while t < end:
        covered, until = t, end
        for i in range(many):
            low, high = _covers(drops, cards, listed, i, o, start, face.right, begin, end)
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
def _part_between(drops, cards, face, listed, count, o, n, low, high):
    """The same of the part of the face between two places across it."""
    whole, free, half = 0.0, 0.0, 0.5 * (high - low)
    for k in range(GAUSS):
        one, some = _free_of(drops, cards, face, listed, count, o, n, low + half * (1.0 + PLACE[k]))
        whole, free = whole + half * COUNTS[k] * one, free + half * COUNTS[k] * some
    return whole, free


@jit
def _change_between(drops, cards, face, listed, o, n, low, high, before):
    """Where between two strips, of which the first is hidden as `before` says and the other is not, that
    changes."""
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        if _hidden_of(drops, cards, face, listed, o, n, middle) == before:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


@jit
def _near(to, far, spread, m, reach):
    """Whether a ball of the radius reach, at m, comes near the lines to a face `far` off along `to`."""
    t = min(max(dot(m, to), 0.0), far)
    off = along(m, to, -t)
    room = reach + spread * (t + reach) / far
    return dot(off, off) < room * room


@jit
def may_be_hidden(cards, face, o):
    """Whether a card or a body may stand in the way of some of a face's light to o."""
    to = sub(face.centre, o)
    far = length(to)
    to, near, f = scale(to, 1.0 / far), False, cards.frame
    for i in range(f.shape[0]):
        m, w, h = sub((f[i, 0], f[i, 1], f[i, 2]), o), cards.size[i, 0], cards.size[i, 1]
        near = near or _near(to, far, face.spread, m, sqrt(w * w + h * h))
    for i in range(cards.body.shape[0]):
        m = sub((cards.body[i, 0], cards.body[i, 1], cards.body[i, 2]), o)
        near = near or _near(to, far, face.spread, m, sqrt(cards.body[i, 16]))
    return near


@jit
def left_past_bodies(drops, cards, face, listed, count, o, n):
    """Share of a face's light on a surface at o with the normal n that cards, bodies and listed drops
    leave."""
    whole, free, begin = 0.0, 0.0, -1.0
    v = 1.0 / TRIED - 1.0
    before = _hidden_of(drops, cards, face, listed, o, n, v)
    for k in range(1, TRIED):
        after = (2.0 * k + 1.0) / TRIED - 1.0
        now = _hidden_of(drops, cards, face, listed, o, n, after)
        if now != before:
            at = _change_between(drops, cards, face, listed, o, n, v, after, before)
            one, some = _part_between(drops, cards, face, listed, count, o, n, begin, at)
            whole, free, begin, before = whole + one, free + some, at, now
        v = after
    one, some = _part_between(drops, cards, face, listed, count, o, n, begin, 1.0)
    whole, free = whole + one, free + some
    return min(max(free / whole, 0.0), 1.0) if whole > 0.0 else 1.0


@jit
def past_bodies_of_pixel(paths, petal, drops, cards, face, p, n, listed, count):
    """The same of a pixel that sees the petal wholly, n its normal toward the side that counts."""
    if count == 0:
        return left_past_bodies(drops, cards, face, listed, 0, row(paths.mean_place, p), n)
    first, many, total = paths.petal_start[p], min(PLACES, paths.samples), 0.0
    for e in range(first, first + many):
        f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
        total += left_past_bodies(drops, cards, face, listed, count, petal_mesh.place(petal, f, u, v), n)
    return total / many
