"""Caustics sampled along the paths of a pixel: each from a point of the light, or near a fold by planes
through the drop."""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

import numpy as np

from lightsim.tracer.kernels import connection
from lightsim.tracer.kernels.camera_paths import TAG
from lightsim.tracer.kernels.caustic_list import caustic_at
from lightsim.tracer.kernels.caustics import caustic_irradiance
from lightsim.tracer.kernels.emitters import point_on
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.light_image import through_drop
from lightsim.tracer.kernels.light_pass import LightSample
from lightsim.tracer.kernels.path_store import petal_end
from lightsim.tracer.kernels.petal_mesh import as_point
from lightsim.tracer.kernels.sampling import PAIR, key, pair_of, shifted_pair
from lightsim.tracer.kernels.vectors import along, basis, dot, length, row, scale, sub


class PlaneCounts(NamedTuple):
    """How many planes through a drop are integrated near a fold of its caustic."""

    planes: int = 2  # at each place of a pixel in focus, and for each path on a wet base
    places: int = 4  # of a pixel at the least
    most_places: int = 32
    paths_a_place: int = 4  # one place for so many paths
    close_px: float = 3.0  # from a drop, within which places are so many times more
    closer: int = 4
    planes_a_pixel: int = 32  # of a pixel that is not in focus, shared by its paths
    most_planes: int = 8  # of each of them
    blurred_px: float = 1.0  # spread of its paths beyond which a pixel's sharp image is used


COUNTS = PlaneCounts()


class PixelKeys(NamedTuple):
    """Keys of a pixel's sample points: on the light, of planes through drops, of places in the pixel."""

    light: np.uint64
    bounce: np.uint64
    place: np.uint64


@jit
def keys_of(light, p):
    """The keys of pixel p."""
    seed, number = light.settings.seed, light.paths.first + p
    return PixelKeys(
        key(seed, number, PAIR.light), key(seed, number, PAIR.bounce), key(seed, number, PAIR.pixel)
    )


@jit
def samples_any(caustics, s):
    """Whether a pixel's path number s samples any of its caustics."""
    samples = False
    for c in range(caustics.many[0]):
        samples = samples or samples_caustic(caustics, c, s)
    return samples


@jit
def samples_caustic(caustics, c, s):
    """Whether path number s of a pixel in focus samples caustic c; those near a fold the pixel integrates
    as a whole (`caustics_near_folds`)."""
    one = caustic_at(caustics, c)
    return (s + c) % one.stride == 0 and not one.by_planes


@jit
def path_samples_caustic(caustics, c, number):
    """Whether path number `number` of a pixel that is not in focus samples caustic c: near a fold each
    does."""
    one = caustic_at(caustics, c)
    return (number + c) % one.stride == 0 or one.by_planes


@jit
def sampled_caustic(light, one, point, scramble, number):
    """A caustic's light for path number `number` of a pixel, weighed by its stride. The paths that sample it
    take the emitter's points one after the other: every so manieth of a sequence would keep to one side."""
    y, power = point_on(light.emitter, *shifted_pair(scramble, number // one.stride))
    softest = light.settings.pixel_mm
    if one.path_type == connection.PATH.through:
        softest = 1e-6 * light.scene.drops.radius[one.drop]
    found = caustic_irradiance(light, one.drop, one.path_type, point, LightSample(y, power), softest)
    return one.stride * found


@jit
def _caustic_by_planes(light, one, point, planes, scramble, number):
    """A caustic's light near a fold, at place number `number` of a pixel's."""
    shift, jitter = pair_of(scramble, number)  # mixed well, or it would follow the path's own place
    return through_drop(light, one.drop, point, planes, shift, jitter)


@jit
def path_caustic(light, one, point, room, keys, number, planes):
    """A caustic's light for path number `number` of a pixel that is not in focus; near a fold by so many
    planes at a place about the path's end, which stands for the petal as far as `room` (mm) from it."""
    if not one.by_planes:
        return sampled_caustic(light, one, point, keys.light, number)
    if room > 0.0:
        s, t = basis(point.n)
        u, v = pair_of(keys.place, number)
        z = along(along(point.x, s, room * (2.0 * u - 1.0)), t, room * (2.0 * v - 1.0))
        if length(sub(z, row(light.scene.drops.centre, one.drop))) >= light.scene.drops.radius[one.drop]:
            point = as_point(point.face, z, point.n)
    return _caustic_by_planes(light, one, point, planes, keys.bounce, number)


@jit
def room_about(paths, petal, e, first, last):
    """How far (mm) the petal reaches that path end e of first..last stands for: half way to the nearest other
    end that is seen straight; 0 where there is none."""
    x = petal_end(paths, petal, e).x
    least = inf
    for other in range(first, last):
        if other != e and paths.petal_tag[other] & TAG.part == TAG.petal:
            off = sub(petal_end(paths, petal, other).x, x)
            least = min(least, dot(off, off))
    return 0.5 * sqrt(least) if least < inf else 0.0


@jit
def planes_for(paths):
    """How many planes each of so many paths takes of a pixel that is not in focus."""
    return min(max(COUNTS.planes_a_pixel // max(paths, 1), 1), COUNTS.most_planes)


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
def _footprint(paths, p):
    """Whether they are known, and the two sides of pixel p's image on the petal."""
    x, y, w = p % paths.width, p // paths.width, paths.width
    one, across = _step(paths, p, p - 1 if x > 0 else -1, p + 1 if x < w - 1 else -1)
    other, down = _step(paths, p, p - w if y > 0 else -1, p + w if y < paths.rows - 1 else -1)
    return one and other, across, down


@jit
def caustics_near_folds(light, pixel):
    """Caustic light near folds at a pixel that sees the petal wholly: where its first paths end, which are
    spread evenly over it; where it is out of focus by little, at as many places of its sharp image, since of
    the paths one alone may end next to a drop."""
    paths, drops, pixel_mm, p = light.paths, light.scene.drops, light.settings.pixel_mm, pixel.number
    total, n = 0.0, pixel.n if pixel.front else scale(pixel.n, -1.0)
    known, across, down = False, (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
    if pixel.spread > COUNTS.blurred_px * pixel_mm:
        known, across, down = _footprint(paths, p)
    keys = keys_of(light, p)
    for c in range(light.caustics.many[0]):
        one = caustic_at(light.caustics, c)
        if not one.by_planes:
            continue
        centre, radius = row(drops.centre, one.drop), drops.radius[one.drop]
        many = min(
            max(COUNTS.places, paths.samples // COUNTS.paths_a_place), COUNTS.most_places, paths.samples
        )
        if length(sub(pixel.x, centre)) - radius < COUNTS.close_px * pixel_mm:
            many = min(many * COUNTS.closer, paths.samples)
        found = 0.0
        for m in range(many):
            x = pixel.x
            if known:
                u, v = pair_of(keys.place, m)
                x = along(along(pixel.x, across, u - 0.5), down, v - 0.5)
            if not known or length(sub(x, centre)) < radius:
                x = petal_end(paths, light.scene.petal, paths.petal_start[p] + m).x
            found += _caustic_by_planes(light, one, as_point(-1, x, n), COUNTS.planes, keys.bounce, m)
        total += found / many
    return total
