"""Light between a drop and the dry petal round it.

From the petal close by, a drop fills much of the sky: it shows the wet base through its side, mirrors the
petal, and lets the dome through. The ways from a ring of petal into the drop depend on the contact angle
alone; they are found once for the unit sphere at azimuth zero and turned round for every drop.
"""

from __future__ import annotations

from math import cos, inf, log, pi, sin, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import WATER_INDEX as N
from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.angles import angle_of
from lightsim.tracer.kernels.box_tree import STACK
from lightsim.tracer.kernels.drop_visibility import STATE
from lightsim.tracer.kernels.emitters import face_of, hidden_by
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.refraction import bend, fresnel, mirror
from lightsim.tracer.kernels.sampling import pair_of
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, basis, dot, in_frame, length, row, scale, sub


class RingReach(NamedTuple):
    """How far the rings round a drop reach."""

    outer: float = 4.0  # radii from the drop's axis within which the rings lie
    farthest: float = 4.0  # times as far as the rings reaches what a drop sends to the petal
    beyond_rings: float = 1e6  # ring number of what does not lie on the rings


REACH = RingReach()


class RingPaths(NamedTuple):
    """For one contact angle. rim: radius of the innermost ring. Per ring and direction toward the drop
    (rings, k): base_share: irradiance per unit of the base's exitance where the direction ends, at
    base_place (rings, k, 2), distance from the axis over the base's radius and angle in turns.

    out_share (rings, 3 k): irradiance per unit of the exitance where rays end that leave the drop: mirrored,
    at once through it, and later; out_start, out_run (rings, 3 k, 3): where and whither; out_place (rings, 3
    k, 2): where on the petal, ring number and turns, beyond_rings for the sky. hidden_share, hidden_start,
    hidden_run: the same of what the drop hides, from behind it.
    """

    rim: float
    base_share: NDArray
    base_place: NDArray
    out_share: NDArray
    out_place: NDArray
    out_start: NDArray
    out_run: NDArray
    hidden_share: NDArray
    hidden_start: NDArray
    hidden_run: NDArray


@jit
def ring_radius(rim, rings, i):
    """Radius of ring i: closest to one another at the rim, where a drop's light falls off at once."""
    share = i / (rings - 1.0)
    return rim * (REACH.outer / rim) ** (share * share)


@jit
def turn_of(x, y):
    """Angle of x, y in turns, 0 to 1."""
    turn = angle_of(y, x) / (2.0 * pi)
    return turn if turn >= 0.0 else turn + 1.0


@jit
def about(drops, k, x):
    """Where x lies about drop k's axis: distance from it, in radii, and angle in turns."""
    m = scale(sub(x, row(drops.foot, k)), 1.0 / drops.radius[k])
    s, t = basis(row(drops.normal, k))
    a, b = dot(m, s), dot(m, t)
    return sqrt(a * a + b * b), turn_of(a, b)


@jit
def ring_of(rim, rings, r):
    """Ring number, with its fraction, at r radii from a drop's axis; beyond the last ring where it ends."""
    return sqrt(max(log(max(r, 1e-9) / rim) / log(REACH.outer / rim), 0.0)) * (rings - 1.0)


@jit
def colour_at(values, k, ring, turn):
    """Colour of a quantity (nd, rings, spokes, 3) round drop k, at a ring and an angle in turns; 0 beyond
    the rings."""
    rings, spokes = values.shape[1], values.shape[2]
    if ring >= rings - 1.0:
        return 0.0, 0.0, 0.0
    b = turn * spokes
    i, j = int(ring), int(b)
    u, v = ring - i, b - j
    j0, j1 = j % spokes, (j + 1) % spokes
    ka, kb, kc, kd = (1.0 - u) * (1.0 - v), (1.0 - u) * v, u * (1.0 - v), u * v
    w = values
    return (
        ka * w[k, i, j0, 0] + kb * w[k, i, j1, 0] + kc * w[k, i + 1, j0, 0] + kd * w[k, i + 1, j1, 0],
        ka * w[k, i, j0, 1] + kb * w[k, i, j1, 1] + kc * w[k, i + 1, j0, 1] + kd * w[k, i + 1, j1, 1],
        ka * w[k, i, j0, 2] + kb * w[k, i, j1, 2] + kc * w[k, i + 1, j0, 2] + kd * w[k, i + 1, j1, 2],
    )


