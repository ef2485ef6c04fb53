"""What is seen by way of a drop, lit: the petal mirrored in it or seen through it, and its wet base."""

from __future__ import annotations

from math import inf, pi
from typing import NamedTuple

import numpy as np

from lightsim.tracer.kernels import connection, drop_spheres, petal_mesh
from lightsim.tracer.kernels.camera_paths import TAG
from lightsim.tracer.kernels.caustic_list import CausticQuery, base_caustic, caustic_at, list_caustics
from lightsim.tracer.kernels.caustic_sampling import COUNTS, PixelKeys, path_caustic, path_samples_caustic
from lightsim.tracer.kernels.caustics import back_irradiance, base_light
from lightsim.tracer.kernels.drop_visibility import petal_visibility
from lightsim.tracer.kernels.emitters import hidden_by, point_on
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.light_image import into_drop
from lightsim.tracer.kernels.light_pass import LightSample
from lightsim.tracer.kernels.path_store import base_end, petal_end, put_part
from lightsim.tracer.kernels.sampling import PAIR, key, pair_of, shifted_pair
from lightsim.tracer.kernels.unoccluded import boards_may_hide
from lightsim.tracer.kernels.vectors import dot, length, row, scale, sub, unit


class Strides(NamedTuple):
    """How seldom costly light is sampled."""

    rarest: int = 8  # of the petal seen by way of a drop: the greatest stride of a caustic
    again: int = 4  # light mirrored once inside a drop is found for one in so many paths, and weighed so


STRIDES = Strides()


@jit
def _irradiance_by_drop(scene, emitter, point, sample):
    """Irradiance straight from a point of the emitter at a point of the petal that is seen by way of a drop,
    negative on the back."""
    to = sub(sample.y, point.x)
    far = length(to)
    d = scale(to, 1.0 / far)
    cos_n, cos_y = dot(point.n, d), -dot(d, emitter.out)
    if cos_y <= 0.0 or (cos_n > 0.0) != (dot(petal_mesh.flat_normal(scene.petal, point.face), d) > 0.0):
        return 0.0
    if petal_visibility(scene.petal, point.face, point.x, sample.y, scene.stack) == 0:
        return 0.0
    if hidden_by(scene.boards, point.x, d, far):
        return 0.0
    if cos_n > 0.0:
        t, _ = drop_spheres.enter(scene.drops, point.x, d, 1e-5, far, -1, scene.stack)
        if t < inf:
            return 0.0
    return sample.power * cos_y * cos_n / (far * far)


@jit
def _put_both(light, tag, p, f, uv, front, back):
    """Add what the petal sends on at weights uv of face f, lit on the side seen and the other."""
    petal = light.scene.petal
    put_part(light.parts, tag, p, petal_mesh.blend(petal.reflectance, petal.face, f, uv[0], uv[1]), front)
    if back > 0.0:
        put_part(
            light.parts, tag, p, petal_mesh.blend(petal.transmittance, petal.face, f, uv[0], uv[1]), back
        )


@jit
def add_petal_by_drops(light, p, first, last):
    """Light the paths of a pixel that see the dry petal by way of a drop, caustics of the drops
    near.listed[first:last] included."""
    paths, scene, near = light.paths, light.scene, light.drop_light
    scramble = key(light.settings.seed, paths.first + p, PAIR.mirror_light)
    bounce = key(light.settings.seed, paths.first + p, PAIR.bounce)
    keys = PixelKeys(scramble, bounce, bounce)
    turn = int(bounce & np.uint64(63))  # a pixel has few of these paths
    for e in range(paths.petal_start[p], paths.petal_start[p + 1]):
        tag = paths.petal_tag[e]
        if tag & TAG.part == TAG.petal:
            continue
        point, number = petal_end(paths, scene.petal, e), e - paths.petal_start[p]
        a, b = pair_of(scramble, number)
        y, power = point_on(light.emitter, a, b)
        straight = _irradiance_by_drop(scene, light.emitter, point, LightSample(y, power))
        front, back = max(straight, 0.0), max(-straight, 0.0)
        if tag & TAG.front:
            to = unit(sub(light.emitter.centre, point.x))
            floor = 2.0 * light.settings.least * max(0.1, abs(dot(point.n, to)))
            list_caustics(
                light, near.listed, first, last, CausticQuery(point.x, 0.0, to, floor, STRIDES.rarest)
            )
            for c in range(light.caustics.many[0]):
                if path_samples_caustic(light.caustics, c, number + turn):
                    front += path_caustic(light, caustic_at(light.caustics, c), point, 0.0, keys, number, 1)
        if not tag & TAG.front:
            front, back = back, front
        k = paths.petal_weight[e] / (paths.samples * pi)
        _put_both(
            light, tag, p, point.face, (paths.petal_uv[e, 0], paths.petal_uv[e, 1]), k * front, k * back
        )


