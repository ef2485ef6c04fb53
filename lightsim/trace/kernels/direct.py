"""One light's own work: what it sends straight, past, through and off the drops to each kept camera path.

Where nothing can hinder the light a quadrature over its face serves; elsewhere each path has its own
point of the face, spread evenly over the pixel's paths.
"""

from __future__ import annotations

from math import inf, pi, sqrt
from typing import NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from lightsim.trace.kernels import connect
from lightsim.trace.kernels import drops as drop
from lightsim.trace.kernels import petal as leaf
from lightsim.trace.kernels.camera import FRONT, PART, SURFACE_PART, WATER_PART
from lightsim.trace.kernels.faces import bare_irradiance, face_of, hidden_by, point_on
from lightsim.trace.kernels.gloss import response
from lightsim.trace.kernels.jit import jit, parallel
from lightsim.trace.kernels.sampling import LIGHT, MIRROR_LIGHT, key, pair_of
from lightsim.trace.kernels.vectors import along, basis, dot, in_frame, length, row, scale, sub, unit

CANDIDATES = 24
CLEAR, HIDDEN, MIXED, EMPTY = 0, 1, 2, 3
BLOCK = 4  # pixels along the side of a block that shares its look at the petal's own shadow


class Paths(NamedTuple):
    """Kept camera paths of `rows` rows of `width` pixels from pixel number `first` on.

    *_start : (pixels + 1,) int64, where each pixel's ends begin in the lists.
    leaf_*: dry petal: face, weights uv (n, 2), path weight, tag. base_*: wet base: drop, face, uv, weight, tag.
    away_*: ray (n, 6) origin and direction, weight, tag.
    Of the ends that see the petal straight (mean_*): whole (1: all of the pixel), mean place, mean normal on the seen
    side, mean reflectance and transmittance (times the cover), greatest distance from the mean place, one of the ends.
    """

    first: int
    width: int
    rows: int
    samples: int
    leaf_start: NDArray
    leaf_face: NDArray
    leaf_uv: NDArray
    leaf_weight: NDArray
    leaf_tag: NDArray
    base_start: NDArray
    base_drop: NDArray
    base_face: NDArray
    base_uv: NDArray
    base_weight: NDArray
    base_tag: NDArray
    away_start: NDArray
    away_ray: NDArray
    away_weight: NDArray
    away_tag: NDArray
    whole: NDArray
    mean_place: NDArray
    mean_normal: NDArray
    mean_reflectance: NDArray
    mean_transmittance: NDArray
    mean_reach: NDArray
    mean_end: NDArray


class Parts(NamedTuple):
    """The layer being made: (pixels,) and (pixels, 3) float32 arrays."""

    glint: NDArray
    surface: NDArray
    water: NDArray
    petal: NDArray
    lit: NDArray


@jit
def _summarise_one(paths, petal, r):
    for x in range(paths.width):
        _summarise_pixel(paths, petal, r * paths.width + x)


@parallel
def summarise(paths, petal):
    """Fill whole and mean_* from the lists."""
    for r in numba.prange(paths.rows):
        _summarise_one(paths, petal, r)


@jit
def _summarise_pixel(paths, petal, p):
    first, last = paths.leaf_start[p], paths.leaf_start[p + 1]
    n, fronts, one = 0, 0, -1
    for e in range(first, last):
        if paths.leaf_tag[e] & PART == 0:
            n += 1
            fronts += 1 if paths.leaf_tag[e] & FRONT else 0
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
        if paths.leaf_tag[e] & PART != 0:
            continue
        f, u, v = paths.leaf_face[e], paths.leaf_uv[e, 0], paths.leaf_uv[e, 1]
        side = 1.0 if paths.leaf_tag[e] & FRONT else -1.0
        place = along(place, leaf.place(petal, f, u, v), 1.0 / n)
        normal = along(normal, leaf.normal_at(petal, f, u, v), side)
        rho = along(rho, leaf.blend(petal.reflectance, petal.face, f, u, v), 1.0 / n)
        tau = along(tau, leaf.blend(petal.transmittance, petal.face, f, u, v), 1.0 / n)
    normal = unit(normal) if dot(normal, normal) > 1e-12 else (0.0, 0.0, 1.0)
    reach = 0.0
    for e in range(first, last):
        if paths.leaf_tag[e] & PART == 0:
            f, u, v = paths.leaf_face[e], paths.leaf_uv[e, 0], paths.leaf_uv[e, 1]
            reach = max(reach, length(sub(leaf.place(petal, f, u, v), place)))
    for a in range(3):
        paths.mean_place[p, a] = place[a]
        paths.mean_normal[p, a] = normal[a]
        paths.mean_reflectance[p, a] = rho[a]
        paths.mean_transmittance[p, a] = tau[a]
    paths.mean_reach[p] = reach


