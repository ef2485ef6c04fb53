"""The kernels' work done the slow way: plain Python and numpy, every triangle and every drop tried."""

from __future__ import annotations

import cmath
from math import inf, pi

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import drop_spheres, sampling
from lightsim.tracer.kernels.petal_mesh import START, Petal
from lightsim.tracer.kernels.specular_path import DEEPEST, END
from tests.tracer.inner import Room

single = Room(sampling).single
N = 1.333


def fresnel(angle: float, eta: float) -> float:
    """Unpolarised reflectance with a complex angle of refraction, total reflection included.

    Sines and tangents of sums: Born and Wolf, Principles of Optics, 1.5, equation 21.
    """
    if angle < 1e-6:
        return ((eta - 1.0) / (eta + 1.0)) ** 2
    beyond = cmath.asin(cmath.sin(angle) / eta)
    across = cmath.sin(angle - beyond) / cmath.sin(angle + beyond)
    along = cmath.tan(angle - beyond) / cmath.tan(angle + beyond)
    return 0.5 * (abs(across) ** 2 + abs(along) ** 2)


def mirror(d: NDArray, n: NDArray) -> NDArray:
    """Householder's reflection as a matrix."""
    return (np.eye(3) - 2.0 * np.outer(n, n)) @ d


def bend(d: NDArray, n: NDArray, eta: float) -> NDArray:
    """Refraction by its angles in the plane of incidence: Snell's law."""
    side = d - (d @ n) * n
    sine = np.linalg.norm(side)
    if sine < 1e-12:
        return d
    beyond = np.arcsin(sine / eta)
    return np.sin(beyond) * side / sine - np.cos(beyond) * n


def sphere(centre: NDArray, radius: float, o: NDArray, d: NDArray) -> tuple[float, float]:
    """Where a ray enters and leaves a sphere, from the roots of |o + t d - c|^2 = R^2."""
    m = o - centre
    roots = np.roots([d @ d, 2.0 * (m @ d), m @ m - radius**2])
    if abs(roots[0].imag) > 0.0:
        return inf, inf
    low, high = sorted(roots.real)
    return float(low), float(high)


def corners_and_edges(petal: Petal) -> list[NDArray]:
    """First corners and edges of all triangles, (nf, 3) each; those without area fill the leaves up."""
    return np.split(petal.lanes.transpose(0, 2, 1).reshape(-1, 9).astype(float), 3, axis=1)


def triangles(petal: Petal, o: NDArray, d: NDArray) -> NDArray:
    """Distance, u, v of the ray's meeting with every triangle's plane, (nf, 3); inf where it misses.

    o + t d = a + u e1 + v e2 as three linear equations.
    """
    corner, e1, e2 = corners_and_edges(petal)
    matrix = np.stack([np.broadcast_to(-d, e1.shape), e1, e2], axis=-1)
    flat = np.abs(np.linalg.det(matrix)) < 1e-14
    matrix[flat] = np.eye(3)
    met = np.linalg.solve(matrix, (o - corner)[..., None])[..., 0]
    u, v = met[:, 1], met[:, 2]
    met[flat | (u < 0.0) | (v < 0.0) | (u + v > 1.0)] = inf
    return met


def nearest(petal: Petal, o: NDArray, d: NDArray, t_min: float, t_max: float) -> tuple[float, int]:
    """First triangle between t_min and t_max: distance and number; inf, -1 for none."""
    t = triangles(petal, o, d)[:, 0]
    t = np.where((t > t_min) & (t < t_max), t, inf)
    f = int(np.argmin(t))
    return (float(t[f]), f) if t[f] < inf else (inf, -1)


def height(drops: drop_spheres.Drops, k: int, p: NDArray) -> float:
    """Height above the petal's plane at the drop's foot, in radii."""
    return float((p - drops.foot[k]) @ drops.normal[k]) / float(drops.radius[k])


def enter(
    drops: drop_spheres.Drops, o: NDArray, d: NDArray, t_min: float, t_max: float, skip: int
) -> tuple[float, int]:
    """First drop that a ray enters above its foot."""
    best, found = t_max, -1
    for k in range(len(drops.radius)):
        t, _ = sphere(drops.centre[k], drops.radius[k], o, d)
        if k != skip and t_min < t < best and height(drops, k, o + t * d) > -drop_spheres.SKIRT:
            best, found = t, k
    return (best, found) if found >= 0 else (inf, -1)


def walk(
    petal: Petal, drops: drop_spheres.Drops, o: NDArray, d: NDArray, scramble: int, sample: int
) -> tuple[int, float, int, NDArray, NDArray]:
    """A ray followed from the air to its end: how it ended, its weight, the drop, its last leg."""
    inside, here, weight = False, -1, 1.0
    for event in range(DEEPEST):
        chance = single(scramble, sample, event)
        if inside:
            _, t = sphere(drops.centre[here], drops.radius[here], o, d)
            met, _ = nearest(petal, o, d, START, t)
            p = o + t * d
            if met < inf or height(drops, here, p) < 0.0:
                return END.base, weight, here, o, d
            n = -(p - drops.centre[here]) / drops.radius[here]
            o, mirrored = p, chance < fresnel(float(np.arccos(min(1.0, -(d @ n)))), 1.0 / N)
            d = mirror(d, n) if mirrored else bend(d, n, 1.0 / N)
            inside, weight = mirrored, weight * (1.0 if mirrored else N * N)
        else:
            t_leaf, _ = nearest(petal, o, d, START, inf)
            t, k = enter(drops, o, d, 1e-7, t_leaf, here)
            if k < 0:
                return (END.petal if t_leaf < inf else END.environment), weight, -1, o, d
            here, o = k, o + t * d
            n = (o - drops.centre[k]) / drops.radius[k]
            mirrored = chance < fresnel(float(np.arccos(min(1.0, -(d @ n)))), N)
            d = mirror(d, n) if mirrored else bend(d, n, N)
            inside, weight = not mirrored, weight / (1.0 if mirrored else N * N)
    return END.lost, 0.0, -1, o, d


def directions(rng: np.random.Generator, count: int) -> NDArray:
    """Unit vectors spread evenly over all directions, (count, 3)."""
    z = rng.uniform(-1.0, 1.0, count)
    turn = rng.uniform(0.0, 2.0 * pi, count)
    r = np.sqrt(1.0 - z * z)
    return np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=1)


def unit(v):
    return v / np.linalg.norm(v, axis=-1, keepdims=True)


def dots(a, b):
    return np.sum(a * b, axis=-1)


def bent(d, normal, eta):
    """Snell's law for unit vectors, the normal against the ray; no light where it is wholly mirrored."""
    c = -dots(d, normal)
    k = 1.0 - eta**2 * (1.0 - c**2)
    out = eta * d + (eta * c - np.sqrt(np.maximum(k, 0.0)))[:, None] * normal
    return np.where(k[:, None] > 0.0, out, np.nan)
