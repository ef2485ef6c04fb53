"""A light's work on what is seen by way of a drop: the petal mirrored in it or seen through it, and its wet
base."""

from __future__ import annotations

from math import inf, pi

import numpy as np

from lightsim.tracer.kernels import connection, drop_spheres, petal_mesh
from lightsim.tracer.kernels.camera_paths import FRONT, PART
from lightsim.tracer.kernels.caustic_sampling import FINE_SAMPLES, PLANES, asked_by_path, by_drop
from lightsim.tracer.kernels.caustics import AGAIN, EVERY, base_caustic, base_light, behind, gather_list
from lightsim.tracer.kernels.drop_visibility import petal_lets_through, point_in_sight
from lightsim.tracer.kernels.emitters import hidden_by, point_on
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.light_image import into_drop
from lightsim.tracer.kernels.path_store import put_part
from lightsim.tracer.kernels.sampling import (
    AGAIN_INSIDE,
    BOUNCE,
    LIGHT,
    MIRROR_LIGHT,
    key,
    pair_of,
    shifted_pair,
)
from lightsim.tracer.kernels.unoccluded import in_sight
from lightsim.tracer.kernels.vectors import dot, length, row, scale, sub, unit

RAREST = 8  # of the petal seen by way of a drop one path in so many asks for a weak way at the least


@jit
def _irradiance_by_drop(petal, drops, cards, face, f, x, n, y, power, stack):
    """Irradiance straight from y at the petal's point x seen by way of a drop, negative on the back."""
    to = sub(y, x)
    far = length(to)
    d = scale(to, 1.0 / far)
    cos_n, cos_y = dot(n, d), -dot(d, face.out)
    if cos_y <= 0.0 or (cos_n > 0.0) != (dot(petal_mesh.flat_normal(petal, f), d) > 0.0):
        return 0.0
    if petal_lets_through(petal, f, x, y, stack) == 0 or hidden_by(cards, x, d, far):
        return 0.0
    if cos_n > 0.0:
        t, _ = drop_spheres.enter(drops, x, d, 1e-5, far, -1, stack)
        if t < inf:
            return 0.0
    return power * cos_y * cos_n / (far * far)


@jit
def mirrored_pixel(paths, petal, drops, cards, face, near, terms, p, first, last, gather, parts, stack):
    """The paths of a pixel that see the dry petal by way of a drop, light gathered there included."""
    scramble = key(terms.seed, paths.first + p, MIRROR_LIGHT)
    way_scramble = key(terms.seed, paths.first + p, BOUNCE)
    turn = int(way_scramble & np.uint64(63))  # a pixel has few of these paths
    for e in range(paths.petal_start[p], paths.petal_start[p + 1]):
        tag = paths.petal_tag[e]
        if tag & PART == 0:
            continue
        f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
        x, n = petal_mesh.place(petal, f, u, v), petal_mesh.normal_at(petal, f, u, v)
        a, b = pair_of(scramble, e - paths.petal_start[p])
        y, power = point_on(face, a, b)
        straight = _irradiance_by_drop(petal, drops, cards, face, f, x, n, y, power, stack)
        front, back = max(straight, 0.0), max(-straight, 0.0)
        if tag & FRONT:
            to = unit(sub(face.centre, x))
            floor = 2.0 * terms.least * max(0.1, abs(dot(n, to)))
            n_gather = gather_list(
                near, near.listed, drops, first, last, x, 0.0, to, floor, EVERY, terms.pixel_mm, RAREST,
                gather.found,
            )  # fmt: skip
            number = e - paths.petal_start[p]
            for c in range(n_gather):
                if asked_by_path(gather, c, number + turn):
                    front += by_drop(
                        petal, drops, gather, c, x, n, 0.0, face, near, terms, scramble, way_scramble,
                        way_scramble, number, 1, stack,
                    )  # fmt: skip
        if not tag & FRONT:
            front, back = back, front
        k = paths.petal_weight[e] / (paths.samples * pi)
        put_part(parts, tag, p, petal_mesh.blend(petal.reflectance, petal.face, f, u, v), k * front)
        if back > 0.0:
            put_part(parts, tag, p, petal_mesh.blend(petal.transmittance, petal.face, f, u, v), k * back)


