"""One light's own work: what it sends straight, past, through and off the drops to each kept camera path.

Where nothing can hinder the light a quadrature over its face serves; elsewhere each path has its own
point of the face, spread evenly over the pixel's paths.
"""

from __future__ import annotations

from math import pi
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import drop_spheres, petal_mesh, skyline
from lightsim.tracer.kernels.body_shadow import left_past_bodies, may_be_hidden, past_bodies_of_pixel
from lightsim.tracer.kernels.camera_paths import FRONT, PART
from lightsim.tracer.kernels.caustic_sampling import (
    asked,
    asked_by_path,
    asked_of,
    by_drop,
    by_drop_once,
    near_caustics,
    no_ways,
    planes_for,
    room_about,
)
from lightsim.tracer.kernels.caustics import (
    UNEVEN,
    gather_list,
)
from lightsim.tracer.kernels.drop_shadow import bare_about, bare_at, left_of_pixel
from lightsim.tracer.kernels.drop_visibility import CANDIDATES, CLEAR, HIDDEN, MIXED
from lightsim.tracer.kernels.emitters import face_of, point_on
from lightsim.tracer.kernels.gloss import response
from lightsim.tracer.kernels.jit import jit, making, threaded
from lightsim.tracer.kernels.light_in_drops import base_pixel, mirrored_pixel
from lightsim.tracer.kernels.path_store import put
from lightsim.tracer.kernels.pixel_cells import CELL, weak_between
from lightsim.tracer.kernels.sampling import BOUNCE, GOLDEN_SHARE, LIGHT, PIXEL, key, pair_of, shifted_pair
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.unoccluded import (
    left_known,
    left_to_path,
    near_run,
    past_skyline_of_path,
    past_skyline_of_pixel,
    straight_light,
)
from lightsim.tracer.kernels.vectors import dot, length, row, scale, sub, unit
from lightsim.tracer.kernels.visibility_cache import (
    BLOCK,
    NONE,
    agreed,
    cast_share,
    faces_front,
    front_normal,
    known_cells,
    petal_share,
    seen_of,
)

SHARP = 2.5  # pixels from the mean place within which a pixel's paths share normal and colour
LISTED = 4 * CANDIDATES  # drops that may shade one of a run of pixels
ABOUT = 0.004  # of the way to the light: so far from a place its light is known from that there
ASKED = 64  # a way over a drop is asked for by every path from so many paths a pixel on; from fewer, by fewer


class Terms(NamedTuple):
    """seed of the sample points; lens_at (3,) the pupil's centre; pixel_mm; least share of gathered light to
    look for.

    weak (cell rows, cell columns): see weak_light, of the whole picture; height of that, pixels.
    """

    seed: int
    lens_at: NDArray
    pixel_mm: float
    least: float
    weak: NDArray
    height: int


@jit
def _lit(parts, p, light, bare):
    """Note what share of the face's light gets to the side seen."""
    parts.lit[p] = min(light / bare, 1.0) if bare > 0.0 else 0.0


@jit
def _gloss_of_pixel(paths, petal, face, looks, p, lens_at, top):
    """The gloss's `response` to a face at a pixel wholly on the petal. top: see `toward_left`."""
    x, facing = row(paths.mean_place, p), row(paths.mean_normal, p)
    q = 0 if paths.petal_tag[paths.mean_end[p]] & FRONT else 1
    to = skyline.toward_left(face, looks, x, facing, q, top)
    return response(petal.gloss, petal.gloss_mean, petal.roughness, facing, unit(sub(lens_at, x)), unit(to))


@jit
def _clear_pixel(paths, petal, face, looks, p, lens_at, parts, bare, back, free, free_back, top):
    """A pixel wholly on the petal to which no drop gathers light.

    bare, back : irradiance from the unhindered face on the side seen and the other; free, free_back : the
    share of it that petal and drops leave; top: see `toward_left`.
    """
    gloss, matt = 0.0, 1.0
    front, back = bare * free, back * free_back
    if petal.gloss > 0.0 and front > 0.0:
        matt, gloss = _gloss_of_pixel(paths, petal, face, looks, p, lens_at, top)
    put(parts.petal, p, row(paths.mean_reflectance, p), front * matt / pi)
    if back > 0.0:
        put(parts.petal, p, row(paths.mean_transmittance, p), back / pi)
    put(parts.petal, p, (1.0, 1.0, 1.0), front * gloss)
    _lit(parts, p, front, bare)


