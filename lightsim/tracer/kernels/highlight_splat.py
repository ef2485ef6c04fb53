"""Highlights that are small or out of focus, splatted into the picture from the light's side.

Camera rays find such a highlight by chance only. Here each pair of a point of the lens opening and a
point of the emitter has its one mirroring point on the drop, and the pixel that sees it there is known:
discs of light without speckle. The share of a pixel follows from the flux density (see `connection`) that
a point of the lens would send to the light's point, as light goes the same way back."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import connection, drop_spheres, petal_mesh
from lightsim.tracer.kernels.box_tree import STACK
from lightsim.tracer.kernels.camera_paths import Lens, point_of_lens
from lightsim.tracer.kernels.drop_visibility import STATE, DropVisibility, OccluderList, shaded
from lightsim.tracer.kernels.emitters import face_of, hidden_by, point_on
from lightsim.tracer.kernels.jit import entry_point, jit, jit_allocating, single_threaded, threaded
from lightsim.tracer.kernels.light_pass import LightSample, SceneGeometry
from lightsim.tracer.kernels.sampling import PAIR, key, pair_of, to_disc
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, dot, length, row, scale, sub


class SplatLimits(NamedTuple):
    """How highlights are drawn from the light's side."""

    found_well_px: float = 60.0  # pixels of a sharp highlight from which camera rays draw it well
    lens_points: int = 16  # of the opening, from which rays to a drop find whether the petal is in the way


LIMITS = SplatLimits()


class Splats(NamedTuple):
    """Points of light: start (nd + 1,) int64, where each drop's begin; pixel (n,) int64, -1 for none; light
    (n,) float32, what it adds to the pixel."""

    start: NDArray
    pixel: NDArray
    light: NDArray


class HighlightScene(NamedTuple):
    """What highlights are made of: what may hide them, how drops see the emitter, the camera, the seed."""

    scene: SceneGeometry
    visibility: DropVisibility
    lens: Lens
    seed: int


@jit
def _drawn_at(lens, e, c, at):
    """Where e is drawn in the plane of sharp focus by a pupil beyond the subject, whose point lies on the
    line from `at` through c; and how much larger than things in focus."""
    far = lens.pupil_distance
    to = sub(c, at)
    eye = along(c, to, (far - c[2]) / to[2])
    grows = far / (far - e[2])
    return along(eye, sub(e, eye), grows), grows


@jit
def _highlight_through(given, scene, emitter, at, sample, k, petal_hides):
    """Pixel and light, per pair, of the mirroring on drop k between the lens point `at` and a point of the
    emitter."""
    drops, lens, visibility = scene.drops, given.lens, given.visibility
    c, r = row(drops.centre, k), drops.radius[k]
    axis, side, rho, z, s = drop_spheres.plane_of(drops, k, sample.y, at)
    i, path = connection.mirrored_root(rho, z, s)
    if not i >= 0.0:
        return -1, 0.0
    _, _, t = connection.miss(rho, z, path, connection.PATH.mirrored)
    e = along(c, along(scale(side, path.x), axis, path.z), r)
    out = along(scale(side, path.dx), axis, path.dz)
    cos_y = -dot(out, emitter.out)
    if t <= 0.0 or cos_y <= 0.0 or drop_spheres.height(drops, k, e) <= -drop_spheres.SKIRT:
        return -1, 0.0
    reach = t * r
    blockers = held(OccluderList(drops, visibility.shades[k], visibility.shade_count[k]))
    if shaded(blockers, k, e, out, reach) or hidden_by(scene.boards, e, out, reach):
        return -1, 0.0
    if visibility.state[k, 0] == STATE.mixed and petal_mesh.blocked(
        scene.petal, e, out, petal_mesh.START, reach, scene.stack
    ):
        return -1, 0.0
    if not _seen_from_lens(scene, at, e, k, petal_hides):
        return -1, 0.0
    run = sub(e, at)
    run = scale(run, 1.0 / length(run))
    plane = at[2] / -run[2]
    p, grows = along(at, run, plane), 1.0
    if lens.pupil_distance < 0.0:
        p, grows = _drawn_at(lens, e, c, at)
    x = int(np.floor(p[0] / lens.pitch + 0.5 * lens.width))
    row_at = int(np.floor(0.5 * lens.height - p[1] / lens.pitch))
    if not (0 <= x < lens.width and 0 <= row_at < lens.height):
        return -1, 0.0
    flux = connection.flux_density(path, s, connection.PATH.mirrored, t, 1e-12)
    light = sample.power * flux / (r * r) * cos_y * plane * plane / (-run[2] * lens.pitch * lens.pitch)
    light *= grows * grows
    return row_at * lens.width + x, light