@jit
def _straight_in(
    petal, drops, cards, face, near, terms, k, x, n, a, b, to_light, way_scramble, number, planes, nodes,
    stack,
):  # fmt: skip
    """Light that comes straight to the base of drop k at x (normal n) through the water, for path number
    `number` of a pixel. a, b: numbers of the face's point; planes, nodes: see `into_drop`."""
    way = 0.0, 0.0
    both = base_caustic(near.reach, drops, k, connection.INSIDE, x, to_light)
    if both:
        if drop_spheres.holds(drops, k, x) and not in_sight(cards, face, x):
            shift, jitter = pair_of(way_scramble, number)
            return into_drop(petal, drops, k, x, n, face, near, planes, shift, jitter, nodes, stack)
        way = shifted_pair(way_scramble, number)
    y, power = point_in_sight(near.sees, k, face, a, b)
    return base_light(
        petal, drops, k, connection.INSIDE, x, n, y, power, face.radiance[0, 0], face, cards, near,
        terms.pixel_mm, both, *way, stack,
    )  # fmt: skip


@jit
def _mirrored_in(
    petal, drops, cards, face, near, terms, k, x, n, to_light, scramble, number, turn, quick, stack
):  # fmt: skip
    """The same of light that is mirrored once inside before: of one in AGAIN paths, counted so often; of all
    where it is drawn together, but for a quick look."""
    both = base_caustic(near.reach, drops, k, connection.INSIDE_AGAIN, x, to_light)
    every = 1 if both and not quick else AGAIN
    if (number + turn) % every != 0:
        return 0.0
    seldom, way = number // every, (0.0, 0.0)
    if both:
        way = shifted_pair(scramble, seldom)
    y, power = point_in_sight(near.sees, k, face, *pair_of(scramble, seldom))
    return every * base_light(
        petal, drops, k, connection.INSIDE_AGAIN, x, n, y, power, face.radiance[0, 0], face, cards, near,
        terms.pixel_mm, both, *way, stack,
    )  # fmt: skip


@jit
def base_pixel(paths, petal, drops, cards, face, near, terms, p, nodes, parts, stack):
    """The paths of a pixel that end on a drop's wet base. nodes: see `through_drop`."""
    scramble = key(terms.seed, paths.first + p, LIGHT)
    way_scramble = key(terms.seed, paths.first + p, BOUNCE)
    again_scramble = key(terms.seed, paths.first + p, AGAIN_INSIDE)
    turn = int(way_scramble % np.uint64(AGAIN))  # a pixel may have few of these paths
    quick = paths.samples < FINE_SAMPLES
    planes = 1 if quick else PLANES
    for e in range(paths.base_start[p], paths.base_start[p + 1]):
        k = int(paths.base_drop[e])
        f, u, v = int(paths.base_face[e]), paths.base_uv[e, 0], paths.base_uv[e, 1]
        x, n = petal_mesh.place(petal, f, u, v), petal_mesh.normal_at(petal, f, u, v)
        number = e - paths.base_start[p]
        a, b = pair_of(scramble, number)
        to_light = unit(sub(face.centre, row(drops.centre, k)))
        front = _straight_in(
            petal, drops, cards, face, near, terms, k, x, n, a, b, to_light, way_scramble, number, planes,
            nodes, stack,
        )  # fmt: skip
        front += _mirrored_in(
            petal, drops, cards, face, near, terms, k, x, n, to_light, again_scramble, number, turn, quick,
            stack,
        )  # fmt: skip
        y, power = point_on(face, a, b)
        back = behind(petal, f, x, n, y, power, face, cards, near.state[k, 1], stack)
        w = paths.base_weight[e] / (paths.samples * pi)
        tag = paths.base_tag[e]
        put_part(parts, tag, p, petal_mesh.blend(petal.reflectance, petal.face, f, u, v), w * front)
        if back > 0.0:
            put_part(parts, tag, p, petal_mesh.blend(petal.transmittance, petal.face, f, u, v), w * back)
