"""One emitter's light on the kept camera paths: straight, and past, through and off the drops.

Where nothing can be in the way a quadrature over the emitter serves, in a penumbra its strips or cached
shares; elsewhere each path has its own point of the emitter, spread evenly over the pixel's paths.
"""

from __future__ import annotations

from math import pi
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.body_shadow import unblocked_share, unblocked_share_of_pixel
from lightsim.tracer.kernels.box_tree import STACK
from lightsim.tracer.kernels.camera_paths import TAG
from lightsim.tracer.kernels.caustic_list import (
    CausticList,
    CausticQuery,
    caustic_at,
    list_caustics,
    new_caustics,
)
from lightsim.tracer.kernels.caustic_sampling import (
    caustics_near_folds,
    keys_of,
    path_caustic,
    path_samples_caustic,
    planes_for,
    room_about,
    sampled_caustic,
    samples_any,
    samples_caustic,
)
from lightsim.tracer.kernels.drop_shadow import (
    UnoccludedLight,
    unoccluded_about,
    unoccluded_irradiance,
    unshaded_share_of_pixel,
)
from lightsim.tracer.kernels.drop_visibility import CANDIDATES, STATE, OccluderList
from lightsim.tracer.kernels.emitters import face_of, point_on
from lightsim.tracer.kernels.gloss import response
from lightsim.tracer.kernels.horizon import STRIPS
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.light_in_drops import add_petal_by_drops, add_wet_bases
from lightsim.tracer.kernels.light_pass import LightPass, LightSample, SceneGeometry, petal_pixel
from lightsim.tracer.kernels.path_store import petal_end, put
from lightsim.tracer.kernels.petal_penumbra import UNKNOWN, toward_visible
from lightsim.tracer.kernels.pixel_cells import CELL
from lightsim.tracer.kernels.sampling import GOLDEN_SHARE, PAIR, key, pair_of, shifted_pair
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.unoccluded import (
    known_share,
    list_occluders,
    path_irradiance,
    path_irradiance_over_horizon,
    pixel_shares_over_horizon,
    sample_irradiance,
)
from lightsim.tracer.kernels.vectors import dot, length, row, scale, sub, unit
from lightsim.tracer.kernels.visibility_cache import (
    BLOCK,
    CELLS,
    cells_of_pixel,
    common_state,
    drops_share,
    petal_shares,
    sample_visibility,
    solid_shares,
)
from lightsim.tracer.kernels.visibility_classification import faces_front


class RowLimits(NamedTuple):
    """What neighbouring pixels of a row share."""

    sharp_px: float = 2.5  # pixels from the mean place within which a pixel's paths share normal and colour
    listed: int = 4 * CANDIDATES  # drops that may shade one of a run of pixels
    about: float = 0.004  # of the way to the light, within which one place tells the unoccluded light


LIMITS = RowLimits()


class VisibleShares(NamedTuple):
    """What share of an emitter's light gets to a pixel: past the petal to the side seen and the other,
    and past the drops to the front; -1 where each path has to find it. top: the horizon in the emitter's
    middle (`toward_visible`), known even where the side seen alone is; by_strip: whether paths may take
    the horizon's strips."""

    seen: float
    other: float
    drops: float
    top: float
    by_strip: bool


@jit
def _lit_share(irradiance, bare):
    """What share of the unoccluded light gets to the side seen."""
    return min(irradiance / bare, 1.0) if bare > 0.0 else 0.0


@jit
def _gloss_response(light, x, facing, front, top):
    """The gloss's `response` at x, its normal on the side seen facing it, to what of the emitter is above the
    horizon. top: see `toward_visible`."""
    petal, lens_at = light.scene.petal, light.settings.lens_at
    lens = lens_at[0], lens_at[1], lens_at[2]
    to = toward_visible(light.emitter, light.cache.horizon, x, facing, 0 if front else 1, top)
    return response(petal.gloss, petal.gloss_mean, petal.roughness, facing, unit(sub(lens, x)), unit(to))


@jit
def _put_pixel(light, pixel, front, back, top):
    """Add what a pixel wholly on the petal sends on, lit on the side seen and the other."""
    matt, gloss, p = 1.0, 0.0, pixel.number
    if light.scene.petal.gloss > 0.0 and front > 0.0:
        matt, gloss = _gloss_response(light, pixel.x, pixel.n, pixel.front, top)
    put(light.parts.petal, p, row(light.paths.mean_reflectance, p), front * matt / pi)
    if back > 0.0:
        put(light.parts.petal, p, row(light.paths.mean_transmittance, p), back / pi)
    put(light.parts.petal, p, (1.0, 1.0, 1.0), front * gloss)


