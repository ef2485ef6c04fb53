"""Light by way of drops as the paths of a pixel ask for it: each from a point of the light, or near a caustic
by planes through the drop."""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import connection, petal_mesh
from lightsim.tracer.kernels.backward_rays import KEPT, NODES
from lightsim.tracer.kernels.camera_paths import PART
from lightsim.tracer.kernels.caustics import SHARES, gathered
from lightsim.tracer.kernels.drop_visibility import CANDIDATES
from lightsim.tracer.kernels.emitters import point_on
from lightsim.tracer.kernels.jit import jit, making
from lightsim.tracer.kernels.light_image import through_drop
from lightsim.tracer.kernels.sampling import BOUNCE, PIXEL, key, pair_of, shifted_pair
from lightsim.tracer.kernels.vectors import along, basis, dot, length, row, scale, sub

# Near a caustic: at how many places of a pixel planes are asked for, at least and at most, of how many paths
# one each; how many planes.
PLACES, MOST_PLACES, PATHS_A_PLACE, PLANES = 4, 32, 4, 2
CLOSE_UP, CLOSER = 3.0, 4  # pixels from a drop within which places are so many times more
PLANES_A_PIXEL, MOST_PLANES = 32, 8  # of a pixel that sees the petal in part; of each of its paths
BLURRED = 1.0  # pixels from its mean place that paths of a pixel in focus do not reach
QUICK_PLANES = 3  # for a quick look, at one place
FINE_SAMPLES = 8  # paths a pixel from which a picture is more than a quick look


class Ways(NamedTuple):
    """Ways over drops: found (n, 5), see `caustics.gather_list`; nodes: see `backward_rays.follow_nodes`."""

    found: NDArray
    nodes: NDArray


@making
def no_ways():
    """Room for a pixel's ways."""
    return Ways(np.empty((4 * CANDIDATES, 5), dtype=np.int32), np.empty((NODES, KEPT)))


@jit
def asked(gather, n_gather, s):
    """Whether a pixel's path number s asks for light by way of any drop."""
    asked = False
    for c in range(n_gather):
        asked = asked or asked_of(gather, c, s)
    return asked


@jit
def asked_of(gather, c, s):
    """Whether path number s asks for light by way c; near a caustic the pixel does so itself."""
    return (s + c) % gather.found[c, 2] == 0 and gather.found[c, 4] == 0


@jit
def asked_by_path(gather, c, number):
    """Whether path number `number` of those that do not see the petal wholly asks for light by way c: near a
    caustic each does."""
    return (number + c) % gather.found[c, 2] == 0 or gather.found[c, 4] > 0


@jit
def by_drop_once(petal, drops, gather, c, x, n, face, near, terms, scramble, number, stack):
    """Light by way of candidate c for a path number `number` of a pixel, counted as often as it stands for
    other paths. Of the points of the face those that ask take one after the other: every so manieth of a
    sequence would keep to one side of it."""
    k, course = int(gather.found[c, 0]), int(gather.found[c, 1])
    y, power = point_on(face, *shifted_pair(scramble, number // gather.found[c, 2]))
    softest = 1e-6 * drops.radius[k] if course == connection.THROUGH else terms.pixel_mm
    light = gathered(petal, drops, k, course, x, n, y, power, face, near, softest, stack)
    return gather.found[c, 2] * gather.found[c, 3] / SHARES * light


@jit
def by_planes(petal, drops, gather, c, x, n, face, near, planes, scramble, number, stack):
    """Light by way of candidate c, near a caustic, at a place number `number` of a pixel's."""
    k = int(gather.found[c, 0])
    shift, jitter = pair_of(scramble, number)  # mixed well, or it would follow the path's own place
    light = through_drop(petal, drops, k, x, n, face, near, planes, shift, jitter, gather.nodes, stack)
    return gather.found[c, 3] / SHARES * light


@jit
def by_drop(
    petal, drops, gather, c, x, n, room, face, near, terms, scramble, way_scramble, place_scramble, number,
    planes, stack,
):  # fmt: skip
    """Light by way of candidate c for a path number `number` of a pixel that does not see the petal wholly;
    near a caustic by so many planes at a place about x, which stands for the petal as far as `room` (mm) from
    it."""
    if gather.found[c, 4] == 0:
        return by_drop_once(petal, drops, gather, c, x, n, face, near, terms, scramble, number, stack)
    k = int(gather.found[c, 0])
    if room > 0.0:
        s, t = basis(n)
        u, v = pair_of(place_scramble, number)
        z = along(along(x, s, room * (2.0 * u - 1.0)), t, room * (2.0 * v - 1.0))
        if length(sub(z, row(drops.centre, k))) >= drops.radius[k]:
            x = z
    return by_planes(petal, drops, gather, c, x, n, face, near, planes, way_scramble, number, stack)


@jit
def room_about(paths, petal, e, first, last):
    """How far (mm) the petal reaches that path end e of first..last stands for: half way to the nearest other
    end that is seen straight; 0 where there is none."""
    x = petal_mesh.place(petal, int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1])
    least = inf
    for other in range(first, last):
        if other != e and paths.petal_tag[other] & PART == 0:
            f, u, v = int(paths.petal_face[other]), paths.petal_uv[other, 0], paths.petal_uv[other, 1]
            off = sub(petal_mesh.place(petal, f, u, v), x)
            least = min(least, dot(off, off))
    return 0.5 * sqrt(least) if least < inf else 0.0


@jit
def planes_for(paths):
    """How many planes each of so many paths asks for that do not see the petal wholly."""
    return min(max(PLANES_A_PIXEL // max(paths, 1), 1), MOST_PLANES)


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
def near_caustics(paths, petal, drops, face, near, terms, p, n, gather, n_gather, stack):
    """Light near the caustics of drops for a pixel that sees the petal wholly: where its first paths end,
    which are spread evenly over it; where it is out of focus by little, at as many places of its sharp image,
    since of the paths one alone may end next to a drop; for a quick look at its mean place."""
    total = 0.0
    place = row(paths.mean_place, p)
    quick = paths.samples < FINE_SAMPLES
    known, across, down = False, (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
    if not quick and paths.mean_reach[p] > BLURRED * terms.pixel_mm:
        known, across, down = footprint(paths, p)
    scramble, way_scramble = (
        key(terms.seed, paths.first + p, PIXEL),
        key(terms.seed, paths.first + p, BOUNCE),
    )
    for c in range(n_gather):
        if gather.found[c, 4] == 0:
            continue
        k = int(gather.found[c, 0])
        many, planes = 1, QUICK_PLANES
        if not quick:
            many, planes = min(max(PLACES, paths.samples // PATHS_A_PLACE), MOST_PLACES), PLANES
            if length(sub(place, row(drops.centre, k))) - drops.radius[k] < CLOSE_UP * terms.pixel_mm:
                many = min(many * CLOSER, paths.samples)
        light = 0.0
        for m in range(many):
            x = place
            if known:
                u, v = pair_of(scramble, m)
                x = along(along(place, across, u - 0.5), down, v - 0.5)
            if not quick and (not known or length(sub(x, row(drops.centre, k))) < drops.radius[k]):
                e = paths.petal_start[p] + m
                x = petal_mesh.place(
                    petal, int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
                )
            light += by_planes(petal, drops, gather, c, x, n, face, near, planes, way_scramble, m, stack)
        total += light / many
    return total
