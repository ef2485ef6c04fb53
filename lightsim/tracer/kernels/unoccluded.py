"""What cards, petal and drops leave of the light that a face sends straight to a place of the petal: of one
of its points, of its strips, or of all of it past the petal's skyline."""

from __future__ import annotations

from lightsim.tracer.kernels import drop_spheres, petal_mesh, skyline
from lightsim.tracer.kernels.camera_paths import FRONT
from lightsim.tracer.kernels.drop_shadow import FEW_STRIPS, bare_at, left_of_face, sides_lit
from lightsim.tracer.kernels.drop_visibility import HIDDEN, MIXED, face_corner, petal_lets_through, shaded
from lightsim.tracer.kernels.emitters import hidden_by
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.vectors import dot, length, row, scale, sub
from lightsim.tracer.kernels.visibility_cache import front_normal


@jit
def in_sight(cards, face, x):
    """Whether a card stands between x and one of nine points of the face."""
    if cards.frame.shape[0] + cards.body.shape[0] == 0:
        return False
    for m in range(9):
        to = sub(face_corner(face, m), x)
        far = length(to)
        if hidden_by(cards, x, scale(to, 1.0 / far), far):
            return True
    return False


@jit
def straight_light(petal, drops, cards, face, f, x, n, y, power, blocking, n_blocking, seen, stack):
    """Irradiance at point x of face f straight from the face's point y, negative on the back. seen: whether
    the petal lets it through, MIXED where that is to be found out."""
    if seen == HIDDEN:
        return 0.0
    ng = petal_mesh.flat_normal(petal, f)
    to = sub(y, x)
    far = length(to)
    d = scale(to, 1.0 / far)
    cos_n, cos_g, cos_y = dot(n, d), dot(ng, d), -dot(d, face.out)
    if cos_y <= 0.0 or (cos_n > 0.0) != (cos_g > 0.0):
        return 0.0
    if cos_g > 0.0 and shaded(drops, blocking, n_blocking, -1, x, d, far):
        return 0.0
    if seen == MIXED and petal_lets_through(petal, f, x, y, stack) == 0:
        return 0.0
    if hidden_by(cards, x, d, far):
        return 0.0
    return power * cos_y * cos_n / (far * far)


@jit
def left_known(on_front, seen_front, free, free_back, cast):
    """Share of the light on the front or the back of the petal that what is already known leaves."""
    share = free if on_front == seen_front else free_back
    share = share if share >= 0.0 else 1.0
    return share * cast if on_front and cast >= 0.0 else share


@jit
def left_to_path(drops, face, about, x, n, seen_front, blocking, n_blocking, free, free_back, cast, at):
    """Irradiance on the side seen and the other at a path's end x (front normal n) where it is known what the
    petal leaves; cast < 0: what the drops leave is not. at: see `left_of_face`."""
    front, back = bare_at(about, face, x, n)
    if cast < 0.0:
        cast = 1.0
        if front > 0.0:
            cast = left_of_face(drops, face, blocking, n_blocking, x, n, FEW_STRIPS, at)
    front *= cast
    return (front * free, back * free_back) if seen_front else (back * free, front * free_back)


@jit
def past_skyline_of_path(
    drops, face, looks, terms, width, x, n, seen_front, at, blocking, n_blocking, cast, tops
):
    """Irradiance on the side seen and the other at a path's end x (front normal n) by the petal's skyline
    between the blocks, and how high that stands in the face's middle; -1, -1 where that does not tell. at:
    which strip of the face it asks, 0 to 1."""
    lit, top = sides_lit(face, x, n), skyline.UNKNOWN
    front, back = 0.0, 0.0
    size = terms.lens_at[2] / ((terms.lens_at[2] - x[2]) * terms.pixel_mm)
    column, line = 0.5 * width + x[0] * size, 0.5 * terms.height - x[1] * size
    for q in range(2):
        if not lit[q]:
            continue
        light = skyline.by_strip(
            looks, column, line, drops, face, at, x, scale(n, 1.0 if q == 0 else -1.0), q, blocking,
            n_blocking if q == 0 else 0, tops,
        )  # fmt: skip
        if light < 0.0:
            return -1.0, -1.0, top
        if q == 0:
            front = light * (cast if cast >= 0.0 else 1.0)
        else:
            back = light
        if seen_front == (q == 0):
            top = skyline.in_the_middle(tops)
    return (front, back, top) if seen_front else (back, front, top)


@jit
def past_skyline_of_pixel(
    paths, petal, drops, face, looks, row_sky, p, bare, back, cast, blocking, n_blocking, pixel_mm, tops
):
    """Share that petal and drops leave of the unhindered light on the side seen (bare) and the other (back)
    of a pixel in focus, by the petal's skyline, and how high that stands in the face's middle; -1, -1 where
    it does not tell. cast: see `_sharp_pixel`."""
    n, seen = front_normal(paths, p), 0 if paths.petal_tag[paths.mean_end[p]] & FRONT else 1
    free, free_back, top = 1.0, 1.0, skyline.UNKNOWN
    for q in range(2):
        if (bare if q == seen else back) <= 0.0:
            continue
        one = skyline.left_of_pixel(
            row_sky, looks, paths, petal, drops, face, p, scale(n, 1.0 if q == 0 else -1.0), q, blocking,
            n_blocking if q == 0 else 0, pixel_mm, tops,
        )  # fmt: skip
        if one < 0.0:
            return -1.0, -1.0, top
        one *= max(cast, 0.0) if q == 0 and n_blocking == 0 else 1.0
        free, free_back = (one, free_back) if q == seen else (free, one)
        top = skyline.in_the_middle(tops) if q == seen else top
    return free, free_back, top


@jit
def near_run(paths, drops, face, p, many, listed, stack):
    """Fill `listed` with the drops that may shade pixel p or one of the `many` from it on; returns how many
    there are."""
    x = row(paths.mean_place, p)
    reach = 0.0
    for q in range(p, p + many):
        if paths.mean_end[q] >= 0:
            reach = max(reach, length(sub(row(paths.mean_place, q), x)) + paths.mean_reach[q])
    to = sub(face.centre, x)
    far = length(to)
    widen = face.spread / max(far - reach, 0.1 * far)  # a light that the run reaches has all drops about it
    return drop_spheres.near_cone(drops, x, scale(to, 1.0 / far), far, reach, widen, -1, listed, stack)