@jit
def _add_clear_pixel(light, pixel, bare, shares):
    """A pixel wholly on the petal that no caustic reaches, all shares known. bare: irradiance from the
    unoccluded emitter on the side seen and the other."""
    seen = shares.seen * (shares.drops if pixel.front else 1.0)
    other = shares.other * (1.0 if pixel.front else shares.drops)
    front, back = bare[0] * seen, bare[1] * other
    _put_pixel(light, pixel, front, back, shares.top)
    light.parts.lit[pixel.number] = _lit_share(front, bare[0])


@jit
def _add_sharp_pixel(light, pixel, bare, shares, cells, blockers):
    """A pixel wholly on the petal and in focus: its mean normal and colour serve for all its paths.
    cells: see `cells_of_pixel`."""
    paths, scene, p = light.paths, light.scene, pixel.number
    scramble = key(light.settings.seed, paths.first + p, PAIR.light)
    first = paths.petal_start[p]
    n = pixel.n if pixel.front else scale(pixel.n, -1.0)
    searching = shares.seen < 0.0 or (
        shares.drops < 0.0 and (shares.seen if pixel.front else shares.other) > 0.0
    )
    front = 0.0 if searching else bare[0] * shares.seen * (shares.drops if pixel.front else 1.0)
    back = 0.0 if searching else bare[1] * shares.other * (1.0 if pixel.front else shares.drops)
    by_drops = 0.0
    for s in range(paths.samples):
        if not searching and not samples_any(light.caustics, s):
            continue
        e = first + s
        f = int(paths.petal_face[e])
        x = petal_mesh.place(scene.petal, f, paths.petal_uv[e, 0], paths.petal_uv[e, 1])
        point = petal_mesh.as_point(f, x, n)
        if searching:
            a, b = shifted_pair(scramble, s)
            y, power = point_on(light.emitter, a, b)
            petal_seen = sample_visibility(cells, a, b) if shares.seen < 0.0 else STATE.clear
            one = sample_irradiance(scene, light.emitter, point, LightSample(y, power), petal_seen, blockers)
            one *= known_share(one > 0.0, pixel.front, shares) / paths.samples
            one = one if pixel.front else -one
            front += max(one, 0.0)
            back += max(-one, 0.0)
        for c in range(light.caustics.many[0]):
            if samples_caustic(light.caustics, c, s):
                by_drops += sampled_caustic(light, caustic_at(light.caustics, c), point, scramble, s)
    by_drops /= paths.samples
    by_drops += caustics_near_folds(light, pixel)
    light.parts.lit[p] = _lit_share(front, bare[0])
    if pixel.front:
        front += by_drops
    else:
        back += by_drops
    _put_pixel(light, pixel, front, back, shares.top)


@jit
def _path_caustics(light, p, e, point, keys, number, turn):
    """Caustic light at path end e of pixel p, not in focus, number `number` of its ends; turn: by which path
    the pixel begins with a caustic's stride."""
    paths, caustics = light.paths, light.caustics
    total, room = 0.0, -1.0
    first, last = paths.petal_start[p], paths.petal_start[p + 1]
    for c in range(caustics.many[0]):
        one = caustic_at(caustics, c)
        if one.by_planes and room < 0.0:
            room = room_about(paths, light.scene.petal, e, first, last)
        if path_samples_caustic(caustics, c, number + turn):
            total += path_caustic(light, one, point, room, keys, number, planes_for(last - first))
    return total


@jit
def _path_straight(light, about, point, front, at, shares, blockers):
    """Irradiance on the side seen and the other at a path's end where shares or the horizon give it, and the
    horizon in the emitter's middle; -1, -1 where a shadow ray is needed. at: which strip of the emitter is
    sampled, 0 to 1."""
    seen, other, top = -1.0, -1.0, UNKNOWN
    if shares.by_strip:
        seen, other, top = path_irradiance_over_horizon(light, point, front, at, blockers, shares.drops)
    if seen < 0.0 and shares.seen >= 0.0:
        top = UNKNOWN
        seen, other = path_irradiance(light, about, point, front, blockers, shares, at)
    return seen, other, top