@jit
def _straight_in(light, k, point, to_light, ab, bounce, number):
    """Light that comes straight to the base of drop k through the water, for path number `number` of a pixel.
    ab: numbers of the emitter's point; bounce: see `PixelKeys`."""
    drops, emitter, near, direction = light.scene.drops, light.emitter, light.drop_light, (0.0, 0.0)
    both = base_caustic(near.reach, drops, k, connection.PATH.inside, point.x, to_light)
    if both:
        if drop_spheres.holds(drops, k, point.x) and not boards_may_hide(
            light.scene.boards, emitter, point.x
        ):
            shift, jitter = pair_of(bounce, number)
            return into_drop(light, k, point, COUNTS.planes, shift, jitter)
        direction = shifted_pair(bounce, number)
    y, power = point_on(emitter, ab[0], ab[1])
    return base_light(light, k, connection.PATH.inside, point, LightSample(y, power), both, direction)


@jit
def _mirrored_in(light, k, point, to_light, scramble, number, turn):
    """The same of light that is mirrored once inside before: of one in again paths, weighed so; of all where
    it is drawn together."""
    near = light.drop_light
    both = base_caustic(near.reach, light.scene.drops, k, connection.PATH.inside_again, point.x, to_light)
    every = 1 if both else STRIDES.again
    if (number + turn) % every != 0:
        return 0.0
    seldom, direction = number // every, (0.0, 0.0)
    if both:
        direction = shifted_pair(scramble, seldom)
    y, power = point_on(light.emitter, *pair_of(scramble, seldom))
    return every * base_light(
        light, k, connection.PATH.inside_again, point, LightSample(y, power), both, direction
    )


@jit
def add_wet_bases(light, p):
    """Light the paths of a pixel that end on a drop's wet base."""
    paths, scene, emitter, seed = light.paths, light.scene, light.emitter, light.settings.seed
    scramble = key(seed, paths.first + p, PAIR.light)
    bounce = key(seed, paths.first + p, PAIR.bounce)
    again = key(seed, paths.first + p, PAIR.again_inside)
    turn = int(bounce % np.uint64(STRIDES.again))  # a pixel may have few of these paths
    for e in range(paths.base_start[p], paths.base_start[p + 1]):
        k, point = int(paths.base_drop[e]), base_end(paths, scene.petal, e)
        number = e - paths.base_start[p]
        a, b = pair_of(scramble, number)
        to_light = unit(sub(emitter.centre, row(scene.drops.centre, k)))
        front = _straight_in(light, k, point, to_light, (a, b), bounce, number)
        front += _mirrored_in(light, k, point, to_light, again, number, turn)
        y, power = point_on(emitter, a, b)
        state = light.drop_light.visibility.state[k, 1]
        back = back_irradiance(scene, emitter, point, LightSample(y, power), state)
        w = paths.base_weight[e] / (paths.samples * pi)
        _put_both(
            light,
            paths.base_tag[e],
            p,
            point.face,
            (paths.base_uv[e, 0], paths.base_uv[e, 1]),
            w * front,
            w * back,
        )
