"""Highlights that are small or out of focus, thrown into the picture from the light.

Camera rays find such a highlight by chance only. Here each pair of a point of the lens opening and a point of
the light's face has its one mirroring point on the drop, and the pixel that sees it there is known: discs of
light without speckle. The share of a pixel follows from the flux density (see `connection`) that a point of
the lens would send to the light's point, as light goes the same way back."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import connection, drop_spheres, petal_mesh
from lightsim.tracer.kernels.camera_paths import point_of_lens
from lightsim.tracer.kernels.drop_visibility import HIDDEN, MIXED, shaded
from lightsim.tracer.kernels.emitters import face_of, hidden_by, point_on
from lightsim.tracer.kernels.jit import alone, jit, making, threaded, whole
from lightsim.tracer.kernels.sampling import LENS, LIGHT, key, pair_of, to_disc
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, dot, length, row, scale, sub

FOUND_WELL = 60.0  # pixels of a sharp highlight from which camera rays draw it well
LOOKS = 16  # points of the lens opening from which a drop's highlight is looked for behind the petal


class Thrown(NamedTuple):
    """Points of light: start (nd + 1,) int64, where each drop's begin; pixel (n,) int64, -1 for none; light
    (n,) float32, what it adds to the pixel."""

    start: NDArray
    pixel: NDArray
    light: NDArray


@jit
def drawn_at(lens, e, c, at):
    """Where e is drawn in the plane of sharp focus by a pupil beyond the subject, whose point lies on the
    line from `at` through c; and how much larger than things in focus."""
    far = lens.pupil_distance
    to = sub(c, at)
    eye = along(c, to, (far - c[2]) / to[2])
    grows = far / (far - e[2])
    return along(eye, sub(e, eye), grows), grows


@jit
def _pair(petal, drops, cards, face, state, shades, count, lens, at, y, power, k, petal_hides, stack):
    """Pixel and light, per pair, of the mirroring on drop k between the lens point `at` and the face's y."""
    c, r = row(drops.centre, k), drops.radius[k]
    axis, side, rho, z, s = drop_spheres.plane_of(drops, k, y, at)
    i, way = connection.mirrored_root(rho, z, s)
    if not i >= 0.0:
        return -1, 0.0
    _, _, t = connection.miss(rho, z, way, connection.MIRRORED)
    e = along(c, along(scale(side, way.x), axis, way.z), r)
    out = along(scale(side, way.dx), axis, way.dz)
    cos_y = -dot(out, face.out)
    if t <= 0.0 or cos_y <= 0.0 or drop_spheres.height(drops, k, e) <= -drop_spheres.SKIRT:
        return -1, 0.0
    reach = t * r
    if shaded(drops, shades[k], count[k], k, e, out, reach) or hidden_by(cards, e, out, reach):
        return -1, 0.0
    if state[k, 0] == MIXED and petal_mesh.blocked(petal, e, out, petal_mesh.START, reach, stack):
        return -1, 0.0
    run = sub(e, at)
    seen_at = length(run)
    run = scale(run, 1.0 / seen_at)
    t_other, _ = drop_spheres.enter(drops, at, run, 1e-7, seen_at, k, stack)
    if t_other < seen_at:
        return -1, 0.0
    if petal_hides and petal_mesh.blocked(petal, at, run, petal_mesh.START, seen_at * (1.0 - 1e-6), stack):
        return -1, 0.0
    plane = at[2] / -run[2]
    p, grows = along(at, run, plane), 1.0
    if lens.pupil_distance < 0.0:
        p, grows = drawn_at(lens, e, c, at)
    x = int(np.floor(p[0] / lens.pitch + 0.5 * lens.width))
    row_at = int(np.floor(0.5 * lens.height - p[1] / lens.pitch))
    if not (0 <= x < lens.width and 0 <= row_at < lens.height):
        return -1, 0.0
    flux = connection.density(way, s, connection.MIRRORED, t, 1e-12)
    light = power * flux / (r * r) * cos_y * plane * plane / (-run[2] * lens.pitch * lens.pitch)
    light *= grows * grows
    return row_at * lens.width + x, light