@jit
def _add_blurred_pixel(light, pixel, about, bare, shares, cells, blockers):
    """The paths of a pixel that see the petal straight, each with its own strip or point of the emitter where
    the petal may be in the way. about: see `unoccluded_irradiance`; cells: see `cells_of_pixel`."""
    paths, scene, emitter, p = light.paths, light.scene, light.emitter, pixel.number
    petal, lens_at, keys = scene.petal, light.settings.lens_at, keys_of(light, p)
    turn = int(keys.bounce & np.uint64(63))  # the pixel may have few of these paths
    number, lit = 0, 0.0
    for e in range(paths.petal_start[p], paths.petal_start[p + 1]):
        tag = paths.petal_tag[e]
        if tag & TAG.part != TAG.petal:
            continue
        point, on_front = petal_end(paths, petal, e), tag & TAG.front != 0
        facing = point.n if on_front else scale(point.n, -1.0)
        at = (turn / 64.0 + number * GOLDEN_SHARE) % 1.0
        front, back, top = _path_straight(light, about, point, on_front, at, shares, blockers)
        known, to = True, point.n
        if front < 0.0:
            a, b = pair_of(keys.light, number)
            y, power = point_on(emitter, a, b)
            sample, petal_seen = LightSample(y, power), sample_visibility(cells, a, b)
            one = sample_irradiance(scene, emitter, point, sample, petal_seen, blockers)
            one *= known_share(one > 0.0, on_front, shares)
            one = one if on_front else -one
            front, back = max(one, 0.0), max(-one, 0.0)
            known, to = False, sub(y, point.x)
        lit += front
        by_drops = _path_caustics(light, p, e, point, keys, number, turn)
        number += 1
        matt, gloss = 1.0, 0.0
        if petal.gloss > 0.0 and front > 0.0:
            if known:
                side = 0 if on_front else 1
                to = toward_visible(emitter, light.cache.horizon, point.x, facing, side, top)
            view = unit(sub((lens_at[0], lens_at[1], lens_at[2]), point.x))
            matt, gloss = response(petal.gloss, petal.gloss_mean, petal.roughness, facing, view, unit(to))
            gloss *= front
            front *= matt
        if on_front:
            front += by_drops
        else:
            back += by_drops
        _put_end(light, p, e, front, back, gloss)
    light.parts.lit[p] = _lit_share(lit / number, bare[0])


@jit
def _put_end(light, p, e, front, back, gloss):
    """Add what path end e on the petal sends on, lit on the side seen and the other, with its gloss."""
    paths, petal, parts = light.paths, light.scene.petal, light.parts
    f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
    k = paths.petal_weight[e] / paths.samples
    put(parts.petal, p, petal_mesh.blend(petal.reflectance, petal.face, f, u, v), k * front / pi)
    if back > 0.0:
        put(parts.petal, p, petal_mesh.blend(petal.transmittance, petal.face, f, u, v), k * back / pi)
    put(parts.petal, p, (1.0, 1.0, 1.0), k * gloss)


@jit
def _shares_past_solids(light, pixel, nobody):
    """Share of the emitter's light that gets past cards and bodies at a pixel, on the side seen and the
    other."""
    boards, x, n = light.scene.boards, pixel.x, pixel.n
    if boards.frame.shape[0] + boards.body.shape[0] == 0:
        return 1.0, 1.0
    seen, other = solid_shares(light.cache, light, pixel)
    if seen < 0.0 or other < 0.0:
        seen = unblocked_share(boards, nobody, light.emitter, x, n)
        other = unblocked_share(boards, nobody, light.emitter, x, scale(n, -1.0))
    return seen, other


