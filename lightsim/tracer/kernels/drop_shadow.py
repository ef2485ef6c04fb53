"""What drops leave of a face's light at a point of the petal: strip by strip of the face, along each of which
the edge of a drop is found in closed form, so that half-shadows have no grain."""

from __future__ import annotations

from math import copysign, inf, sqrt
from typing import NamedTuple

import numpy as np

from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.caustic_sampling import FINE_SAMPLES
from lightsim.tracer.kernels.emitters import Vector, vector_irradiance
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.strip_integral import above, sent, strip_of, toward_part
from lightsim.tracer.kernels.vectors import along, dot, length, row, scale, sub

STRIPS, FEW_STRIPS = 8, 4  # of a face, asked from one point or from each of several
PLACE, COUNTS = np.polynomial.legendre.leggauss(STRIPS)
BROAD, FINE = 6.0, 1.5  # pixels: a half-shadow so wide is asked for at one point of a pixel; at four
STEPS, HALVINGS = 6, 4  # to find where in a strip the petal's plane cuts a drop off
PLACES = 4  # points of a pixel, the first of its paths', which are spread evenly over it


@jit
def _covered(drops, k, o, start, way, begin, end):
    """From where to where a strip of a face, start + t way from o for begin < t < end, lies behind drop k's
    sphere; the first is the greater for nowhere.

    A ray along p meets the sphere where (m.p)^2 >= (m.m - r^2) p.p and m.p > 0, with m from o to its centre:
    a quadratic in t.
    """
    m = sub(row(drops.centre, k), o)
    tangent = dot(m, m) - drops.radius[k] * drops.radius[k]
    if tangent <= 0.0:
        return begin, end
    a, b = dot(m, start), dot(m, way)
    q0 = a * a - tangent * dot(start, start)
    q1 = a * b - tangent * dot(start, way)
    q2 = b * b - tangent
    square = q1 * q1 - q2 * q0
    if square <= 0.0 or q2 == 0.0:
        return end, begin
    w = -q1 - copysign(sqrt(square), q1)
    low, high = min(w / q2, q0 / w), max(w / q2, q0 / w)
    if q2 > 0.0:  # the sphere's outline on the face's plane is a hyperbola, of which one branch counts
        low, high = (high, end) if b > 0.0 else (begin, low)
    elif a + 0.5 * b * (low + high) <= 0.0:
        return end, begin
    return max(low, begin), min(high, end)


@jit
def crosses_upright(drops, face, listed, count, o):
    """Whether the nearest edge of a drop is crossed by strips along the face's upright side rather than by
    such along the other."""
    to = sub(face.centre, o)
    far = length(to)
    to = scale(to, 1.0 / far)
    nearest, aside, high = inf, 1.0, 0.0
    for c in range(count):
        k = listed[c]
        m = sub(row(drops.centre, k), o)
        off = along(m, to, -dot(m, to))
        gap = abs(length(off) - drops.radius[k]) / length(m)
        if gap < nearest:
            nearest, aside, high = gap, abs(dot(off, face.right)), abs(dot(off, face.up))
    return aside < high


@jit
def _across(drops, face, listed, count, o):
    """The face's axes, along the strips and across, with half its sides: so that strips run across the
    nearest edge of a drop."""
    if crosses_upright(drops, face, listed, count, o):
        return face.up, face.half_height, face.right, face.half_width
    return face.right, face.half_width, face.up, face.half_height


@jit
def _stands(drops, k, o, start, way, t):
    """Whether the part of drop k above the petal is in the way of a strip's place t."""
    p = along(start, way, t)
    far = length(p)
    return drop_spheres.in_the_way(drops, k, o, scale(p, 1.0 / far), far)


@jit
def _edge(drops, k, o, start, way, inside, outside):
    """Where between two places of a strip, of which drop k hides the first only, its part above the petal
    ends."""
    for _ in range(HALVINGS):
        middle = 0.5 * (inside + outside)
        if _stands(drops, k, o, start, way, middle):
            inside = middle
        else:
            outside = middle
    return 0.5 * (inside + outside)