@jit
def _sharp_pixel(
    paths, petal, drops, cards, face, near, looks, terms, p, lens_at, blocking, n_blocking, gather, n_gather,
    bare, back, free, free_back, cast, top, left, hidden, parts, stack,
):  # fmt: skip
    """A pixel wholly on the petal and in focus: its mean normal and colour serve for all its paths.

    bare, back : irradiance from the unhindered face on the side seen and the other; free, free_back, cast :
    share of it that the petal leaves on the side seen and the other, and the drops on the front; -1 where
    each path has to find out. top: see `toward_left`; left, hidden: see `known_cells`.
    """
    scramble = key(terms.seed, paths.first + p, LIGHT)
    first = paths.petal_start[p]
    seen_front = paths.petal_tag[first] & FRONT != 0
    facing = row(paths.mean_normal, p)
    n = facing if seen_front else scale(facing, -1.0)
    searching = free < 0.0 or (cast < 0.0 and (free if seen_front else free_back) > 0.0)
    front = 0.0 if searching else bare * free * (cast if seen_front else 1.0)
    back = 0.0 if searching else back * free_back * (1.0 if seen_front else cast)
    by_drops = 0.0
    for s in range(paths.samples):
        e = first + s
        if not searching and not asked(gather, n_gather, s):
            continue
        f = int(paths.petal_face[e])
        x = petal_mesh.place(petal, f, paths.petal_uv[e, 0], paths.petal_uv[e, 1])
        if searching:
            a, b = shifted_pair(scramble, s)
            y, power = point_on(face, a, b)
            seen = seen_of(left, hidden, a, b) if free < 0.0 else CLEAR
            straight = straight_light(
                petal, drops, cards, face, f, x, n, y, power, blocking, n_blocking, seen, stack
            )
            straight *= left_known(straight > 0.0, seen_front, free, free_back, cast) / paths.samples
            straight = straight if seen_front else -straight
            front += max(straight, 0.0)
            back += max(-straight, 0.0)
        for c in range(n_gather):
            if asked_of(gather, c, s):
                by_drops += by_drop_once(petal, drops, gather, c, x, n, face, near, terms, scramble, s, stack)
    by_drops /= paths.samples
    by_drops += near_caustics(paths, petal, drops, face, near, terms, p, n, gather, n_gather, stack)
    _lit(parts, p, front, bare)
    if seen_front:
        front += by_drops
    else:
        back += by_drops
    matt, gloss = 1.0, 0.0
    if petal.gloss > 0.0 and front > 0.0:
        matt, gloss = _gloss_of_pixel(paths, petal, face, looks, p, lens_at, top)
    put(parts.petal, p, row(paths.mean_reflectance, p), front * matt / pi)
    if back > 0.0:
        put(parts.petal, p, row(paths.mean_transmittance, p), back / pi)
    put(parts.petal, p, (1.0, 1.0, 1.0), front * gloss)