@jit
def _shares_at(light, pixel, bare, petal_state, solid, by_drops, blockers):
    """The shares at a pixel, as far as the cache gives them. petal_state: what the blocks about it have in
    common; solid: what gets past cards and bodies (`_shares_past_solids`); by_drops: past the drops, -1 where
    that is not known and those listed may shade the pixel."""
    pixel_mm, top, boards = light.settings.pixel_mm, UNKNOWN, min(solid) < 1.0
    by_strip = petal_state == STATE.mixed and not boards
    if by_strip and pixel.whole and pixel.spread < BLOCK * pixel_mm:
        seen, other, top = pixel_shares_over_horizon(light, pixel, bare, by_drops, blockers)
        if seen >= 0.0:
            return VisibleShares(seen, other, 1.0, top, False)
    if boards and pixel.whole and petal_state == STATE.clear and blockers.many == 0:
        return VisibleShares(solid[0], solid[1], 1.0, top, False)
    if boards and pixel.sharp and petal_state == STATE.clear:
        nobody = held(OccluderList(blockers.drops, blockers.listed, 0))
        on_front, on_back = (blockers, nobody) if pixel.front else (nobody, blockers)
        seen = unblocked_share_of_pixel(light, pixel, pixel.n, on_front)
        other = unblocked_share_of_pixel(light, pixel, scale(pixel.n, -1.0), on_back)
        return VisibleShares(seen, other, 1.0, top, False)
    seen, other = -1.0, -1.0
    if not boards:
        seen, other = petal_shares(light.cache, petal_state, light, pixel)
        if by_drops < 0.0 and min(seen, other) < 1.0:
            seen, other = -1.0, -1.0  # shares past the petal and past the drops do not multiply
    if by_drops < 0.0 and seen >= 0.0 and pixel.sharp:
        n = pixel.n if pixel.front else scale(pixel.n, -1.0)
        by_drops = unshaded_share_of_pixel(light, pixel, n, blockers)
    return VisibleShares(seen, other, by_drops, top, by_strip)


@jit
def _list_caustics_at(light, pixel, to_light, cell):
    """List the caustics that a pixel's paths sample, of the drops about its cell (row, column)."""
    near = light.drop_light
    first = near.bounds[cell[0], cell[1], 0]
    last = first + near.sender_count[cell[0], cell[1]]
    floor = light.settings.least * max(0.1, abs(dot(pixel.n, to_light)))
    query = CausticQuery(pixel.x, pixel.spread, to_light, floor, light.paths.samples)
    list_caustics(light, near.senders, first, last, query)


class PixelRoom(NamedTuple):
    """Room for the drops that may shade a pixel and a run of pixels, its horizon and its caustics, and for
    walks through trees."""

    blocking: NDArray
    run: NDArray
    horizon: NDArray
    caustics: CausticList
    stack: NDArray


class RowState(NamedTuple):
    """What neighbouring pixels of a row share: the block whose states these are (-1 for none), what the
    blocks about it have in common of the petal's and the drops' shadows, and of the emitter's cells; the
    unoccluded light about a place; where a run ends whose occluders are listed, and how many these are."""

    block: int
    petal_state: int
    drops_state: int
    cells: tuple[np.uint64, np.uint64]
    about: UnoccludedLight
    run_end: int
    listed: int


@jit
def _states_about(light, pixel, line, column, state):
    """The row's state with what the blocks about a pixel have in common."""
    cache, reach = light.cache, 1 + int(pixel.spread / (light.settings.pixel_mm * BLOCK))
    if reach == 1 and column // BLOCK == state.block:
        return state
    petal = common_state(cache.petal_state, BLOCK, column, line, reach)
    drops = common_state(cache.drops_state, BLOCK, column, line, reach)
    cells = cells_of_pixel(cache, petal, column, line, reach)
    block = column // BLOCK if reach == 1 else -1
    return RowState(block, petal, drops, cells, state.about, state.run_end, state.listed)


@jit
def _light_about(light, pixel, far, state):
    """The row's state with the unoccluded light about a pixel, `far` from the emitter."""
    off = sub(pixel.x, state.about.x)
    if dot(off, off) <= (LIMITS.about * far) ** 2:
        return state
    about = unoccluded_about(light.emitter, pixel.x)
    return RowState(
        state.block, state.petal_state, state.drops_state, state.cells, about, state.run_end, state.listed
    )