@jit
def drop_hides(drops, k, o, start, way, begin, end):
    """As `_covered`, by the part of the drop that is above the petal.

    The petal's plane at the drop's foot cuts nothing off where rays go up from no further below it than the
    drop's skirt; else the part is looked for.
    """
    low, high = _covered(drops, k, o, start, way, begin, end)
    if low >= high:
        return low, high
    up = row(drops.normal, k)
    rises = min(dot(along(start, way, low), up), dot(along(start, way, high), up))
    if rises >= 0.0 and drop_spheres.height(drops, k, o) >= -drop_spheres.SKIRT:
        return low, high
    first, last, step = 0.0, 0.0, (high - low) / STEPS
    found = False
    for i in range(STEPS):
        t = low + (i + 0.5) * step
        if _stands(drops, k, o, start, way, t):
            first, last = t if not found else first, t
            found = True
    if not found:
        return end, begin
    if first > low + step:
        low = _edge(drops, k, o, start, way, first, first - step)
    if last < high - step:
        high = _edge(drops, k, o, start, way, last, last + step)
    return low, high


@jit
def _left_of_strip(drops, listed, count, o, strip, begin, end):
    """What of the light between two places of a strip the listed drops leave, piece by piece."""
    free, t = 0.0, begin
    while t < end:
        covered, until = t, end
        for c in range(count):
            low, high = drop_hides(drops, listed[c], o, strip.start, strip.way, begin, end)
            if high <= t or low >= until:
                continue
            if low <= t:
                covered = max(covered, high)
            else:
                until = low
        if covered > t:
            t = covered
            continue
        free += sent(strip, t, until)
        t = until
    return free


@jit
def sent_past(drops, listed, count, o, strip, begin, end, whole):
    """What of the light between two places of a strip, the whole of it, the listed drops leave."""
    met, low, high = 0, 0.0, 0.0
    for c in range(count):
        a, b = drop_hides(drops, listed[c], o, strip.start, strip.way, begin, end)
        if a < b:
            met, low, high = met + 1, a, b
    if met > 1:
        return _left_of_strip(drops, listed, count, o, strip, begin, end)
    return whole - (sent(strip, low, high) if met == 1 else 0.0)


@jit
def _place_of(strips, at, i):
    """Where across a face strip i of so many lies, -1 to 1, and what it counts."""
    if at < 0.0:
        return PLACE[i], COUNTS[i]
    return 2.0 * (i + at) / strips - 1.0, 2.0 / strips


@jit
def left_of_face(drops, face, listed, count, o, n, strips, at):
    """Share that the listed drops leave of a face's light on a surface at o with the normal n.

    at : where in its even part of the face each strip lies, 0 to 1: different for each of several such
    questions, whose strips together lie evenly, or 0.5; -1 for STRIPS at Gauss and Legendre's places.
    """
    to = sub(face.centre, o)
    way, widest, up, half_height = _across(drops, face, listed, count, o)
    front, free = 0.0, 0.0
    for i in range(strips):
        v, wide = _place_of(strips, at, i)
        half = widest * sqrt(1.0 - v * v) if face.disc else widest
        start = along(to, up, v * half_height)
        begin, end = above(n, start, way, half)
        if begin >= end:
            continue
        strip = strip_of(n, start, way)
        whole = sent(strip, begin, end)
        front += wide * whole
        free += wide * sent_past(drops, listed, count, o, strip, begin, end, whole)
    return min(max(free / front, 0.0), 1.0) if front > 0.0 else 1.0


@jit
def _sent_to_front(face, x, n, way, half_width, up, half_height):
    """Irradiance of a surface's front at x with normal n, per unit of the face's radiance: strips along
    `way`, each as far as it is above the horizon."""
    to = sub(face.centre, x)
    total = 0.0
    for i in range(STRIPS):
        half = half_width * sqrt(1.0 - PLACE[i] * PLACE[i]) if face.disc else half_width
        start = along(to, up, PLACE[i] * half_height)
        begin, end = above(n, start, way, half)
        if begin < end:
            total += COUNTS[i] * sent(strip_of(n, start, way), begin, end)
    return -total * half_height * dot(to, face.out)