@jit
def _blurred_pixel(
    paths, petal, drops, cards, face, near, looks, terms, p, lens_at, blocking, n_blocking, gather,
    n_gather, about, bare, free, free_back, cast, left, hidden, by_sky, tops, parts, stack,
):  # fmt: skip
    """The paths of a pixel that see the petal straight, each with its own point of the face where the petal
    may be in the way.

    about, bare : the unhindered face's light about the pixel's mean place, irradiance there on the side seen;
    free, free_back, cast : share of it that the petal leaves on the side seen and the other, and the drops on
    the front; -1 where each path has to find out. left, hidden: see `known_cells`.
    """
    scramble = key(terms.seed, paths.first + p, LIGHT)
    way_scramble = key(terms.seed, paths.first + p, BOUNCE)
    place_scramble = key(terms.seed, paths.first + p, PIXEL)
    turn = int(way_scramble & np.uint64(63))  # the pixel may have few of these paths
    many, lit = 0, 0.0
    planes = planes_for(paths.petal_start[p + 1] - paths.petal_start[p])
    for e in range(paths.petal_start[p], paths.petal_start[p + 1]):
        tag = paths.petal_tag[e]
        if tag & PART != 0:
            continue
        f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
        x, n = petal_mesh.place(petal, f, u, v), petal_mesh.normal_at(petal, f, u, v)
        seen_front = tag & FRONT != 0
        facing, at = n if seen_front else scale(n, -1.0), (turn / 64.0 + many * GOLDEN_SHARE) % 1.0
        front, back, top = -1.0, -1.0, skyline.UNKNOWN
        known, to = True, n
        if by_sky:
            front, back, top = past_skyline_of_path(
                drops, face, looks, terms, paths.width, x, n, seen_front, at, blocking, n_blocking, cast, tops
            )
        if front < 0.0 and free >= 0.0:
            top = skyline.UNKNOWN
            front, back = left_to_path(
                drops, face, about, x, n, seen_front, blocking, n_blocking, free, free_back, cast, at
            )
        if front < 0.0:
            a, b = pair_of(scramble, many)
            y, power = point_on(face, a, b)
            straight = straight_light(
                petal, drops, cards, face, f, x, n, y, power, blocking, n_blocking,
                seen_of(left, hidden, a, b), stack,
            )  # fmt: skip
            straight *= left_known(straight > 0.0, seen_front, free, free_back, cast)
            straight = straight if seen_front else -straight
            front, back = max(straight, 0.0), max(-straight, 0.0)
            known, to = False, sub(y, x)
        lit += front
        by_drops = 0.0
        room = -1.0
        for c in range(n_gather):
            if gather.found[c, 4] > 0 and room < 0.0:
                room = room_about(paths, petal, e, paths.petal_start[p], paths.petal_start[p + 1])
            if asked_by_path(gather, c, many + turn):
                by_drops += by_drop(
                    petal, drops, gather, c, x, n, room, face, near, terms, scramble, way_scramble,
                    place_scramble, many, planes, stack,
                )  # fmt: skip
        many += 1
        gloss = 0.0
        if petal.gloss > 0.0 and front > 0.0:
            if known:
                to = skyline.toward_left(face, looks, x, facing, 0 if seen_front else 1, top)
            matt, gloss = response(
                petal.gloss, petal.gloss_mean, petal.roughness, facing, unit(sub(lens_at, x)), unit(to)
            )
            gloss *= front
            front *= matt
        if seen_front:
            front += by_drops
        else:
            back += by_drops
        k = paths.petal_weight[e] / paths.samples
        put(parts.petal, p, petal_mesh.blend(petal.reflectance, petal.face, f, u, v), k * front / pi)
        if back > 0.0:
            put(parts.petal, p, petal_mesh.blend(petal.transmittance, petal.face, f, u, v), k * back / pi)
        put(parts.petal, p, (1.0, 1.0, 1.0), k * gloss)
    _lit(parts, p, lit / many, bare)


@jit
def _straight_share(paths, p):
    """Share of a pixel's paths that see the petal straight."""
    if paths.whole[p] == 1:
        return 1.0
    n = 0
    for e in range(paths.petal_start[p], paths.petal_start[p + 1]):
        if paths.petal_tag[e] & PART == 0:
            n += 1
    return n / paths.samples


class Left(NamedTuple):
    """What petal and drops leave of a face's light at a pixel.

    free, free_back, cast : see `_sharp_pixel`; top: see `toward_left`, known even where the skyline tells of
    the side seen alone; by_sky: whether each path may ask it.
    """

    free: float
    free_back: float
    cast: float
    top: float
    by_sky: bool


@jit
def _hidden_in_part(drops, cards, face, x, n, blocking):
    """Whether cards or bodies hide something of a face's light from x, on a surface with the normal n or on
    its other side."""
    one = left_past_bodies(drops, cards, face, blocking, 0, x, n)
    return one < 1.0 or left_past_bodies(drops, cards, face, blocking, 0, x, scale(n, -1.0)) < 1.0