@jit
def _petal_hides(petal, drops, lens, k, stack):
    """0 when the petal stands before no part of drop k, seen from the lens opening, 1 when it may."""
    hidden = 0
    for m in range(LOOKS):
        a, b = pair_of(key(0, 0, LENS), m)
        a, b = to_disc(a, b)
        at = point_of_lens(lens, row(drops.centre, k), a, b)
        to = sub(row(drops.centre, k), at)
        far = length(to)
        if petal_mesh.blocked(
            petal, at, scale(to, 1.0 / far), petal_mesh.START, far - drops.radius[k], stack
        ):
            hidden += 1
    return hidden


@making
def _throw_one(petal, drops, cards, lamp, state, shades, count, lens, seed, thrown, k):
    first, many = thrown.start[k], thrown.start[k + 1] - thrown.start[k]
    if many == 0:
        return
    face = held(face_of(lamp))
    stack = np.empty(192, dtype=np.int32)
    hides = _petal_hides(petal, drops, lens, k, stack) > 0
    for m in range(many):
        thrown.pixel[first + m] = -1
        if state[k, 0] == HIDDEN:
            continue
        a, b = pair_of(key(seed, k, LENS), m)
        a, b = to_disc(a, b)
        at = point_of_lens(lens, row(drops.centre, k), a, b)
        u, v = pair_of(key(seed, k, LIGHT), m)
        y, power = point_on(face, u, v)
        pixel, light = _pair(
            petal, drops, cards, face, state, shades, count, lens, at, y, power, k, hides, stack
        )
        thrown.pixel[first + m] = pixel
        thrown.light[first + m] = light / many


@threaded
def throw(begin, end, petal, drops, cards, lamp, state, shades, count, lens, seed, thrown):
    """Fill pixel and light of `thrown` for every drop; state, shades, count: see
    drop_visibility.look_at_drops."""
    for k in range(begin, end):
        _throw_one(petal, drops, cards, lamp, state, shades, count, lens, seed, thrown, k)


@whole
def collect(thrown, glint):
    """Add what was thrown to the pixels (n,), in an order that does not depend on threads."""
    for m in range(thrown.pixel.shape[0]):
        if thrown.pixel[m] >= 0:
            glint[thrown.pixel[m]] += thrown.light[m]


@jit
def blur_area(lens, z):
    """Area in pixels over which the lens opening spreads a point at depth z."""
    radius = lens.pupil_radius * abs(z) / max(abs(lens.pupil_distance - z), 1e-6) / lens.pitch
    return np.pi * radius * radius


@jit
def highlight_area(drops, face, k, pitch):
    """Area in pixels of drop k's highlight in focus: R^2 / 4 times the solid angle of the face."""
    to = sub(face.centre, row(drops.centre, k))
    far = length(to)
    solid = face.area * max(dot(scale(to, -1.0 / far), face.out), 0.0) / (far * far)
    side = drops.radius[k] / pitch
    return 0.25 * side * side * solid


@jit
def _borders(area):
    """Pixels that a highlight of so many may touch beside: a tiny one seldom lies across a border."""
    return min(1.0 + 10.0 * area, 4.0)


@alone(lambda *_: None)
def share_out(drops, lamp, lens, samples, most, start):
    """How many points to throw for each drop, start (nd + 1,): none where camera rays find the highlight
    well; else four times `samples` for each pixel it may cover, at most `most`."""
    face = held(face_of(lamp))
    start[0] = 0
    for k in range(drops.radius.shape[0]):
        z = drops.centre[k, 2]
        blur, area = blur_area(lens, z), highlight_area(drops, face, k, lens.pitch)
        many = 0
        room = drops.radius[k] + sqrt(blur / np.pi) * lens.pitch
        inside = abs(drops.centre[k, 0]) < 0.5 * lens.width * lens.pitch + room + 0.2 * abs(z) and abs(
            drops.centre[k, 1]
        ) < 0.5 * lens.height * lens.pitch + room + 0.2 * abs(z)
        if inside and area > 0.0 and area < max(0.5 * blur, FOUND_WELL):
            many = int(min(4.0 * samples * (blur + area + _borders(blur + area)), most))
        start[k + 1] = start[k] + many