@jit
def _look_at_blocks_one(paths, petal, lamp, state, i):
    rows, columns = state.shape
    face = face_of(lamp)
    stack = np.empty(96, dtype=np.int32)
    for j in range(columns):
        seen, asked = 0, 0
        for q in range(2):
            y = min(paths.rows - 1, i * BLOCK + (1 if q == 0 else 3))
            x = min(paths.width - 1, j * BLOCK + (1 if q == 0 else 2))
            p = y * paths.width + x
            if paths.mean_end[p] < 0:
                continue
            f = paths.leaf_face[paths.mean_end[p]]
            o = row(paths.mean_place, p)
            for m in range(5):
                asked += 1
                seen += _petal_lets_through(petal, f, o, _face_corner(face, m), stack)
        if asked == 0:
            state[i, j] = EMPTY
        else:
            state[i, j] = CLEAR if seen == asked else (HIDDEN if seen == 0 else MIXED)


@parallel
def look_at_blocks(paths, petal, lamp, state):
    """state (block rows, block columns) uint8: whether the petal hides the face from each block of pixels."""
    rows, columns = state.shape
    for i in numba.prange(rows):
        _look_at_blocks_one(paths, petal, lamp, state, i)


@jit
def _face_corner(face, m):
    """The face's centre (m = 0) and four points near its rim."""
    if m == 0:
        return face.centre
    k = 0.66 if face.disc else 0.95
    sx = k if m & 1 else -k
    sy = k if m & 2 else -k
    return along(along(face.centre, face.right, sx * face.half_width), face.up, sy * face.half_height)


@jit
def _petal_lets_through(petal, f, o, y, stack):
    """1 when no other part of the petal stands between a point of face f and y, 0 when it does."""
    to = sub(y, o)
    far = length(to)
    d = scale(to, 1.0 / far)
    side = 1.0 if dot(leaf.flat_normal(petal, f), d) > 0.0 else -1.0
    n = leaf.flat_normal(petal, f)
    lift = side * 5e-4 / sqrt(dot(n, n))
    return 0 if leaf.blocked(petal, along(o, n, lift), d, leaf.START, far * (1.0 - 1e-6), stack) else 1


