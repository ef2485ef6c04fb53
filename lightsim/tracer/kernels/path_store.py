"""The kept camera paths, their mean over each pixel, and the parts of a layer that they are summed into."""

from __future__ import annotations

from typing import NamedTuple

from numpy.typing import NDArray

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.camera_paths import TAG
from lightsim.tracer.kernels.drop_spheres import Drops
from lightsim.tracer.kernels.jit import jit, threaded
from lightsim.tracer.kernels.petal_mesh import Petal
from lightsim.tracer.kernels.vectors import along, dot, length, row, scale, sub, unit


class Paths(NamedTuple):
    """Kept camera paths of `rows` rows of `width` pixels from pixel number `first` on.

    *_start : (pixels + 1,) int64, where each pixel's ends begin in the lists.
    petal_* : dry petal: face, weights uv (n, 2), path weight, tag.
    base_* : wet base: drop, face, uv, weight, tag, place (n, 2) on its grid: ring and turn.
    environment_* : ray (n, 6) origin and direction, weight, tag, the drop that the path met first or -1.
    Of the ends that see the petal straight (mean_*): whole (1: all of the pixel), mean place, mean normal on
    the seen side, mean reflectance and transmittance, greatest distance from the mean place, one of the ends.
    """

    first: int
    width: int
    rows: int
    samples: int
    petal_start: NDArray
    petal_face: NDArray
    petal_uv: NDArray
    petal_weight: NDArray
    petal_tag: NDArray
    base_start: NDArray
    base_drop: NDArray
    base_face: NDArray
    base_uv: NDArray
    base_weight: NDArray
    base_tag: NDArray
    base_place: NDArray
    environment_start: NDArray
    environment_ray: NDArray
    environment_weight: NDArray
    environment_tag: NDArray
    environment_drop: NDArray
    whole: NDArray
    mean_place: NDArray
    mean_normal: NDArray
    mean_reflectance: NDArray
    mean_transmittance: NDArray
    mean_reach: NDArray
    mean_end: NDArray


class CameraView(NamedTuple):
    """Kept camera paths, the set that they were found in, and the place (3,) that gloss is seen from."""

    paths: Paths
    petal: Petal
    drops: Drops
    lens_at: NDArray


class Parts(NamedTuple):
    """The layer being made: (pixels,) and (pixels, 3) float32 arrays."""

    glint: NDArray
    surface: NDArray
    water: NDArray
    petal: NDArray
    lit: NDArray


@jit
def put(target, p, colour, k):
    target[p, 0] += colour[0] * k
    target[p, 1] += colour[1] * k
    target[p, 2] += colour[2] * k


@jit
def put_part(parts, tag, p, colour, k):
    if tag & TAG.part == TAG.surface:
        put(parts.surface, p, colour, k)
    elif tag & TAG.part == TAG.water:
        put(parts.water, p, colour, k)
    else:
        put(parts.petal, p, colour, k)


@jit
def petal_end(paths, petal, e):
    """Where end e on the dry petal lies."""
    return petal_mesh.surface_point(
        petal, int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
    )


@jit
def base_end(paths, petal, e):
    """Where end e on a wet base lies."""
    return petal_mesh.surface_point(petal, int(paths.base_face[e]), paths.base_uv[e, 0], paths.base_uv[e, 1])


@jit
def place_seen(paths, petal, p):
    """A point of the petal that pixel p sees: on its surface, which the mean of several is not."""
    e = paths.mean_end[p]
    return petal_mesh.place(petal, int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1])


@jit
def front_normal(paths, p):
    """The mean normal at a pixel, toward the petal's front."""
    n = row(paths.mean_normal, p)
    return n if paths.petal_tag[paths.mean_end[p]] & TAG.front else scale(n, -1.0)


@jit
def _summarise_pixel(paths, petal, p):
    first, last = paths.petal_start[p], paths.petal_start[p + 1]
    n, fronts, one = 0, 0, -1
    for e in range(first, last):
        if paths.petal_tag[e] & TAG.part == TAG.petal:
            n += 1
            fronts += 1 if paths.petal_tag[e] & TAG.front else 0
            one = e
    paths.mean_end[p] = one
    paths.whole[p] = 1 if n == paths.samples and (fronts == 0 or fronts == n) else 0
    paths.mean_reach[p] = 0.0
    if n == 0:
        return
    place = (0.0, 0.0, 0.0)
    normal = (0.0, 0.0, 0.0)
    rho = (0.0, 0.0, 0.0)
    tau = (0.0, 0.0, 0.0)
    for e in range(first, last):
        if paths.petal_tag[e] & TAG.part != TAG.petal:
            continue
        f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
        side = 1.0 if paths.petal_tag[e] & TAG.front else -1.0
        place = along(place, petal_mesh.place(petal, f, u, v), 1.0 / n)
        normal = along(normal, petal_mesh.normal_at(petal, f, u, v), side)
        rho = along(rho, petal_mesh.blend(petal.reflectance, petal.face, f, u, v), 1.0 / n)
        tau = along(tau, petal_mesh.blend(petal.transmittance, petal.face, f, u, v), 1.0 / n)
    normal = unit(normal) if dot(normal, normal) > 1e-12 else (0.0, 0.0, 1.0)
    reach = 0.0
    for e in range(first, last):
        if paths.petal_tag[e] & TAG.part == TAG.petal:
            f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
            reach = max(reach, length(sub(petal_mesh.place(petal, f, u, v), place)))
    for a in range(3):
        paths.mean_place[p, a] = place[a]
        paths.mean_normal[p, a] = normal[a]
        paths.mean_reflectance[p, a] = rho[a]
        paths.mean_transmittance[p, a] = tau[a]
    paths.mean_reach[p] = reach


@jit
def _summarise_one(paths, petal, r):
    for x in range(paths.width):
        _summarise_pixel(paths, petal, r * paths.width + x)


@threaded
def summarise(begin, end, paths, petal):
    """Fill whole and mean_* from the lists."""
    for r in range(begin, end):
        _summarise_one(paths, petal, r)
