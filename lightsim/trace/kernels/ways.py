"""Light by way of drops as the paths of a pixel ask for it: each for itself, or near a caustic, which is
finer than a pixel, from more points."""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.trace.kernels import connect
from lightsim.trace.kernels import petal as leaf
from lightsim.trace.kernels.camera import PART
from lightsim.trace.kernels.faces import point_on
from lightsim.trace.kernels.hinder import CANDIDATES
from lightsim.trace.kernels.jit import jit, making
from lightsim.trace.kernels.sampling import BOUNCE, LIGHT, PIXEL, key, pair_of, shifted_pair
from lightsim.trace.kernels.through import SHARES, gathered
from lightsim.trace.kernels.vectors import along, basis, dot, length, row, scale, sub
from lightsim.trace.kernels.window import NO_WINDOW, Window, window_of

# Points of a pixel that a way near a caustic is asked for at: first of all, at least where it is bright, at
# most for each path.
PILOT, BRIGHT_POINTS, FINE_POINTS = 16, 64, 64
EDGE_POINTS = 128  # of the light, for all paths of a pixel that does not see the petal wholly
FINE_EDGE = 32  # and for each of them in a fine picture
PLAIN_SAMPLES = 16  # paths a pixel from which a picture is to be looked at closely
FINE_SAMPLES = 8  # paths a pixel from which that is done: fewer are for a quick look
CLOSE_UP = 3.0  # pixels from a drop within which each point has a window of its own
FINE_ERROR = 0.04  # of a pixel's light, that may come of it with so few paths; with others see `care`


class Ways(NamedTuple):
    """Ways over drops: found (n, 6), see `through.gather_list`; window (n, 6): of those near a caustic."""

    found: NDArray
    window: NDArray


@making
def no_ways():
    """Room for a pixel's ways."""
    return Ways(np.empty((4 * CANDIDATES, 6), dtype=np.int32), np.empty((4 * CANDIDATES, 6)))


@jit
def open_windows(drops, outlet, x, ways, many, lasting):
    """Lay windows about what x sees of the drops where a caustic may be near; where x sees nothing there is
    none near. lasting: x stands for all places that ask; else the next one lays windows of its own."""
    for c in range(many):
        if ways.found[c, 5] == 0:
            continue
        window = NO_WINDOW
        if ways.found[c, 1] == connect.THROUGH:
            window = window_of(drops, int(ways.found[c, 0]), outlet, x)
        if lasting and window.size <= 0.0:
            ways.found[c, 5] = 0
        put_window(ways, c, window)


@jit
def put_window(ways, c, window):
    """Lay a window for way c."""
    ways.window[c, 0], ways.window[c, 1], ways.window[c, 2] = window.low, window.high, window.turn
    ways.window[c, 3], ways.window[c, 4], ways.window[c, 5] = window.round, window.toward, window.size


@jit
def window_in(ways, c):
    """The window of way c."""
    w = ways.window
    return Window(w[c, 0], w[c, 1], w[c, 2], w[c, 3], w[c, 4], w[c, 5])


@jit
def asked(gather, n_gather, s, fine):
    """Whether a pixel's path number s asks for light by way of any drop."""
    asked = False
    for c in range(n_gather):
        asked = asked or asked_of(gather, c, s, fine)
    return asked


@jit
def asked_of(gather, c, s, fine):
    """Whether path number s asks for light by way c; fine: those near a caustic are asked for at points of
    their own."""
    return (s + c) % gather.found[c, 2] == 0 and not (fine and gather.found[c, 4] > 0)


@jit
def by_drop(petal, drops, gather, c, x, n, y, power, face, near, terms, way, stack):
    """Light by way of candidate c, counted as often as it stands for other paths; way: see `gathered`, where
    a caustic may be near."""
    softest = terms.pixel_mm
    if gather.found[c, 5] == 0:
        way = -1.0, 0.0
        if gather.found[c, 1] == connect.THROUGH:
            softest = 1e-6 * drops.radius[gather.found[c, 0]]
    return (
        gather.found[c, 2]
        * gather.found[c, 3]
        / SHARES
        * gathered(
            petal,
            drops,
            int(gather.found[c, 0]),
            int(gather.found[c, 1]),
            x,
            n,
            y,
            power,
            face,
            near,
            softest,
            window_in(gather, c),
            *way,
            stack,
        )
    )


@jit
def by_drop_once(petal, drops, gather, c, x, n, face, near, terms, scramble, way_scramble, number, stack):
    """Light by way of candidate c for a path number `number` of a pixel. Of the points of the face those that
    ask take one after the other: every so manieth of a sequence would keep to one side of it."""
    m = number // gather.found[c, 2]
    y, power = point_on(face, *shifted_pair(scramble, m))
    way = shifted_pair(way_scramble, m)
    return by_drop(petal, drops, gather, c, x, n, y, power, face, near, terms, way, stack)