@jit
def _left_at(
    paths, petal, drops, cards, face, looks, row_sky, p, bare, back, left, boards, cast, blocking, n_blocking,
    pixel_mm, tops,
):  # fmt: skip
    """What petal and drops leave at a pixel, as far as blocks tell. left: see `petal_share`; boards: whether
    cards may be in the way; cast: what blocks tell of the drops; listed drops may shade the pixel."""
    spread = paths.mean_reach[p]
    whole = paths.whole[p] == 1
    by_sky, top = left == MIXED and not boards, skyline.UNKNOWN
    if by_sky and whole and spread < BLOCK * pixel_mm:
        free, free_back, top = past_skyline_of_pixel(
            paths, petal, drops, face, looks, row_sky, p, bare, back, cast, blocking, n_blocking,
            pixel_mm, tops,
        )  # fmt: skip
        if free >= 0.0:
            return Left(free, free_back, 1.0, top, False)
    free, free_back = -1.0, -1.0
    if boards and whole and left == CLEAR and (n_blocking == 0 or spread < SHARP * pixel_mm):
        n = row(paths.mean_normal, p)
        on_front = paths.petal_tag[paths.mean_end[p]] & FRONT != 0
        many, other = (n_blocking, 0) if on_front else (0, n_blocking)
        free = past_bodies_of_pixel(paths, petal, drops, cards, face, p, n, blocking, many)
        n = scale(n, -1.0)
        free_back = past_bodies_of_pixel(paths, petal, drops, cards, face, p, n, blocking, other)
        return Left(free, free_back, 1.0, top, False)
    if not boards:
        free, free_back = petal_share(looks, left, paths, p, spread, pixel_mm)
        if cast < 0.0 and min(free, free_back) < 1.0:
            free, free_back = -1.0, -1.0  # what petal and drops leave does not multiply
    if cast < 0.0 and free >= 0.0 and whole and spread < SHARP * pixel_mm:
        n = front_normal(paths, p)
        cast = left_of_pixel(paths, petal, drops, face, p, n, blocking, n_blocking, pixel_mm)
    return Left(free, free_back, cast, top, by_sky)