@jit
def _block_state(state, paths, p, reach_blocks):
    """What the blocks around a pixel agree on; MIXED when they do not."""
    i, j = p // paths.width // BLOCK, p % paths.width // BLOCK
    found = EMPTY
    step = max(1, reach_blocks // 3)
    for a in range(-reach_blocks, reach_blocks + 1, step):
        for b in range(-reach_blocks, reach_blocks + 1, step):
            y, x = i + a, j + b
            if 0 <= y < state.shape[0] and 0 <= x < state.shape[1]:
                s = state[y, x]
                if s == EMPTY or s == found:
                    continue
                if found != EMPTY or s == MIXED:
                    return MIXED
                found = s
    return found if found != EMPTY else MIXED


@jit
def _look_at_drops_one(petal, drops, foot_face, lamp, state, shades, shade_count, k):
    face = face_of(lamp)
    stack = np.empty(96, dtype=np.int32)
    to = sub(face.centre, row(drops.centre, k))
    far = length(to)
    d = scale(to, 1.0 / far)
    r = drops.radius[k]
    shade_count[k] = drop.near_cone(
        drops, row(drops.centre, k), d, far, r, face.spread / far, k, shades[k], stack
    )
    n = row(drops.normal, k)
    s, t = basis(n)
    for side in range(2):
        seen, asked = 0, 0
        for a in range(5):
            lift = 1.0 if side == 0 else -0.02
            offset = (0.0, 0.0, lift * r) if a == 0 else _rim(a, r, 0.3 * r if side == 0 else -0.02 * r)
            o = along(in_frame(s, t, n, offset), row(drops.foot, k), 1.0)
            for m in range(5):
                y = _face_corner(face, m)
                to = sub(y, o)
                far = length(to)
                asked += 1
                if not leaf.blocked(petal, o, scale(to, 1.0 / far), leaf.START, far, stack):
                    seen += 1
        state[k, side] = CLEAR if seen == asked else (HIDDEN if seen == 0 else MIXED)


@parallel
def look_at_drops(petal, drops, foot_face, lamp, state, shades, shade_count):
    """Per drop: whether the petal hides the face from it (front, back), and the drops that may shade it."""
    for k in numba.prange(drops.radius.shape[0]):
        _look_at_drops_one(petal, drops, foot_face, lamp, state, shades, shade_count, k)


@jit
def _rim(a, r, lift):
    x = r if a == 1 else (-r if a == 2 else 0.0)
    y = r if a == 3 else (-r if a == 4 else 0.0)
    return x, y, lift


@jit
def shaded(drops, listed, count, skip, o, d, far):
    """Whether one of the listed drops stands in the way."""
    for c in range(count):
        k = listed[c]
        if k != skip and drop.in_the_way(drops, k, o, d, far):
            return True
    return False


@jit
def base_light(petal, drops, k, x, n, y, power, face, cards, state, shades, shade_count, softest, stack):
    """Irradiance at x on drop k's base (normal n) from the point y of a face, power = radiance times area."""
    r = drops.radius[k]
    c = row(drops.centre, k)
    to = sub(y, c)
    far = length(to)
    axis = scale(to, 1.0 / far)
    m = scale(sub(x, c), 1.0 / r)
    z = dot(m, axis)
    side = along(m, axis, -z)
    rho = length(side)
    side = scale(side, 1.0 / rho) if rho > 1e-9 else basis(axis)[0]
    s = far / r
    total = 0.0
    if state[k, 0] == HIDDEN:
        return 0.0
    for course in range(connect.INSIDE, connect.COURSES):
        progress = 0
        while True:
            i, progress = connect.next_root(rho, z, s, course, progress)
            if progress < 0:
                break
            sx, sz, dx, dz, stand1, run1, ci, cr, cw = connect.course_of(i, s, course)
            t = (rho - sx) * dx + (z - sz) * dz
            if t <= 0.0:
                continue
            d = along(scale(side, dx), axis, dz)
            cos_p = -dot(d, n)
            if cos_p <= 0.0:
                continue
            e = _at_angle(i, s, c, r, side, axis)
            if drop.height(drops, k, e) <= 0.0:
                continue
            if course == connect.INSIDE_AGAIN:
                turn = along(c, along(scale(side, sx), axis, sz), r)
                if drop.height(drops, k, turn) <= 0.0:
                    continue
            out = sub(y, e)
            reach = length(out)
            out = scale(out, 1.0 / reach)
            cos_y = -dot(out, face.out)
            if cos_y <= 0.0:
                continue
            if shaded(drops, shades[k], shade_count[k], k, e, out, reach) or hidden_by(cards, e, out, reach):
                continue
            if state[k, 0] == MIXED and leaf.blocked(petal, e, out, leaf.START, reach, stack):
                continue
            total += (
                cos_p
                * cos_y
                * connect.density(i, s, course, t, sx, dx, stand1, run1, ci, cr, cw, softest / r)
            )
    return total * power / (r * r)


@jit
def _at_angle(i, s, c, r, side, axis):
    """The entry point on the sphere of a ray with incidence i."""
    si = np.sin(i)
    ci = np.cos(i)
    sw = si / s
    cw = sqrt(1.0 - sw * sw)
    return along(c, along(scale(side, si * cw - ci * sw), axis, ci * cw + si * sw), r)


@jit
def gathered(drops, k, x, n, y, power, face, softest):
    """Irradiance at x on the dry petal (front normal n) that the point y of a face sends off or through drop k."""
    r = drops.radius[k]
    c = row(drops.centre, k)
    to = sub(y, c)
    far = length(to)
    axis = scale(to, 1.0 / far)
    m = scale(sub(x, c), 1.0 / r)
    z = dot(m, axis)
    side = along(m, axis, -z)
    rho = length(side)
    side = scale(side, 1.0 / rho) if rho > 1e-9 else basis(axis)[0]
    s = far / r
    total = 0.0
    for course in range(connect.INSIDE):
        progress = 0
        while True:
            i, progress = connect.next_root(rho, z, s, course, progress)
            if progress < 0:
                break
            sx, sz, dx, dz, stand1, run1, ci, cr, cw = connect.course_of(i, s, course)
            t = (rho - sx) * dx + (z - sz) * dz
            if t <= 0.0:
                continue
            d = along(scale(side, dx), axis, dz)
            cos_p = -dot(d, n)
            if cos_p <= 0.0:
                continue
            e = _at_angle(i, s, c, r, side, axis)
            leave = along(c, along(scale(side, sx), axis, sz), r)
            if drop.height(drops, k, e) <= 0.0 or drop.height(drops, k, leave) <= 0.0:
                continue
            if course == connect.ONCE_INSIDE and _inner_turn_below(drops, k, i, s, c, r, side, axis):
                continue
            cos_y = -dot(unit(sub(y, e)), face.out)
            if cos_y > 0.0:
                total += (
                    cos_p
                    * cos_y
                    * connect.density(i, s, course, t, sx, dx, stand1, run1, ci, cr, cw, softest / r)
                )
    return total * power / (r * r)


@jit
def _inner_turn_below(drops, k, i, s, c, r, side, axis):
    """Whether the inner mirroring point of the once-inside course lies below the petal."""
    x, z, _, _, _, _, _, _, _ = connect.course_of(i, s, connect.THROUGH)
    return drop.height(drops, k, along(c, along(scale(side, x), axis, z), r)) <= 0.0


@jit
def _strong(reach, drops, k, x, to_light, least):
    """Whether drop k may send more than `least` of a parallel beam to x."""
    m = sub(x, row(drops.centre, k))
    far = length(m)
    if far <= drops.radius[k]:
        return True
    c = dot(m, to_light) / far
    a = min(connect.REACH_COSINES - 1, max(0, int((c + 1.0) * 0.5 * (connect.REACH_COSINES - 1) + 0.5)))
    b = min(connect.REACH_STEPS - 1, int(drops.radius[k] / far * (connect.REACH_STEPS - 1) + 0.5))
    return reach[a, b] > least


@jit
def strong_drops(reach, drops, near, near_first, near_last, x, to_light, least, found):
    """Those of the listed drops that may send more than `least` of the beam to x; returns how many."""
    n = 0
    for q in range(near_first, near_last):
        if n < found.shape[0] and _strong(reach, drops, near[q], x, to_light, least):
            found[n] = near[q]
            n += 1
    return n


@jit
def leaf_end(
    petal,
    drops,
    cards,
    face,
    f,
    u,
    v,
    y,
    power,
    view,
    blocking,
    n_blocking,
    gathering,
    n_gathering,
    mixed,
    hidden,
    softest,
    stack,
):
    """What the face's point y sends to the petal's point (f, u, v).

    Returns irradiance on the front, on the back, gloss radiance and the matt factor toward `view`, and whether the
    straight line is free.
    """
    x = leaf.place(petal, f, u, v)
    n = leaf.normal_at(petal, f, u, v)
    ng = leaf.flat_normal(petal, f)
    to = sub(y, x)
    far = length(to)
    d = scale(to, 1.0 / far)
    cos_n, cos_g = dot(n, d), dot(ng, d)
    front, back = 0.0, 0.0
    free = False
    cos_y = -dot(d, face.out)
    if cos_y > 0.0 and not hidden and (cos_n > 0.0) == (cos_g > 0.0):
        free = cos_g < 0.0 or not shaded(drops, blocking, n_blocking, -1, x, d, far)
        if free and mixed:
            free = _petal_lets_through(petal, f, x, y, stack) == 1
        free = free and not hidden_by(cards, x, d, far)
        if free:
            e = power * cos_y * cos_n / (far * far)
            if cos_n > 0.0:
                front = e
            else:
                back = -e
    matt, gloss = 1.0, 0.0
    if petal.gloss > 0.0:
        side = 1.0 if dot(n, view) > 0.0 else -1.0
        matt, gloss = response(petal.gloss, petal.gloss_mean, petal.roughness, scale(n, side), view, d)
        gloss *= front if side > 0.0 else back
    if cos_g > 0.0:
        for c in range(n_gathering):
            front += gathered(drops, gathering[c], x, n, y, power, face, softest)
    return front, back, gloss, matt, free


@jit
def put(target, p, colour, k):
    target[p, 0] += colour[0] * k
    target[p, 1] += colour[1] * k
    target[p, 2] += colour[2] * k


@jit
def part_of(parts, tag):
    if tag & PART == SURFACE_PART:
        return parts.surface
    if tag & PART == WATER_PART:
        return parts.water
    return parts.petal


@jit
def _clear_pixel(paths, petal, face, p, lens_at, parts, hidden):
    """A pixel wholly on the petal with nothing in the light's way (or hidden by the petal altogether)."""
    x = row(paths.mean_place, p)
    n = row(paths.mean_normal, p)
    front, back, gloss, matt = 0.0, 0.0, 0.0, 1.0
    if not hidden:
        front, back = bare_irradiance(face, x, n)
        if petal.gloss > 0.0:
            view = unit(sub(lens_at, x))
            matt, gloss = response(
                petal.gloss, petal.gloss_mean, petal.roughness, n, view, unit(sub(face.centre, x))
            )
    put(parts.petal, p, row(paths.mean_reflectance, p), front * matt / pi)
    put(parts.petal, p, row(paths.mean_transmittance, p), back / pi)
    put(parts.petal, p, (1.0, 1.0, 1.0), front * gloss)
    parts.lit[p] = 0.0 if hidden else 1.0


@jit
def _add_direct_one(
    paths,
    petal,
    drops,
    foot_face,
    cards,
    lamp,
    reach,
    near,
    near_start,
    blocks,
    drop_state,
    shades,
    shade_count,
    seed,
    lens_place,
    pixel_mm,
    least,
    parts,
    r,
):
    face = face_of(lamp)
    lens_at = lens_place[0], lens_place[1], lens_place[2]
    stack = np.empty(96, dtype=np.int32)
    blocking = np.empty(CANDIDATES, dtype=np.int32)
    gathering = np.empty(CANDIDATES, dtype=np.int32)
    for x_pixel in range(paths.width):
        p = r * paths.width + x_pixel
        number = paths.first + p
        has_leaf = paths.leaf_start[p + 1] > paths.leaf_start[p]
        if has_leaf and paths.mean_end[p] >= 0:
            x = row(paths.mean_place, p)
            spread = paths.mean_reach[p]
            to = sub(face.centre, x)
            far = length(to)
            to = scale(to, 1.0 / far)
            n_blocking = drop.near_cone(drops, x, to, far, spread, face.spread / far, -1, blocking, stack)
            first = near_start[r // BLOCK // 2, x_pixel // BLOCK // 2, 0]
            last = near_start[r // BLOCK // 2, x_pixel // BLOCK // 2, 1]
            n = row(paths.mean_normal, p)
            floor = least * max(0.1, abs(dot(n, to)))
            n_gathering = strong_drops(reach, drops, near, first, last, x, to, floor, gathering)
            blocks_off = 1 + int(spread / (pixel_mm * BLOCK))
            state = _block_state(blocks, paths, p, blocks_off)
            if (
                paths.whole[p] == 1
                and n_blocking == 0
                and n_gathering == 0
                and state != MIXED
                and cards.frame.shape[0] == 0
            ):
                _clear_pixel(paths, petal, face, p, lens_at, parts, state == HIDDEN)
                continue
            _leaf_pixel(
                paths,
                petal,
                drops,
                cards,
                face,
                p,
                number,
                seed,
                lens_at,
                pixel_mm,
                blocking,
                n_blocking,
                gathering,
                n_gathering,
                state,
                parts,
                stack,
            )
        elif has_leaf:
            _leaf_pixel(
                paths,
                petal,
                drops,
                cards,
                face,
                p,
                number,
                seed,
                lens_at,
                pixel_mm,
                blocking,
                0,
                gathering,
                0,
                MIXED,
                parts,
                stack,
            )
        _base_pixel(
            paths,
            petal,
            drops,
            cards,
            face,
            p,
            number,
            seed,
            pixel_mm,
            drop_state,
            shades,
            shade_count,
            parts,
            stack,
        )


@parallel
def add_direct(
    paths,
    petal,
    drops,
    foot_face,
    cards,
    lamp,
    reach,
    near,
    near_start,
    blocks,
    drop_state,
    shades,
    shade_count,
    seed,
    lens_place,
    pixel_mm,
    least,
    parts,
):
    """Add to `parts` what one face sends to every kept path that ends on the petal or on a wet base."""
    for r in numba.prange(paths.rows):
        _add_direct_one(
            paths,
            petal,
            drops,
            foot_face,
            cards,
            lamp,
            reach,
            near,
            near_start,
            blocks,
            drop_state,
            shades,
            shade_count,
            seed,
            lens_place,
            pixel_mm,
            least,
            parts,
            r,
        )


@jit
def _leaf_pixel(
    paths,
    petal,
    drops,
    cards,
    face,
    p,
    number,
    seed,
    lens_at,
    pixel_mm,
    blocking,
    n_blocking,
    gathering,
    n_gathering,
    state,
    parts,
    stack,
):
    scramble = key(seed, number, LIGHT)
    mirror_scramble = key(seed, number, MIRROR_LIGHT)
    seen, free_count = 0, 0
    for e in range(paths.leaf_start[p], paths.leaf_start[p + 1]):
        f, u, v = paths.leaf_face[e], paths.leaf_uv[e, 0], paths.leaf_uv[e, 1]
        tag = paths.leaf_tag[e]
        straight = tag & PART == 0
        number_here = e - paths.leaf_start[p]
        a, b = pair_of(scramble if straight else mirror_scramble, number_here)
        y, power = point_on(face, a, b)
        x = leaf.place(petal, f, u, v)
        view = unit(sub(lens_at, x))
        if straight:
            front, back, gloss, matt, free = leaf_end(
                petal,
                drops,
                cards,
                face,
                f,
                u,
                v,
                y,
                power,
                view,
                blocking,
                n_blocking,
                gathering,
                n_gathering,
                state == MIXED,
                state == HIDDEN,
                pixel_mm,
                stack,
            )
            seen += 1
            free_count += 1 if free else 0
        else:
            front, back = _mirrored_leaf(petal, drops, cards, face, f, u, v, y, power, stack)
            gloss, matt = 0.0, 1.0
        if not tag & FRONT:
            front, back = back, front
        k = paths.leaf_weight[e] / paths.samples
        part = part_of(parts, tag)
        put(part, p, leaf.blend(petal.reflectance, petal.face, f, u, v), k * front * matt / pi)
        put(part, p, leaf.blend(petal.transmittance, petal.face, f, u, v), k * back / pi)
        put(part, p, (1.0, 1.0, 1.0), k * gloss)
    if seen > 0:
        parts.lit[p] = free_count / seen


@jit
def _mirrored_leaf(petal, drops, cards, face, f, u, v, y, power, stack):
    """Irradiance on front and back of the petal's point seen by way of a drop: straight light with its shadows."""
    x = leaf.place(petal, f, u, v)
    n = leaf.normal_at(petal, f, u, v)
    to = sub(y, x)
    far = length(to)
    d = scale(to, 1.0 / far)
    cos_n, cos_y = dot(n, d), -dot(d, face.out)
    if cos_y <= 0.0 or (cos_n > 0.0) != (dot(leaf.flat_normal(petal, f), d) > 0.0):
        return 0.0, 0.0
    if _petal_lets_through(petal, f, x, y, stack) == 0 or hidden_by(cards, x, d, far):
        return 0.0, 0.0
    e = power * cos_y * cos_n / (far * far)
    if cos_n < 0.0:
        return 0.0, -e
    t, _ = drop.enter(drops, x, d, 1e-5, far, -1, stack)
    return (e, 0.0) if t == inf else (0.0, 0.0)


@jit
def _base_pixel(
    paths, petal, drops, cards, face, p, number, seed, pixel_mm, drop_state, shades, shade_count, parts, stack
):
    scramble = key(seed, number, LIGHT)
    for e in range(paths.base_start[p], paths.base_start[p + 1]):
        k = paths.base_drop[e]
        f, u, v = paths.base_face[e], paths.base_uv[e, 0], paths.base_uv[e, 1]
        a, b = pair_of(scramble, e - paths.base_start[p])
        y, power = point_on(face, a, b)
        x = leaf.place(petal, f, u, v)
        n = leaf.normal_at(petal, f, u, v)
        front = base_light(
            petal, drops, k, x, n, y, power, face, cards, drop_state, shades, shade_count, pixel_mm, stack
        )
        back = behind(petal, f, x, n, y, power, face, cards, drop_state[k, 1], stack)
        w = paths.base_weight[e] / (paths.samples * pi)
        part = part_of(parts, paths.base_tag[e])
        put(part, p, leaf.blend(petal.reflectance, petal.face, f, u, v), w * front)
        put(part, p, leaf.blend(petal.transmittance, petal.face, f, u, v), w * back)


@jit
def behind(petal, f, x, n, y, power, face, cards, state, stack):
    """Irradiance on the back of the petal at x from the point y of a face."""
    if state == HIDDEN:
        return 0.0
    to = sub(y, x)
    far = length(to)
    d = scale(to, 1.0 / far)
    cos_n, cos_y = dot(n, d), -dot(d, face.out)
    if cos_n >= 0.0 or cos_y <= 0.0 or dot(leaf.flat_normal(petal, f), d) >= 0.0:
        return 0.0
    if state == MIXED and _petal_lets_through(petal, f, x, y, stack) == 0:
        return 0.0
    if hidden_by(cards, x, d, far):
        return 0.0
    return -power * cos_y * cos_n / (far * far)