@jit
def by_drop_often(
    petal, drops, gather, c, x, n, room, face, near, terms, scramble, way_scramble, place_scramble, number,
    times, stack,
):  # fmt: skip
    """Light by way of candidate c for a path number `number` of a pixel that does not see the petal wholly:
    near a caustic from `times` points of the face, the pixel's paths having each their own, and at as many
    places about x, which stands for the petal as far as `room` (mm) from it."""
    if gather.found[c, 4] == 0:
        return by_drop_once(
            petal, drops, gather, c, x, n, face, near, terms, scramble, way_scramble, number, stack
        )
    total = 0.0
    k = int(gather.found[c, 0])
    s, t = basis(n)
    for m in range(times * number, times * (number + 1)):
        y, power = point_on(face, *shifted_pair(scramble, m))
        way = shifted_pair(way_scramble, m)
        u, v = pair_of(place_scramble, m)
        z = along(along(x, s, room * (2.0 * u - 1.0)), t, room * (2.0 * v - 1.0))
        if length(sub(z, row(drops.centre, k))) < drops.radius[k]:
            z = x
        total += by_drop(petal, drops, gather, c, z, n, y, power, face, near, terms, way, stack)
    return total / (times * gather.found[c, 2])


@jit
def room_about(paths, petal, e, first, last):
    """How far (mm) the petal reaches that path end e of first..last stands for: half way to the nearest other
    end that is seen straight; 0 where there is none."""
    x = leaf.place(petal, int(paths.leaf_face[e]), paths.leaf_uv[e, 0], paths.leaf_uv[e, 1])
    least = inf
    for other in range(first, last):
        if other != e and paths.leaf_tag[other] & PART == 0:
            f, u, v = int(paths.leaf_face[other]), paths.leaf_uv[other, 0], paths.leaf_uv[other, 1]
            off = sub(leaf.place(petal, f, u, v), x)
            least = min(least, dot(off, off))
    return 0.5 * sqrt(least) if least < inf else 0.0


@jit
def often(paths):
    """How many points of the face a path asks for near a caustic, where the pixel sees more than petal."""
    if paths.samples < FINE_SAMPLES:
        return 1
    return EDGE_POINTS // paths.samples if paths.samples <= PLAIN_SAMPLES else FINE_EDGE


@jit
def care(samples):
    """How many times the points that an error of FINE_ERROR takes are asked for: for a quick look fewer the
    more paths there are, which share the points' light; for a fine picture more."""
    if samples <= PLAIN_SAMPLES:
        return FINE_SAMPLES / samples
    return FINE_SAMPLES / PLAIN_SAMPLES * (samples / PLAIN_SAMPLES)


@jit
def _step(paths, p, first, second):
    """From pixel p's image on the petal to the next one's, of two neighbours those that lie wholly on it."""
    back, on = p if first < 0 else first, p if second < 0 else second
    if paths.whole[back] == 0:
        back = p
    if paths.whole[on] == 0:
        on = p
    if back == on:
        return False, (0.0, 0.0, 0.0)
    share = 0.5 if back != p and on != p else 1.0
    return True, scale(sub(row(paths.mean_place, on), row(paths.mean_place, back)), share)


@jit
def footprint(paths, p):
    """Whether they are known, and the two sides of pixel p's image on the petal."""
    x, y, w = p % paths.width, p // paths.width, paths.width
    one, across = _step(paths, p, p - 1 if x > 0 else -1, p + 1 if x < w - 1 else -1)
    other, down = _step(paths, p, p - w if y > 0 else -1, p + w if y < paths.rows - 1 else -1)
    return one and other, across, down


@jit
def near_caustics(paths, petal, drops, face, near, terms, p, n, across, down, bare, gather, n_gather, stack):
    """Light near the caustics of drops, which are finer than a pixel: more points of the pixel than it has
    paths, spread over its image on the petal; the sum stands for as many points as there are paths.

    How unlike the first points are says how many it takes for an error of FINE_ERROR of the pixel's
    light, at the least number of paths. They do not count themselves: the sum would come out too small where
    they miss what is rare.
    """
    total = 0.0
    place = row(paths.mean_place, p)
    scramble, light_scramble = (
        key(terms.seed, paths.first + p, PIXEL),
        key(terms.seed, paths.first + p, LIGHT),
    )
    way_scramble = key(terms.seed, paths.first + p, BOUNCE)
    pilot = max(PILOT, paths.samples)
    for c in range(n_gather):
        if gather.found[c, 4] == 0:
            continue
        k = int(gather.found[c, 0])
        edge = length(sub(place, row(drops.centre, k))) - drops.radius[k] < CLOSE_UP * terms.pixel_mm
        edge = edge and gather.found[c, 5] == 1
        some, squares, m, last = 0.0, 0.0, 0, pilot
        while m < last:
            u, v = pair_of(scramble, m)
            x = along(along(place, across, u - 0.5), down, v - 0.5)
            y, power = point_on(face, *shifted_pair(light_scramble, m))
            way = shifted_pair(way_scramble, m)
            if edge:
                put_window(gather, c, window_of(drops, k, near.outlet, x))
            one = by_drop(petal, drops, gather, c, x, n, y, power, face, near, terms, way, stack)
            one /= gather.found[c, 2]
            some += one
            squares += one * one
            m += 1
            if m == pilot:
                mean = some / m
                error = FINE_ERROR * (bare + mean)
                wanted = (squares / m - mean * mean) * care(paths.samples) / (error * error)
                many = pilot
                if gather.found[c, 4] == 2:
                    many = BRIGHT_POINTS if paths.samples <= PLAIN_SAMPLES else 8 * paths.samples
                many = max(many, pilot * int(min(wanted / pilot + 1.0, 1.0 * FINE_POINTS)))
                while m < many:  # so many points of the sequence, beginning where it begins anew
                    m *= 2
                some, last = 0.0, m + many
        total += some / many * paths.samples
    return total
