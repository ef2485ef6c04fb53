"""Irradiance that an emitter sends straight to a point of the petal, past all that may be in the way:
from one of its points, by strips, or of all of it above the petal's horizon."""

from __future__ import annotations

from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.drop_shadow import (
    sides_lit,
    unoccluded_irradiance,
    unshaded_by_few_strips,
)
from lightsim.tracer.kernels.drop_visibility import (
    STATE,
    OccluderList,
    emitter_corner,
    petal_visibility,
    shaded,
)
from lightsim.tracer.kernels.emitters import hidden_by
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.petal_penumbra import (
    UNKNOWN,
    horizon_in_the_middle,
    strip_irradiance,
    visible_share_of_pixel,
)
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import dot, length, row, scale, sub


@jit
def boards_may_hide(boards, emitter, x):
    """Whether a card or body stands between x and one of nine points of the emitter."""
    if boards.frame.shape[0] + boards.body.shape[0] == 0:
        return False
    for m in range(9):
        to = sub(emitter_corner(emitter, m), x)
        far = length(to)
        if hidden_by(boards, x, scale(to, 1.0 / far), far):
            return True
    return False


@jit
def sample_irradiance(scene, emitter, point, sample, petal_seen, blockers):
    """Irradiance at a point of the petal from one point of an emitter, negative on the back. petal_seen:
    clear or hidden where it is known whether the petal is in the way, mixed for a shadow ray."""
    if petal_seen == STATE.hidden:
        return 0.0
    ng = petal_mesh.flat_normal(scene.petal, point.face)
    to = sub(sample.y, point.x)
    far = length(to)
    d = scale(to, 1.0 / far)
    cos_n, cos_g, cos_y = dot(point.n, d), dot(ng, d), -dot(d, emitter.out)
    if cos_y <= 0.0 or (cos_n > 0.0) != (cos_g > 0.0):
        return 0.0
    if cos_g > 0.0 and shaded(blockers, -1, point.x, d, far):
        return 0.0
    if (
        petal_seen == STATE.mixed
        and petal_visibility(scene.petal, point.face, point.x, sample.y, scene.stack) == 0
    ):
        return 0.0
    if hidden_by(scene.boards, point.x, d, far):
        return 0.0
    return sample.power * cos_y * cos_n / (far * far)


@jit
def known_share(on_front, seen_front, shares):
    """Share of the light on the front or the back of the petal that gets past what is known already."""
    share = shares.seen if on_front == seen_front else shares.other
    share = share if share >= 0.0 else 1.0
    return share * shares.drops if on_front and shares.drops >= 0.0 else share


@jit
def path_irradiance(light, about, point, seen_front, blockers, shares, at):
    """Irradiance on the side seen and the other at a path's end where the petal's share is known; that of
    drops is found where it is not. at: see `unshaded_by_few_strips`."""
    front, back = unoccluded_irradiance(about, light.emitter, point.x, point.n)
    drops = shares.drops
    if drops < 0.0:
        drops = 1.0
        if front > 0.0:
            drops = unshaded_by_few_strips(blockers, light.emitter, point.x, point.n, at)
    front *= drops
    if seen_front:
        return front * shares.seen, back * shares.other
    return back * shares.seen, front * shares.other


@jit
def path_irradiance_over_horizon(light, point, seen_front, at, blockers, drops_share):
    """Irradiance on the side seen and the other at a path's end by the petal's horizon between the
    blocks, and how high that stands in the emitter's middle; -1, -1 where it is not known. at: which
    strip of the emitter is sampled, 0 to 1."""
    lit, top = sides_lit(light.emitter, point.x, point.n), UNKNOWN
    front, back, x, settings = 0.0, 0.0, point.x, light.settings
    size = settings.lens_at[2] / ((settings.lens_at[2] - x[2]) * settings.pixel_mm)
    column, line = 0.5 * light.paths.width + x[0] * size, 0.5 * settings.height - x[1] * size
    for q in range(2):
        if not lit[q]:
            continue
        some = held(OccluderList(blockers.drops, blockers.listed, blockers.many if q == 0 else 0))
        irradiance = strip_irradiance(light, column, line, q, point, at, some)
        if irradiance < 0.0:
            return -1.0, -1.0, top
        if q == 0:
            front = irradiance * (drops_share if drops_share >= 0.0 else 1.0)
        else:
            back = irradiance
        if seen_front == (q == 0):
            top = horizon_in_the_middle(light.horizon)
    return (front, back, top) if seen_front else (back, front, top)


@jit
def pixel_shares_over_horizon(light, pixel, bare, drops_share, blockers):
    """Share that gets past petal and drops of the unoccluded light (bare: on the side seen, on the other)
    of a pixel in focus, by the petal's horizon, and how high that stands in the emitter's middle; -1, -1
    where it is not known. drops_share: that of the drops alone, -1 where it is not known."""
    seen = 0 if pixel.front else 1
    n = pixel.n if pixel.front else scale(pixel.n, -1.0)
    share, other, top = 1.0, 1.0, UNKNOWN
    for q in range(2):
        if bare[0 if q == seen else 1] <= 0.0:
            continue
        some = held(OccluderList(blockers.drops, blockers.listed, blockers.many if q == 0 else 0))
        one = visible_share_of_pixel(light, pixel, q, scale(n, 1.0 if q == 0 else -1.0), some)
        if one < 0.0:
            return -1.0, -1.0, top
        one *= max(drops_share, 0.0) if q == 0 and blockers.many == 0 else 1.0
        share, other = (one, other) if q == seen else (share, one)
        top = horizon_in_the_middle(light.horizon) if q == seen else top
    return share, other, top


@jit
def list_occluders(light, p, many, listed):
    """Fill `listed` with the drops that may shade pixel p or one of the `many` from it on; returns how many
    there are."""
    paths, x = light.paths, row(light.paths.mean_place, p)
    reach = 0.0
    for q in range(p, p + many):
        if paths.mean_end[q] >= 0:
            reach = max(reach, length(sub(row(paths.mean_place, q), x)) + paths.mean_reach[q])
    to = sub(light.emitter.centre, x)
    far = length(to)
    # a light that the run reaches has all drops about it
    widen = light.emitter.spread / max(far - reach, 0.1 * far)
    cone = drop_spheres.Cone(x, scale(to, 1.0 / far), far, reach, widen)
    return drop_spheres.near_cone(light.scene.drops, cone, -1, listed, light.scene.stack)