@jit
def _occluders_about(light, pixel, column, room, state):
    """The row's state with the drops listed that may shade one of a run of pixels from a pixel on."""
    if column < state.run_end:
        return state
    end = min((column // CELL + 1) * CELL, light.paths.width)
    many = list_occluders(light, pixel.number, end - column, room.run)
    return RowState(state.block, state.petal_state, state.drops_state, state.cells, state.about, end, many)


@jit
def _list_blocking(light, pixel, to_light, far, room, listed):
    """Fill `room.blocking` with the drops that may shade a pixel, of the `listed` ones of its run unless
    these are too many to list; returns how many there are."""
    drops, widen = light.scene.drops, light.emitter.spread / far
    cone = drop_spheres.Cone(pixel.x, to_light, far, pixel.spread, widen)
    if listed < room.run.shape[0]:
        return drop_spheres.in_cone(drops, room.run, listed, cone, room.blocking)
    return drop_spheres.near_cone(drops, cone, -1, room.blocking, light.scene.stack)


@jit
def _add_petal_pixel(light, pixel, line, column, room, state):
    """Light the paths of a pixel that see the petal straight; returns the row's state."""
    emitter, scene = light.emitter, light.scene
    to = sub(emitter.centre, pixel.x)
    far = length(to)
    to = scale(to, 1.0 / far)
    state = _light_about(light, pixel, far, state)
    bare = unoccluded_irradiance(state.about, emitter, pixel.x, pixel.n)
    cell = pixel.number // light.paths.width // CELL, column // CELL
    _list_caustics_at(light, pixel, to, cell)
    state = _states_about(light, pixel, line, column, state)
    nobody = held(OccluderList(scene.drops, room.blocking, 0))
    by_drops, solid = 1.0, (1.0, 1.0)
    if state.petal_state != STATE.hidden:
        by_drops = drops_share(light.cache, state.drops_state, light, pixel)
        solid = _shares_past_solids(light, pixel, nobody)
    by_drops = -1.0 if min(solid) < 1.0 else by_drops
    n_blocking = 0
    if by_drops < 0.0:
        if faces_front(light.paths, pixel.number, to, emitter.spread / far):
            state = _occluders_about(light, pixel, column, room, state)
            n_blocking = _list_blocking(light, pixel, to, far, room, state.listed)
        by_drops = 1.0 if n_blocking == 0 else by_drops
    blockers = held(OccluderList(scene.drops, room.blocking, n_blocking))
    shares = _shares_at(light, pixel, bare, state.petal_state, solid, by_drops, blockers)
    alike = pixel.whole and (pixel.sharp or not shares.by_strip)
    if alike and light.caustics.many[0] == 0 and shares.seen >= 0.0 and shares.drops >= 0.0:
        _add_clear_pixel(light, pixel, bare, shares)
    elif pixel.sharp:
        _add_sharp_pixel(light, pixel, bare, shares, state.cells, blockers)
    else:
        _add_blurred_pixel(light, pixel, state.about, bare, shares, state.cells, blockers)
    return state


@jit
def _add_row(rows, emitter, room, r):
    """Light row r of the rows at hand."""
    paths, scene, settings = rows.paths, rows.scene, rows.settings
    scene = held(SceneGeometry(scene.petal, scene.drops, scene.boards, room.stack))
    cache, drop_light, parts, horizon = rows.cache, rows.drop_light, rows.parts, room.horizon
    light = held(LightPass(paths, scene, emitter, cache, drop_light, settings, parts, horizon, room.caustics))
    line, nowhere = paths.first // paths.width + r, unoccluded_about(emitter, emitter.centre)
    state = RowState(-1, STATE.mixed, STATE.mixed, (CELLS.none, CELLS.none), nowhere, 0, 0)
    for column in range(paths.width):
        p = r * paths.width + column
        if paths.mean_end[p] >= 0:
            pixel = petal_pixel(paths, p, LIMITS.sharp_px * settings.pixel_mm)
            state = _add_petal_pixel(light, pixel, line, column, room, state)
            if pixel.whole:
                continue
        if paths.petal_start[p + 1] > paths.petal_start[p]:
            bounds = rows.drop_light.bounds
            first, last = bounds[r // CELL, column // CELL, 0], bounds[r // CELL, column // CELL, 1]
            add_petal_by_drops(light, p, first, last)
        if paths.base_start[p + 1] > paths.base_start[p]:
            add_wet_bases(light, p)


@jit_allocating
def _add_direct_row(rows, r):
    stack, horizon = np.empty(STACK, dtype=np.int32), np.empty(STRIPS)
    blocking, run = np.empty(CANDIDATES, dtype=np.int32), np.empty(LIMITS.listed, dtype=np.int32)
    room = PixelRoom(blocking, run, horizon, new_caustics(), stack)
    _add_row(rows, held(face_of(rows.lamp)), room, r)


@threaded
def add_direct(begin, end, rows):
    """Add what one emitter sends to every kept path of `LightRows` that ends on the petal or a wet base."""
    for r in range(begin, end):
        _add_direct_row(rows, r)