@jit
def _find_ring_paths_one(height, paths, i):
    rings, many = paths.base_share.shape
    x0 = ring_radius(paths.rim, rings, i) * 1.0001
    away = sqrt(x0 * x0 + height * height)
    axis = (-x0 / away, 0.0, height / away)
    s, t = basis(axis)
    least = sqrt(max(0.0, 1.0 - 1.0 / (away * away)))
    for q in range(many):
        u, v = pair_of(np.uint64(5000 + i), q)
        z = 1.0 - u * (1.0 - least)
        across = sqrt(max(0.0, 1.0 - z * z))
        d = in_frame(s, t, axis, (across * cos(2.0 * pi * v), across * sin(2.0 * pi * v), z))
        paths.base_share[i, q] = paths.hidden_share[i, q] = 0.0
        for slot in range(q, 3 * many, many):
            paths.out_share[i, slot] = 0.0
        if d[2] > 1e-6:
            _into_drop((x0, 0.0, 0.0), d, height, d[2] * 2.0 * (1.0 - least) / many, paths, i, q)


@threaded
def find_ring_paths(begin, end, height, paths):
    """Fill `paths`; height: of the sphere's centre above the petal, in radii."""
    for i in range(begin, end):
        _find_ring_paths_one(height, paths, i)


@jit
def _into_drop(o, d, height, w, paths, i, q):
    """Share out the weight of direction q of ring i: a ray from the petal that meets the unit sphere leaves
    it as far as it is mirrored or gets through, and ends on the base with the rest."""
    many = paths.base_share.shape[1]
    m = o[0], o[1], o[2] - height
    b = dot(m, d)
    root = b * b - dot(m, m) + 1.0
    if root <= 0.0:
        return
    paths.hidden_share[i, q] = w
    _note(paths.hidden_start, paths.hidden_run, i, q, along(o, d, -b + sqrt(root)), d)
    p = along(o, d, -b - sqrt(root))
    n = p[0], p[1], p[2] - height
    cos_i = min(1.0, max(0.0, -dot(d, n)))
    f = fresnel(cos_i, N)
    _leave(p, mirror(d, n), w * f, paths, i, q)
    d = bend(d, n, cos_i, N)
    w *= 1.0 - f
    slot = many + q
    for _ in range(40):
        m = p[0], p[1], p[2] - height
        t_sphere = -2.0 * dot(m, d)
        t_base = -p[2] / d[2] if d[2] < -1e-12 else inf
        if t_base <= t_sphere:
            p = along(p, d, t_base)
            paths.base_share[i, q] = w / (N * N)
            paths.base_place[i, q, 0] = sqrt(p[0] * p[0] + p[1] * p[1]) / paths.rim
            paths.base_place[i, q, 1] = turn_of(p[0], p[1])
            return
        p = along(p, d, t_sphere)
        n = -p[0], -p[1], height - p[2]
        cos_i = min(1.0, max(0.0, -dot(d, n)))
        f = fresnel(cos_i, 1.0 / N)
        if f < 1.0:
            _leave(p, bend(d, n, cos_i, 1.0 / N), w * (1.0 - f), paths, i, slot)
            slot = 2 * many + q
        w *= f
        d = mirror(d, n)


@jit
def _leave(p, d, w, paths, i, slot):
    """Put down a ray that leaves the drop: what a slot holds stays with the first of it."""
    if paths.out_share[i, slot] == 0.0:
        paths.out_place[i, slot, 0] = REACH.beyond_rings
        if d[2] < 0.0:
            x, y = p[0] - p[2] / d[2] * d[0], p[1] - p[2] / d[2] * d[1]
            paths.out_place[i, slot, 0] = ring_of(paths.rim, paths.base_share.shape[0], sqrt(x * x + y * y))
            paths.out_place[i, slot, 1] = turn_of(x, y)
        _note(paths.out_start, paths.out_run, i, slot, p, d)
    paths.out_share[i, slot] += w


@jit
def _note(start, run, i, slot, p, d):
    for a in range(3):
        start[i, slot, a], run[i, slot, a] = p[a], d[a]