@jit
def _seen_from_lens(scene, at, e, k, petal_hides):
    """Whether nothing stands between the lens point `at` and e on drop k."""
    run = sub(e, at)
    far = length(run)
    run = scale(run, 1.0 / far)
    t_other, _ = drop_spheres.enter(scene.drops, at, run, 1e-7, far, k, scene.stack)
    if t_other < far:
        return False
    return not petal_hides or not petal_mesh.blocked(
        scene.petal, at, run, petal_mesh.START, far * (1.0 - 1e-6), scene.stack
    )


@jit
def _petal_hides(scene, lens, k):
    """From how many of some points of the lens opening the petal hides drop k."""
    hidden, c = 0, row(scene.drops.centre, k)
    for m in range(LIMITS.lens_points):
        a, b = pair_of(key(0, 0, PAIR.lens), m)
        a, b = to_disc(a, b)
        at = point_of_lens(lens, c, a, b)
        to = sub(c, at)
        far = length(to)
        to, reach = scale(to, 1.0 / far), far - scene.drops.radius[k]
        if petal_mesh.blocked(scene.petal, at, to, petal_mesh.START, reach, scene.stack):
            hidden += 1
    return hidden


@jit
def _splat_drop(given, emitter, splats, k, stack):
    scene = held(SceneGeometry(given.scene.petal, given.scene.drops, given.scene.boards, stack))
    first, many = splats.start[k], splats.start[k + 1] - splats.start[k]
    hides = _petal_hides(scene, given.lens, k) > 0
    for m in range(many):
        splats.pixel[first + m] = -1
        if given.visibility.state[k, 0] == STATE.hidden:
            continue
        a, b = pair_of(key(given.seed, k, PAIR.lens), m)
        a, b = to_disc(a, b)
        at = point_of_lens(given.lens, row(scene.drops.centre, k), a, b)
        u, v = pair_of(key(given.seed, k, PAIR.light), m)
        y, power = point_on(emitter, u, v)
        pixel, light = _highlight_through(given, scene, emitter, at, LightSample(y, power), k, hides)
        splats.pixel[first + m] = pixel
        splats.light[first + m] = light / many


@jit_allocating
def _splat_one(given, lamp, splats, k):
    if splats.start[k + 1] > splats.start[k]:
        _splat_drop(given, held(face_of(lamp)), splats, k, np.empty(STACK, dtype=np.int32))


@threaded
def splat_highlights(begin, end, given, lamp, splats):
    """Fill pixel and light of `splats` for every drop of a `HighlightScene`."""
    for k in range(begin, end):
        _splat_one(given, lamp, splats, k)


@entry_point
def add_splats(splats, glint):
    """Add splats to the pixels (n,), in an order that does not depend on threads."""
    for m in range(splats.pixel.shape[0]):
        if splats.pixel[m] >= 0:
            glint[splats.pixel[m]] += splats.light[m]


@jit
def _blur_area(lens, z):
    """Area in pixels over which the lens opening spreads a point at depth z."""
    radius = lens.pupil_radius * abs(z) / max(abs(lens.pupil_distance - z), 1e-6) / lens.pitch
    return np.pi * radius * radius


@jit
def _highlight_pixels(drops, emitter, k, pitch):
    """Area in pixels of drop k's highlight in focus: R^2 / 4 times the solid angle of the emitter."""
    to = sub(emitter.centre, row(drops.centre, k))
    far = length(to)
    solid = emitter.area * max(dot(scale(to, -1.0 / far), emitter.out), 0.0) / (far * far)
    side = drops.radius[k] / pitch
    return 0.25 * side * side * solid


@jit
def _borders(area):
    """Pixels that a highlight of so many may touch beside: a tiny one seldom lies across a border."""
    return min(1.0 + 10.0 * area, 4.0)


@single_threaded(lambda *_: None)
def count_splats(drops, lamp, lens, samples, most, start):
    """How many splats to make for each drop, start (nd + 1,): none where camera rays find the highlight
    well; else four times `samples` for each pixel it may cover, at most `most`."""
    emitter = held(face_of(lamp))
    start[0] = 0
    for k in range(drops.radius.shape[0]):
        z = drops.centre[k, 2]
        blur, area = _blur_area(lens, z), _highlight_pixels(drops, emitter, k, lens.pitch)
        many = 0
        room = drops.radius[k] + sqrt(blur / np.pi) * lens.pitch
        inside = abs(drops.centre[k, 0]) < 0.5 * lens.width * lens.pitch + room + 0.2 * abs(z) and abs(
            drops.centre[k, 1]
        ) < 0.5 * lens.height * lens.pitch + room + 0.2 * abs(z)
        if inside and area > 0.0 and area < max(0.5 * blur, LIMITS.found_well_px):
            many = int(min(4.0 * samples * (blur + area + _borders(blur + area)), most))
        start[k + 1] = start[k] + many