@jit
def _across_horizon(face, n):
    """The face's axes, along the strips and across, with half its sides: so that strips run across the
    horizon of a surface with the normal n."""
    way, half_width, up, half_height = face.right, face.half_width, face.up, face.half_height
    if abs(dot(n, way)) * half_width < abs(dot(n, up)) * half_height:
        return up, half_height, way, half_width
    return way, half_width, up, half_height


@jit
def toward_light(face, x, n):
    """Where a face's light comes from on average on a surface at x with the normal n, from x on: the face's
    middle or, where the horizon cuts the face, the middle of what is above it."""
    to = sub(face.centre, x)
    if dot(n, to) >= face.spread:
        return to
    way, half, _, _ = _across_horizon(face, n)
    return toward_part(n, to, way, half, -half, face.disc)


@jit
def sides_lit(face, x, n):
    """Whether some of a face is above the horizon of a surface at x on the side of the normal n, and on the
    other; of a round face, of the square about it."""
    to = sub(face.centre, x)
    if dot(to, face.out) >= 0.0:
        return False, False
    over = dot(n, to)
    reach = abs(dot(n, face.right)) * face.half_width + abs(dot(n, face.up)) * face.half_height
    return over > -reach, over < reach


class Bare(NamedTuple):
    """What an unhindered face sends to places about one: that place, flux of the face in all, by how much
    the irradiance as a vector is more there than if all came from the face's middle."""

    x: Vector
    flux: float
    more: Vector


@jit
def bare_about(face, x):
    """What an unhindered face sends to places about x."""
    flux = 0.0
    for m in range(face.flux.shape[0]):
        flux += face.flux[m]
    return Bare(x, flux, sub(vector_irradiance(face, x), _from_middle(face, flux, sub(face.centre, x))))


@jit
def _from_middle(face, flux, to):
    """Irradiance as a vector if all of a face's flux came from its middle, `to` off."""
    r2 = dot(to, to)
    return scale(to, flux * max(-dot(to, face.out), 0.0) / (r2 * r2))


@jit
def bare_at(about, face, x, n):
    """Irradiance at x from the unhindered and even face on the side of the normal n and on the other; x lies
    near the place of `about`."""
    to = sub(face.centre, x)
    if dot(to, face.out) >= 0.0:
        return 0.0, 0.0
    over = dot(n, to)
    if abs(over) >= face.spread:
        light = dot(n, along(about.more, _from_middle(face, about.flux, to), 1.0))
        return max(light, 0.0), max(-light, 0.0)
    radiance = face.radiance[0, 0]
    way, half_width, up, half_height = _across_horizon(face, n)
    front = _sent_to_front(face, x, n, way, half_width, up, half_height)
    back = _sent_to_front(face, x, scale(n, -1.0), way, half_width, up, half_height)
    return radiance * front, radiance * back


@jit
def width_of_edge(drops, face, o, listed, count):
    """How wide the narrowest half-shadow of the listed drops is at o, mm."""
    nearest = inf  # to where a ray touches a drop
    for c in range(count):
        m = sub(row(drops.centre, listed[c]), o)
        nearest = min(nearest, dot(m, m) - drops.radius[listed[c]] ** 2)
    return 2.0 * face.spread * sqrt(max(nearest, 0.0)) / length(sub(face.centre, o))


@jit
def left_of_pixel(paths, petal, drops, face, p, n, listed, count, pixel_mm):
    """Share that the listed drops leave of a face's light on the front of a pixel that sees the petal wholly
    and in focus, n its normal there; -1 where a half-shadow is finer than that asks for."""
    o = row(paths.mean_place, p)
    wide = width_of_edge(drops, face, o, listed, count) / pixel_mm
    if wide < FINE:
        return -1.0
    if paths.samples < FINE_SAMPLES:  # for a quick look
        return left_of_face(drops, face, listed, count, o, n, FEW_STRIPS, 0.5)
    if wide >= BROAD:
        return left_of_face(drops, face, listed, count, o, n, STRIPS, -1.0)
    first, many, total = paths.petal_start[p], min(PLACES, paths.samples), 0.0
    for e in range(first, first + many):
        o = petal_mesh.place(petal, int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1])
        total += left_of_face(drops, face, listed, count, o, n, FEW_STRIPS, (e - first + 0.5) / many)
    return total / many
