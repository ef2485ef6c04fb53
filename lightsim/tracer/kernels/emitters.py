"""Flat glowing or lit faces: a light, a card, the backdrop. Points on them, rays that meet them."""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from numpy.typing import NDArray

from lightsim.tracer.kernels.bodies import body_before
from lightsim.tracer.kernels.jit import jit, jit_allocating
from lightsim.tracer.kernels.sampling import to_disc
from lightsim.tracer.kernels.vectors import along, dot, row, sub

Vector = tuple[float, float, float]


class Face(NamedTuple):
    """centre, right, up, out: vectors; half width and height in mm; disc or rectangle; area in mm2.

    radiance : (p, p) float64, cd/m2 per unit, on patches of the face, row 0 at the bottom.
    node : (m, 3) float64 quadrature points of the face, flux : (m,) radiance times area of each, cd/m2 mm2.
    spread : half the diagonal, mm.
    """

    centre: Vector
    right: Vector
    up: Vector
    out: Vector
    half_width: float
    half_height: float
    disc: bool
    area: float
    radiance: NDArray
    node: NDArray
    flux: NDArray
    spread: float


class Lamp(NamedTuple):
    """A face as arrays, to be handed to a kernel.

    frame (12,): centre, right, up, out; size (5,): half width, half height, 1 for a disc, area, spread;
    radiance, node, flux as in Face.
    """

    frame: NDArray
    size: NDArray
    radiance: NDArray
    node: NDArray
    flux: NDArray


@jit_allocating
def face_of(lamp):
    """The lamp's face with its vectors as tuples."""
    f, s = lamp.frame, lamp.size
    return Face(
        (f[0], f[1], f[2]),
        (f[3], f[4], f[5]),
        (f[6], f[7], f[8]),
        (f[9], f[10], f[11]),
        s[0],
        s[1],
        s[2] > 0.5,
        s[3],
        lamp.radiance,
        lamp.node,
        lamp.flux,
        s[4],
    )


@jit
def radiance_at(face, x, y):
    """Radiance at face coordinates x, y in -1..1."""
    p = face.radiance.shape[0]
    i = min(p - 1, max(0, int((y + 1.0) * 0.5 * p)))
    j = min(p - 1, max(0, int((x + 1.0) * 0.5 * p)))
    return face.radiance[i, j]


@jit
def face_point(face, x, y):
    """The face's point at face coordinates x, y in -1..1."""
    return along(along(face.centre, face.right, x * face.half_width), face.up, y * face.half_height)


@jit
def point_on(face, u, v):
    """The face's point for the numbers u, v in [0, 1), and its radiance times the face's area."""
    if face.disc:
        x, y = to_disc(u, v)
    else:
        x, y = 2.0 * u - 1.0, 2.0 * v - 1.0
    return face_point(face, x, y), radiance_at(face, x, y) * face.area


@jit
def face_met(face, o, d):
    """Distance at which a ray meets the face's glowing side (inf for none) and the cosine there."""
    slope = -dot(d, face.out)
    if slope <= 1e-9:
        return inf, 0.0
    t = -dot(sub(face.centre, o), face.out) / slope
    m = sub(along(o, d, t), face.centre)
    x, y = dot(m, face.right) / face.half_width, dot(m, face.up) / face.half_height
    inside = x * x + y * y <= 1.0 if face.disc else (abs(x) <= 1.0 and abs(y) <= 1.0)
    return (t, slope) if inside and t > 0.0 else (inf, 0.0)


class Boards(NamedTuple):
    """Some faces, and solid bodies that send nothing, as arrays.

    frame (n, 12): centre, right, up, out; size (n, 3): half width, half height, 1 for a disc.
    glow : (n, p, p, 3) float64, what each sends from its front, cd/m2 per unit, row 0 at the bottom.
    body (b, 17) : see `bodies`.
    """

    frame: NDArray
    size: NDArray
    glow: NDArray
    body: NDArray


@jit
def board_met(boards, i, o, d):
    """Distance to board i along a ray, board coordinates, and whether its front is met."""
    f = boards.frame
    out = f[i, 9], f[i, 10], f[i, 11]
    slope = dot(d, out)
    if abs(slope) < 1e-12:
        return inf, 0.0, 0.0, False
    t = dot((f[i, 0] - o[0], f[i, 1] - o[1], f[i, 2] - o[2]), out) / slope
    if t <= 1e-6:
        return inf, 0.0, 0.0, False
    m = o[0] + t * d[0] - f[i, 0], o[1] + t * d[1] - f[i, 1], o[2] + t * d[2] - f[i, 2]
    x = dot(m, (f[i, 3], f[i, 4], f[i, 5])) / boards.size[i, 0]
    y = dot(m, (f[i, 6], f[i, 7], f[i, 8])) / boards.size[i, 1]
    inside = x * x + y * y <= 1.0 if boards.size[i, 2] > 0.5 else (abs(x) <= 1.0 and abs(y) <= 1.0)
    if not inside:
        return inf, 0.0, 0.0, False
    return t, x, y, slope < 0.0


@jit
def hidden_by(boards, o, d, t_max):
    """Whether one of the boards or bodies stands between the ray's origin and t_max."""
    for i in range(boards.frame.shape[0]):
        t, _, _, _ = board_met(boards, i, o, d)
        if t < t_max * (1.0 - 1e-6):
            return True
    return body_before(boards.body, o, d, t_max * (1.0 - 1e-6))


@jit
def glow_at(boards, i, x, y):
    """What board i sends at board coordinates in -1..1, blended between patch centres."""
    glow = boards.glow
    last = glow.shape[1] - 1
    a = min(max((y + 1.0) * 0.5 * (last + 1) - 0.5, 0.0), float(last))
    b = min(max((x + 1.0) * 0.5 * (last + 1) - 0.5, 0.0), float(last))
    j, k = min(int(a), max(last - 1, 0)), min(int(b), max(last - 1, 0))
    u, v = a - j, b - k
    j1, k1 = min(j + 1, last), min(k + 1, last)
    wa, wb, wc, wd = (1.0 - u) * (1.0 - v), (1.0 - u) * v, u * (1.0 - v), u * v
    return (
        wa * glow[i, j, k, 0] + wb * glow[i, j, k1, 0] + wc * glow[i, j1, k, 0] + wd * glow[i, j1, k1, 0],
        wa * glow[i, j, k, 1] + wb * glow[i, j, k1, 1] + wc * glow[i, j1, k, 1] + wd * glow[i, j1, k1, 1],
        wa * glow[i, j, k, 2] + wb * glow[i, j, k1, 2] + wc * glow[i, j1, k, 2] + wd * glow[i, j1, k1, 2],
    )


@jit
def vector_irradiance(face, x):
    """Irradiance at x from an unhindered face as a vector: its part along a surface's normal is that of a
    surface that has the whole face before it (Gershun, The Light Field, 1936)."""
    total = 0.0, 0.0, 0.0
    for m in range(face.flux.shape[0]):
        to = sub(row(face.node, m), x)
        r2 = dot(to, to)
        total = along(total, to, face.flux[m] * max(-dot(to, face.out), 0.0) / (r2 * r2))
    return total