@making
def _add_direct_one(paths, petal, drops, cards, lamp, near, looks, terms, parts, r):
    face = held(face_of(lamp))
    lens_at = terms.lens_at[0], terms.lens_at[1], terms.lens_at[2]
    stack = np.empty(192, dtype=np.int32)
    blocking = np.empty(CANDIDATES, dtype=np.int32)
    gather, tops = no_ways(), np.empty(skyline.STRIPS)
    cell = r // CELL
    rarest = min(max(1, ASKED // paths.samples), paths.samples)
    block, left, past, known = -1, MIXED, MIXED, (NONE, NONE)
    about = bare_about(face, face.centre)  # no pixel lies near that: the first one asks anew
    run_end, n_listed, listed = 0, 0, np.empty(LISTED, dtype=np.int32)
    row_sky = skyline.along_row(looks.sky, paths.first // paths.width + r)
    for x_pixel in range(paths.width):
        p = r * paths.width + x_pixel
        if paths.mean_end[p] >= 0:
            x = row(paths.mean_place, p)
            spread = paths.mean_reach[p]
            sharp = paths.whole[p] == 1 and spread < SHARP * terms.pixel_mm
            to = sub(face.centre, x)
            far = length(to)
            to = scale(to, 1.0 / far)
            off = sub(x, about.x)
            if dot(off, off) > (ABOUT * far) ** 2:
                about = bare_about(face, x)
            bare, back = bare_at(about, face, x, row(paths.mean_normal, p))
            n_blocking = 0
            floor = terms.least * max(0.1, abs(dot(row(paths.mean_normal, p), to)))
            first = near.bounds[cell, x_pixel // CELL, 0]
            last = first + near.uneven_many[cell, x_pixel // CELL]
            n_gather = gather_list(
                near, near.uneven, drops, first, last, x, spread, to, floor, UNEVEN, terms.pixel_mm, rarest,
                gather.found,
            )  # fmt: skip
            if paths.petal_tag[paths.mean_end[p]] & FRONT:
                put(
                    parts.petal,
                    p,
                    row(paths.mean_reflectance, p),
                    _straight_share(paths, p)
                    * weak_between(terms.weak, paths.first // paths.width + r, x_pixel)
                    / pi,
                )
            reach = 1 + int(spread / (terms.pixel_mm * BLOCK))
            if reach > 1 or x_pixel // BLOCK != block:
                left = agreed(looks.petal, BLOCK, x_pixel, paths.first // paths.width + r, reach)
                past = agreed(looks.cast, BLOCK, x_pixel, paths.first // paths.width + r, reach)
                known = known_cells(looks, left, x_pixel, paths.first // paths.width + r, reach)
                block = x_pixel // BLOCK if reach == 1 else -1
            cast = cast_share(looks, past, paths, p, spread, terms.pixel_mm) if left != HIDDEN else 1.0
            boards = left != HIDDEN and may_be_hidden(cards, face, x)
            boards = boards and _hidden_in_part(drops, cards, face, x, row(paths.mean_normal, p), blocking)
            cast = -1.0 if boards else cast
            if cast < 0.0:
                if faces_front(paths, p, to, face.spread / far):
                    if x_pixel >= run_end:
                        run_end = min((x_pixel // CELL + 1) * CELL, paths.width)
                        n_listed = near_run(paths, drops, face, p, run_end - x_pixel, listed, stack)
                    widen = face.spread / far
                    if n_listed < listed.shape[0]:
                        n_blocking = drop_spheres.in_cone(
                            drops, listed, n_listed, x, to, far, spread, widen, blocking
                        )
                    else:
                        n_blocking = drop_spheres.near_cone(
                            drops, x, to, far, spread, widen, -1, blocking, stack
                        )
                cast = 1.0 if n_blocking == 0 else cast
            free, free_back, cast, top, by_sky = _left_at(
                paths, petal, drops, cards, face, looks, row_sky, p, bare, back, left, boards, cast, blocking,
                n_blocking, terms.pixel_mm, tops,
            )  # fmt: skip
            alike = paths.whole[p] == 1 and (sharp or not by_sky)
            if alike and n_gather == 0 and free >= 0.0 and cast >= 0.0:
                seen_front = paths.petal_tag[paths.mean_end[p]] & FRONT != 0
                free *= cast if seen_front else 1.0
                free_back *= 1.0 if seen_front else cast
                _clear_pixel(paths, petal, face, looks, p, lens_at, parts, bare, back, free, free_back, top)
                continue
            if sharp:
                _sharp_pixel(
                    paths, petal, drops, cards, face, near, looks, terms, p, lens_at, blocking, n_blocking,
                    gather, n_gather, bare, back, free, free_back, cast, top, known[0], known[1], parts,
                    stack,
                )  # fmt: skip
                continue
            _blurred_pixel(
                paths, petal, drops, cards, face, near, looks, terms, p, lens_at, blocking, n_blocking,
                gather, n_gather, about, bare, free, free_back, cast, known[0], known[1], by_sky, tops,
                parts, stack,
            )  # fmt: skip
            if paths.whole[p] == 1:
                continue
        if paths.petal_start[p + 1] > paths.petal_start[p]:
            first, last = near.bounds[cell, x_pixel // CELL, 0], near.bounds[cell, x_pixel // CELL, 1]
            mirrored_pixel(
                paths, petal, drops, cards, face, near, terms, p, first, last, gather, parts, stack
            )
        if paths.base_start[p + 1] > paths.base_start[p]:
            base_pixel(paths, petal, drops, cards, face, near, terms, p, gather.nodes, parts, stack)


@threaded
def add_direct(begin, end, paths, petal, drops, cards, lamp, near, looks, terms, parts):
    """Add to `parts` what one face sends to every kept path that ends on the petal or on a wet base."""
    for r in range(begin, end):
        _add_direct_one(paths, petal, drops, cards, lamp, near, looks, terms, parts, r)
