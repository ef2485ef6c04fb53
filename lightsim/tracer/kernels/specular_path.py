"""One ray's way through air and water until it ends on the petal, on a drop's wet base, or leaves the set.

At each meeting with a water surface one of the two ways is taken, with the Fresnel reflectance as its
chance, so a path's weight only ever changes by the n^2 by which radiance scales in water.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from numpy.typing import NDArray

from lightsim.constants import WATER_INDEX as N
from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.emitters import Vector
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.refraction import bend, fresnel, mirror
from lightsim.tracer.kernels.sampling import single
from lightsim.tracer.kernels.vectors import along, cross, dot, row, scale, sub

DEEPEST = 24  # meetings with water surfaces after which a path is given up


class EndKinds(NamedTuple):
    """How a path ends."""

    lost: int = 0
    petal: int = 1
    base: int = 2
    environment: int = 3


END = EndKinds()


class PathScene(NamedTuple):
    """What a path may meet: petal and drops, the face under each drop's foot (nd,); with room for a walk
    through their trees."""

    petal: petal_mesh.Petal
    drops: drop_spheres.Drops
    foot_face: NDArray
    stack: NDArray


class PathEnd(NamedTuple):
    """How a path ended (of END), its weight, where on the petal (face, weights u, v) and under which drop,
    whether the petal's front is seen, origin and direction of its last leg, and how many water surfaces it
    met."""

    kind: int
    weight: float
    face: int
    u: float
    v: float
    drop: int
    front: bool
    o: Vector
    d: Vector
    events: int


@jit
def path_end(kind, weight, where, drop, front, leg, events):
    """A `PathEnd` of one type, whatever the width of the numbers. where: face, u, v; leg: origin,
    direction."""
    return PathEnd(kind, weight, where[0], where[1], where[2], drop, front, leg[0], leg[1], events)


@jit
def outward(drops, k, p):
    """Outward normal of sphere k at p."""
    return scale(sub(p, row(drops.centre, k)), 1.0 / drops.radius[k])


@jit
def sees_front(petal, f, d):
    """Whether a ray in direction d meets the front of face f."""
    return dot(petal_mesh.flat_normal(petal, f), d) < 0.0


@jit
def base_weights(petal, f, p):
    """Weights u, v of the point of face f nearest to p, kept inside the face."""
    e1, e2 = petal_mesh.edges(petal, f)
    s = sub(p, petal_mesh.corner(petal, f))
    n = cross(e1, e2)
    nn = dot(n, n)
    u = min(max(dot(cross(s, e2), n) / nn, 0.0), 1.0)
    v = min(max(dot(cross(e1, s), n) / nn, 0.0), 1.0 - u)
    return u, v


@jit
def _through_water(scene, k, o, d):
    """From o inside drop k along d: (ended on the base?, face, u, v, exit point)."""
    petal, drops = scene.petal, scene.drops
    _, t_exit = drop_spheres.sphere(drops, k, o, d)
    if t_exit == inf or t_exit <= 0.0:
        t_exit = 1e-6
    _, f, u, v = petal_mesh.nearest(petal, o, d, petal_mesh.START, t_exit, scene.stack)
    p = along(o, d, t_exit)
    if f >= 0:
        return True, f, u, v, p
    if drop_spheres.height(drops, k, p) < 0.0:  # slipped between petal and sphere: the base all the same
        f = scene.foot_face[k]
        u, v = base_weights(petal, f, p)
        return True, f, u, v, p
    return False, -1, 0.0, 0.0, p


@jit
def walk(scene, k, o, d, weight, scramble, sample):
    """Follow a ray to its `PathEnd`. k : the drop it is in or on (>= 0 in water), -2 - k when leaving
    drop k's surface in the air, -1 in air."""
    petal, drops = scene.petal, scene.drops
    nowhere = -1, 0.0, 0.0
    event = 0
    inside = k >= 0
    here = k if inside else (-2 - k if k < -1 else -1)
    while event < DEEPEST:
        if inside:
            on_base, f, u, v, p = _through_water(scene, here, o, d)
            if on_base:
                return path_end(END.base, weight, (f, u, v), here, True, (o, d), event)
            n = scale(outward(drops, here, p), -1.0)
            cos_i = min(1.0, -dot(d, n))
            f_r = fresnel(cos_i, 1.0 / N)
            if single(scramble, sample, event) < f_r:
                d = mirror(d, n)
            else:
                d = bend(d, n, cos_i, 1.0 / N)
                weight *= N * N
                inside = False
            o = p
        else:
            t, f, u, v = petal_mesh.nearest(petal, o, d, petal_mesh.START, inf, scene.stack)
            t_drop, other = drop_spheres.enter(drops, o, d, 1e-7, t, here, scene.stack)
            if other < 0:
                if f < 0:
                    return path_end(END.environment, weight, nowhere, -1, True, (o, d), event)
                front = sees_front(petal, f, d)
                return path_end(END.petal, weight, (f, u, v), -1, front, (o, d), event)
            here = other
            o = along(o, d, t_drop)
            n = outward(drops, here, o)
            cos_i = min(1.0, max(0.0, -dot(d, n)))
            if single(scramble, sample, event) < fresnel(cos_i, N):
                d = mirror(d, n)
            else:
                d = bend(d, n, cos_i, N)
                weight /= N * N
                inside = True
        event += 1
    return path_end(END.lost, 0.0, nowhere, -1, True, (o, d), event)
