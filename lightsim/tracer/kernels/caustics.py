"""Caustic irradiance: light that a drop sends to a point, on its own wet base and past or off it on dry
petal."""

from __future__ import annotations

from math import cos, inf, pi, sin, sqrt
from typing import NamedTuple

from lightsim.tracer.kernels import connection, drop_spheres, petal_mesh
from lightsim.tracer.kernels.drop_visibility import (
    STATE,
    OccluderList,
    petal_visibility,
    shaded,
    visibility_from,
)
from lightsim.tracer.kernels.emitters import face_met, hidden_by
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.refraction import bend, fresnel, mirror
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, basis, dot, in_frame, length, row, scale, sub


class CausticBounds(NamedTuple):
    """Where light may enter a drop and how sharp a caustic can be."""

    rim: float = (
        0.1  # radii up, below which light from under the petal's plane may not enter: relief is there
    )
    fold_px: float = 0.05  # pixels: no caustic is taken to be sharper, where nothing else keeps it finite


BOUNDS = CausticBounds()


@jit
def base_light(light, k, path_type, point, sample, both, direction):
    """Irradiance at a point of drop k's wet base from a point of the emitter by one type of path.

    both : whether light is also looked for along a direction up from the point, numbered by two numbers in
    0..1; see `base_caustic`. Each path then counts by how likely the two techniques find it (balance
    heuristic; Veach and Guibas, SIGGRAPH 1995), which keeps focus and folds of the caustic finite.
    """
    drops, emitter, near = light.scene.drops, light.emitter, light.drop_light
    if near.visibility.state[k, 0] == STATE.hidden:
        return 0.0
    r = drops.radius[k]
    c = row(drops.centre, k)
    axis, side, rho, z, s = drop_spheres.plane_of(drops, k, point.x, sample.y)
    total = 0.0
    seen = visibility_from(near.visibility, k)
    entry = connection.stretches_at(rho, z, s)
    progress = -1 if seen == STATE.hidden or sample.power == 0.0 else 0
    while progress >= 0:
        _, progress, path = connection.next_root(rho, z, s, path_type, entry, progress)
        if progress < 0:
            break
        _, _, t = connection.miss(rho, z, path, path_type)
        if t <= 0.0:
            continue
        d = along(scale(side, path.dx), axis, path.dz)
        cos_p = -dot(d, point.n)
        if cos_p <= 0.0:
            continue
        e = _entry(path, c, r, side, axis)
        if drop_spheres.height(drops, k, e) <= 0.0:
            continue
        if path_type == connection.PATH.inside_again:
            turn = along(c, along(scale(side, path.x), axis, path.z), r)
            if drop_spheres.height(drops, k, turn) <= 0.0:
                continue
        out = sub(sample.y, e)
        reach = length(out)
        out = scale(out, 1.0 / reach)
        cos_y = -dot(out, emitter.out)
        if cos_y <= 0.0 or not _enters(light, k, e, out, reach, seen):
            continue
        least = (
            1e-6
            if both or path_type == connection.PATH.inside
            else BOUNDS.fold_px * light.settings.pixel_mm / r
        )
        flux = connection.flux_density(path, s, path_type, t, least)
        if both:
            flux /= 1.0 + _image_in_water(flux, path_type, path.ci, emitter, cos_y, r) / (2.0 * pi)
        total += cos_p * cos_y * flux
    total *= sample.power / (r * r)
    if both:
        total += _up_from_base(light, k, path_type, point, direction)
    return total


@jit
def _enters(light, k, e, out, reach, seen):
    """Whether the emitter's light comes to e on drop k, `reach` away along `out`; seen: see `unblocked`."""
    if from_below(light.scene.drops, k, e, out) or hidden_by(light.scene.boards, e, out, reach):
        return False
    return unblocked(light, k, e, out, reach, seen)


@jit
def unblocked(light, k, e, out, reach, seen):
    """Whether neither drops nor petal hide the emitter from e on drop k; seen: of `visibility_from`."""
    if seen != STATE.mixed:
        return seen == STATE.clear
    scene, visibility = light.scene, light.drop_light.visibility
    blockers = held(OccluderList(scene.drops, visibility.shades[k], visibility.shade_count[k]))
    if shaded(blockers, k, e, out, reach):
        return False
    return visibility.state[k, 0] != STATE.mixed or not petal_mesh.blocked(
        scene.petal, e, out, petal_mesh.START, reach, scene.stack
    )


@jit
def _image_in_water(share, path_type, ci, emitter, cos_y, r):
    """Solid angle in the water in which the emitter would be seen if all of it were like this point of it."""
    f = fresnel(ci, connection.N)
    through = (1.0 - f) * (f if path_type == connection.PATH.inside_again else 1.0)
    return share / through * emitter.area * cos_y / (r * r * connection.N * connection.N)