@jit
def _shaded(light, k, x, d, reach):
    """Whether a drop stands in the light of drop k's surroundings at x; one that stands on x does not: it is
    taken to send as much as the petal under it."""
    drops = light.drops
    for c in range(light.shade_count[k]):
        other = light.shades[k, c]
        m = sub(x, row(drops.centre, other))
        if (
            other != k
            and dot(m, m) > drops.radius[other] * drops.radius[other]
            and drop_spheres.in_the_way(drops, other, x, d, reach)
        ):
            return True
    return False


@jit
def _on_petal(petal, x, n, r, stack):
    """A place just above the petal where that runs over or under x, in a drop's plane with the normal n, by
    no more than its radius r; else above x."""
    over = along(x, n, r)
    down, _, _, _ = petal_mesh.nearest(petal, over, scale(n, -1.0), petal_mesh.START, 2.0 * r, stack)
    return along(over, n, 0.02 - down) if down < inf else along(x, n, 0.02)


@jit_allocating
def _ring_light_one(light, rims, flux, out, beside, k):
    petal, drops, mixed = light.petal, light.drops, light.state[k, 0] == STATE.mixed
    if light.state[k, 0] == STATE.hidden:
        return
    face = held(face_of(light.lamp))
    stack = np.empty(STACK, dtype=np.int32)
    n = row(drops.normal, k)
    s, t = basis(n)
    r, rings, spokes = drops.radius[k], out.shape[2], out.shape[3]
    for node in range(rings * spokes):
        ring, spoke = node // spokes, node % spokes
        far = ring_radius(rims[k], rings, ring) * 1.002
        angle = 2.0 * pi * spoke / spokes
        x = along(row(drops.foot, k), in_frame(s, t, n, (far * cos(angle), far * sin(angle), 1e-3)), r)
        start = x
        if mixed:
            start = _on_petal(petal, x, n, r, stack)
        for m in range(flux.shape[1]):
            y = row(face.node, m)
            to = sub(y, x)
            reach = length(to)
            d = scale(to, 1.0 / reach)
            cos_n, cos_y = dot(d, n), -dot(d, face.out)
            if cos_y <= 0.0 or cos_n <= 0.0 or _shaded(light, k, x, d, reach):
                continue
            if hidden_by(light.boards, x, d, reach):
                continue
            if mixed and petal_mesh.blocked(petal, start, d, petal_mesh.START, reach, stack):
                continue
            per_flux = cos_n * cos_y / (reach * reach)
            past = not drop_spheres.in_the_way(drops, k, x, d, reach)
            for i in range(flux.shape[0]):
                beside[i, k, ring, spoke] += flux[i, m] * per_flux
                if past:
                    out[i, k, ring, spoke] += flux[i, m] * per_flux


@threaded
def ring_light(begin, end, light, rims, flux, out, beside):
    """Irradiance that a face sends straight to the petal round every drop, with the drops' shadows, added to
    out (radiances, nd, rings, spokes), and without each drop's own shadow, added to beside.

    light : a `face_light.FaceLight`. rims (nd,) : radii of the bases. flux (radiances, m) : of the face's
    quadrature points, by each of the radiances that it is asked for.
    """
    for k in range(begin, end):
        _ring_light_one(light, rims, flux, out, beside, k)


@jit
def _beyond_rings_one(place, drops, outermost, out, j):
    x = row(place, j)
    total = (0.0, 0.0, 0.0)
    for k in range(drops.radius.shape[0]):
        m = sub(x, row(drops.foot, k))
        far, r = dot(m, m), REACH.outer * drops.radius[k]
        if r * r < far < REACH.farthest * REACH.farthest * r * r:
            total = along(total, row(outermost, k), r * r * r / (far * sqrt(far)))
    out[j, 0], out[j, 1], out[j, 2] = total


@threaded
def beyond_rings(begin, end, place, drops, outermost, out):
    """What the drops send to petal beyond their rings, out (n, 3) at n places: falling off like the third
    power of the distance from what they send to the last ring, outermost (nd, 3)."""
    for j in range(begin, end):
        _beyond_rings_one(place, drops, outermost, out, j)