@jit
def _up_from_base(light, k, path_type, point, direction):
    """The share of `base_light` along one direction up from the base, even over the half-sphere."""
    drops, emitter, (a, b) = light.scene.drops, light.emitter, direction
    r = drops.radius[k]
    c = row(drops.centre, k)
    s, t = basis(point.n)
    across = sqrt(max(0.0, 1.0 - a * a))
    d = in_frame(s, t, point.n, (across * cos(2.0 * pi * b), across * sin(2.0 * pi * b), a))
    e, last, left = point.x, 0.0, 1.0
    for turn in range(connection.PATH.inside, path_type + 1):
        _, far = drop_spheres.sphere(drops, k, e, d)
        if far == inf or far <= 0.0:
            return 0.0
        e = along(e, d, far)
        inward = scale(sub(c, e), 1.0 / r)
        cos_in = min(1.0, max(0.0, -dot(d, inward)))
        f = fresnel(cos_in, 1.0 / connection.N)
        if f >= 1.0 or drop_spheres.height(drops, k, e) <= 0.0:
            return 0.0
        if turn == connection.PATH.inside:
            last = far
        if turn < path_type:
            left = f
            d = mirror(d, inward)
    out = bend(d, inward, cos_in, 1.0 / connection.N)
    reach, cos_y = face_met(emitter, e, out)
    if reach == inf:
        return 0.0
    y = along(e, out, reach)
    if not _enters(light, k, e, out, reach, visibility_from(light.drop_light.visibility, k)):
        return 0.0
    away = length(sub(y, c)) / r
    ci = min(1.0, max(1e-6, -dot(out, inward)))
    path = connection.path_at(sqrt(1.0 - ci * ci), ci, away, path_type)
    share = connection.flux_density(path, away, path_type, last / r, 1e-6)
    image, radiance = (
        max(_image_in_water(share, path_type, ci, emitter, cos_y, r), 1e-12),
        emitter.radiance[0, 0],
    )
    return connection.N * connection.N * radiance * left * (1.0 - f) * a / (1.0 / (2.0 * pi) + 1.0 / image)


@jit
def back_irradiance(scene, emitter, point, sample, state):
    """Irradiance on the back of the petal at a point from a point of an emitter. state: clear, hidden or
    mixed, whether the petal hides it."""
    if state == STATE.hidden:
        return 0.0
    to = sub(sample.y, point.x)
    far = length(to)
    d = scale(to, 1.0 / far)
    cos_n, cos_y = dot(point.n, d), -dot(d, emitter.out)
    if cos_n >= 0.0 or cos_y <= 0.0 or dot(petal_mesh.flat_normal(scene.petal, point.face), d) >= 0.0:
        return 0.0
    if (
        state == STATE.mixed
        and petal_visibility(scene.petal, point.face, point.x, sample.y, scene.stack) == 0
    ):
        return 0.0
    if hidden_by(scene.boards, point.x, d, far):
        return 0.0
    return -sample.power * cos_y * cos_n / (far * far)


@jit
def _entry(path, c, r, side, axis):
    """Where a path meets the sphere first."""
    x, z = connection.entry_of(path)
    return along(c, along(scale(side, x), axis, z), r)


@jit
def caustic_irradiance(light, k, path_type, point, sample, softest):
    """Irradiance at a point of the dry petal that a point of the emitter sends over drop k by one type of
    path; softest (mm) as in connection.flux_density. Near a fold of light through it see `light_image`."""
    drops, emitter, near = light.scene.drops, light.emitter, light.drop_light
    if near.visibility.state[k, 0] == STATE.hidden:
        return 0.0
    r = drops.radius[k]
    c = row(drops.centre, k)
    axis, side, rho, z, s = drop_spheres.plane_of(drops, k, point.x, sample.y)
    total = 0.0
    seen = visibility_from(near.visibility, k)
    progress = -1 if seen == STATE.hidden else 0
    entry = connection.stretches_at(rho, z, s)
    while progress >= 0:
        _, progress, path = connection.next_root(rho, z, s, path_type, entry, progress)
        if progress < 0:
            break
        _, _, t = connection.miss(rho, z, path, path_type)
        if t <= 0.0:
            continue
        came = along(scale(side, -path.dx), axis, -path.dz)
        cos_p = dot(came, point.n)
        if cos_p <= 0.0:
            continue
        e = _entry(path, c, r, side, axis)
        leave = along(c, along(scale(side, path.x), axis, path.z), r)
        if drop_spheres.height(drops, k, e) <= 0.0 or drop_spheres.height(drops, k, leave) <= 0.0:
            continue
        if path_type == connection.PATH.once_inside and _inner_turn_below(drops, k, path, side, axis):
            continue
        out = sub(sample.y, e)
        reach = length(out)
        out = scale(out, 1.0 / reach)
        cos_y = -dot(out, emitter.out)
        if cos_y <= 0.0 or from_below(drops, k, e, out):
            continue
        if drop_spheres.drop_before(drops, k, point.x, came, t * r, light.scene.stack):
            continue
        if not unblocked(light, k, e, out, reach, seen):
            continue
        total += cos_p * cos_y * connection.flux_density(path, s, path_type, t, BOUNDS.fold_px * softest / r)
    return total * sample.power / (r * r)


@jit
def from_below(drops, k, e, to_light):
    """Whether light comes to e, low on drop k, from under the petal's plane."""
    return dot(to_light, row(drops.normal, k)) < 0.0 and drop_spheres.height(drops, k, e) < BOUNDS.rim


@jit
def _inner_turn_below(drops, k, path, side, axis):
    """Whether a path mirrored once inside is mirrored below the petal: half way round from where the light
    comes in to where it leaves."""
    x, z = connection.entry_of(path)
    sr = path.si / connection.N
    cx, sx = 2.0 * sr * sr - 1.0, 2.0 * sr * path.cr
    x, z = x * cx + z * sx, z * cx - x * sx
    turn = along(row(drops.centre, k), along(scale(side, x), axis, z), drops.radius[k])
    return drop_spheres.height(drops, k, turn) <= 0.0
