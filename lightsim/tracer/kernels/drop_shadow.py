"""Penumbrae of drops, and unoccluded light: an emitter strip by strip, along each of which the edge of a drop
is found in closed form, so that penumbrae have no grain."""

from __future__ import annotations

from math import copysign, inf, sqrt
from typing import NamedTuple

from lightsim.tracer.kernels import drop_spheres, petal_mesh
from lightsim.tracer.kernels.emitters import Vector, vector_irradiance
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.strip_integral import above, crowded, gauss_legendre, sent, strip_of, toward_part
from lightsim.tracer.kernels.vectors import along, cross, dot, length, row, scale, sub


class ShadowCounts(NamedTuple):
    """How finely drops' penumbrae are integrated."""

    strips: int = 8  # of an emitter, from one point
    few_strips: int = 4  # and from each of several
    between: int = 6  # strips of a part of an emitter between two ends of outlines
    least: float = 0.002  # of half an emitter between two of them
    apart: int = 16  # drops whose outlines are told apart; with more of them steps are fine anyway
    broad_px: float = 6.0  # a penumbra so wide is found at one point of a pixel
    fine_px: float = 1.5  # and one so wide at `places` points
    steps: int = 6  # to find where in a strip the petal's plane cuts a drop off
    halvings: int = 4  # of a step, after that
    places: int = 4  # points of a pixel, the first of its paths', which are spread evenly over it


SHADOW = ShadowCounts()


ACROSS = gauss_legendre(SHADOW.strips)
BETWEEN = crowded(SHADOW.between)


@jit
def _covered(drops, k, o, start, way, begin, end):
    """From where to where a strip of an emitter, start + t way from o for begin < t < end, lies behind
    drop k's sphere; the first is the greater for nowhere.

    A ray along p meets the sphere where (m.p)^2 >= (m.m - r^2) p.p and m.p > 0, with m from o to its
    centre: a quadratic in t.
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
    if q2 > 0.0:  # the sphere's outline on the emitter's plane is a hyperbola, of which one branch counts
        low, high = (high, end) if b > 0.0 else (begin, low)
    elif a + 0.5 * b * (low + high) <= 0.0:
        return end, begin
    return max(low, begin), min(high, end)


@jit
def crosses_upright(blockers, emitter, o):
    """Whether strips along the emitter's height cross the nearest drop's edge, rather than along its
    width."""
    to = sub(emitter.centre, o)
    far = length(to)
    to = scale(to, 1.0 / far)
    nearest, aside, high = inf, 1.0, 0.0
    for c in range(blockers.many):
        k = blockers.listed[c]
        m = sub(row(blockers.drops.centre, k), o)
        off = along(m, to, -dot(m, to))
        gap = abs(length(off) - blockers.drops.radius[k]) / length(m)
        if gap < nearest:
            nearest, aside, high = gap, abs(dot(off, emitter.right)), abs(dot(off, emitter.up))
    return aside < high


@jit
def _across(blockers, emitter, o):
    """The emitter's axes, along the strips and across, with half its sides: so that strips cross the nearest
    drop's edge."""
    if crosses_upright(blockers, emitter, o):
        return emitter.up, emitter.half_height, emitter.right, emitter.half_width
    return emitter.right, emitter.half_width, emitter.up, emitter.half_height


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
    for _ in range(SHADOW.halvings):
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
    first, last, step = 0.0, 0.0, (high - low) / SHADOW.steps
    found = False
    for i in range(SHADOW.steps):
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
def _sent_past_several(blockers, o, strip, begin, end):
    """As `sent_past`, piece by piece between the drops."""
    free, t = 0.0, begin
    while t < end:
        covered, until = t, end
        for c in range(blockers.many):
            low, high = drop_hides(blockers.drops, blockers.listed[c], o, strip.start, strip.way, begin, end)
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
def sent_past(blockers, o, strip, begin, end, whole):
    """What gets past the drops of the light between two places of a strip, the whole of it."""
    met, low, high = 0, 0.0, 0.0
    for c in range(blockers.many):
        a, b = drop_hides(blockers.drops, blockers.listed[c], o, strip.start, strip.way, begin, end)
        if a < b:
            met, low, high = met + 1, a, b
    if met > 1:
        return _sent_past_several(blockers, o, strip, begin, end)
    return whole - (sent(strip, low, high) if met == 1 else 0.0)


@jit
def _outline_ends(drops, k, o, to, way, across, half):
    """Where across an emitter, -1 to 1, the outline of drop k's sphere as seen from o begins and ends; beyond
    the emitter for nowhere.

    Seen from o a strip is the plane through o along `way`; it touches the sphere where the sphere's centre is
    a radius away from it, which is a quadratic in the strip's place.
    """
    m = sub(row(drops.centre, k), o)
    square = drops.radius[k] * drops.radius[k]
    middle, aside = cross(to, way), scale(cross(across, way), half)
    a, b = dot(m, middle), dot(m, aside)
    q0 = a * a - square * dot(middle, middle)
    q1 = a * b - square * dot(middle, aside)
    q2 = b * b - square * dot(aside, aside)
    root = q1 * q1 - q2 * q0
    if root <= 0.0 or q2 == 0.0:
        return inf, inf
    w = -q1 - copysign(sqrt(root), q1)
    return w / q2, q0 / w


@jit
def _rim_ends(drops, k, o, to, way, across, half):
    """Where across an emitter, -1 to 1, the strips lie through which o sees the ends of drop k's rim on the
    petal; beyond the emitter for nowhere.

    In the petal's plane these are the tangents from o to the drop's base, a circle.
    """
    up, off = row(drops.normal, k), sub(row(drops.foot, k), o)
    off = along(off, up, -dot(off, up))
    height = dot(sub(row(drops.centre, k), row(drops.foot, k)), up)
    rim = drops.radius[k] * drops.radius[k] - height * height
    far = dot(off, off)
    if far <= rim or rim <= 0.0:
        return inf, inf
    ahead, aside = scale(off, sqrt(far - rim)), scale(cross(up, off), sqrt(rim))
    middle, turn = cross(to, way), scale(cross(across, way), half)
    one, other = along(ahead, aside, 1.0), along(ahead, aside, -1.0)
    first, second = dot(turn, one), dot(turn, other)
    return (
        -dot(middle, one) / first if first != 0.0 else inf,
        -dot(middle, other) / second if second != 0.0 else inf,
    )


@jit
def _next_end(blockers, o, to, axes, after):
    """The first place beyond `after` across an emitter at which a drop's outline, or its rim, begins or ends;
    1 for none. axes: see `_across`."""
    way, _, across, half = axes
    found = 1.0
    for c in range(blockers.many):
        k = blockers.listed[c]
        a, b = _outline_ends(blockers.drops, k, o, to, way, across, half)
        e, f = _rim_ends(blockers.drops, k, o, to, way, across, half)
        for place in (a, b, e, f):
            if after + SHADOW.least < place < found:
                found = place
    return found


@jit
def _sent_at(blockers, emitter, o, n, to, axes, v):
    """What the strip at v across an emitter sends, of what is above the horizon, and what of it gets past the
    drops. axes: see `_across`."""
    way, widest, up, half_height = axes
    half = widest * sqrt(max(1.0 - v * v, 0.0)) if emitter.disc else widest
    start = along(to, up, v * half_height)
    begin, end = above(n, start, way, half)
    if begin >= end:
        return 0.0, 0.0
    strip = strip_of(n, start, way)
    whole = sent(strip, begin, end)
    return whole, sent_past(blockers, o, strip, begin, end, whole)


@jit
def unshaded_by_few_strips(blockers, emitter, o, n, at):
    """Share of an emitter's light on a surface at o with the normal n that gets past the drops.

    at : where in its even part of the emitter each strip lies, 0 to 1: different for each of several points
    of a pixel, whose strips together lie evenly, or 0.5.
    """
    to, axes = sub(emitter.centre, o), _across(blockers, emitter, o)
    front, free = 0.0, 0.0
    for i in range(SHADOW.few_strips):
        whole, some = _sent_at(blockers, emitter, o, n, to, axes, 2.0 * (i + at) / SHADOW.few_strips - 1.0)
        front, free = front + whole, free + some
    return min(max(free / front, 0.0), 1.0) if front > 0.0 else 1.0


@jit
def unshaded_by_drops(blockers, emitter, o, n):
    """The same from one point alone, without steps: the parts of the emitter between which a drop's outline
    begins or ends are integrated each by itself.

    Within such a part the place is a cubic of the variable of integration, whose slope is zero at both ends,
    so that the root by which an outline begins is even in it.
    """
    to, axes = sub(emitter.centre, o), _across(blockers, emitter, o)
    front, free, begin = 0.0, 0.0, -1.0
    end = _next_end(blockers, o, to, axes, begin)
    if end == 1.0 or blockers.many > SHADOW.apart:
        for i in range(SHADOW.strips):
            whole, some = _sent_at(blockers, emitter, o, n, to, axes, ACROSS.place[i])
            front, free = front + ACROSS.weight[i] * whole, free + ACROSS.weight[i] * some
        return min(max(free / front, 0.0), 1.0) if front > 0.0 else 1.0
    while begin < 1.0:
        middle, half = 0.5 * (begin + end), 0.5 * (end - begin)
        for i in range(SHADOW.between):
            v = middle + half * BETWEEN.place[i]
            whole, some = _sent_at(blockers, emitter, o, n, to, axes, v)
            wide = half * BETWEEN.weight[i]
            front, free = front + wide * whole, free + wide * some
        begin = end
        end = _next_end(blockers, o, to, axes, begin)
    return min(max(free / front, 0.0), 1.0) if front > 0.0 else 1.0


@jit
def _sent_to_front(emitter, x, n, axes):
    """Irradiance of a surface's front at x with normal n, per unit of the emitter's radiance, by strips each
    as far as it is above the surface's plane. axes: see `_across_horizon`."""
    way, half_width, up, half_height = axes
    to = sub(emitter.centre, x)
    total = 0.0
    for i in range(SHADOW.strips):
        half = half_width * sqrt(1.0 - ACROSS.place[i] * ACROSS.place[i]) if emitter.disc else half_width
        start = along(to, up, ACROSS.place[i] * half_height)
        begin, end = above(n, start, way, half)
        if begin < end:
            total += ACROSS.weight[i] * sent(strip_of(n, start, way), begin, end)
    return -total * half_height * dot(to, emitter.out)


@jit
def _across_horizon(emitter, n):
    """The emitter's axes, along the strips and across, with half its sides: so that strips cross the plane of
    a surface with the normal n."""
    way, half_width, up, half_height = emitter.right, emitter.half_width, emitter.up, emitter.half_height
    if abs(dot(n, way)) * half_width < abs(dot(n, up)) * half_height:
        return up, half_height, way, half_width
    return way, half_width, up, half_height


@jit
def toward_light(emitter, x, n):
    """Where an emitter's light comes from on average on a surface at x with the normal n, from x on: the
    emitter's middle or, where the horizon cuts the emitter, the middle of what is above it."""
    to = sub(emitter.centre, x)
    if dot(n, to) >= emitter.spread:
        return to
    way, half, _, _ = _across_horizon(emitter, n)
    return toward_part(n, to, way, half, -half, emitter.disc)


@jit
def sides_lit(emitter, x, n):
    """Whether some of an emitter is above the horizon of a surface at x on the side of the normal n, and
    on the other; of a round emitter, of the square about it."""
    to = sub(emitter.centre, x)
    if dot(to, emitter.out) >= 0.0:
        return False, False
    over = dot(n, to)
    reach = abs(dot(n, emitter.right)) * emitter.half_width + abs(dot(n, emitter.up)) * emitter.half_height
    return over > -reach, over < reach


class UnoccludedLight(NamedTuple):
    """An emitter's unoccluded light at places about x: its flux in all, and by how much the irradiance as a
    vector is more at x than if all came from the emitter's centre."""

    x: Vector
    flux: float
    more: Vector


@jit
def unoccluded_about(emitter, x):
    """The unoccluded light of an emitter about x."""
    flux = 0.0
    for m in range(emitter.flux.shape[0]):
        flux += emitter.flux[m]
    more = sub(vector_irradiance(emitter, x), _from_centre(emitter, flux, sub(emitter.centre, x)))
    return UnoccludedLight(x, flux, more)


@jit
def _from_centre(emitter, flux, to):
    """Irradiance as a vector if all of an emitter's flux came from its centre, `to` off."""
    r2 = dot(to, to)
    return scale(to, flux * max(-dot(to, emitter.out), 0.0) / (r2 * r2))


@jit
def unoccluded_irradiance(about, emitter, x, n):
    """Irradiance at x from an even emitter on the side of the normal n and on the other; x lies near the
    place of `about`."""
    to = sub(emitter.centre, x)
    if dot(to, emitter.out) >= 0.0:
        return 0.0, 0.0
    over = dot(n, to)
    if abs(over) >= emitter.spread:
        light = dot(n, along(about.more, _from_centre(emitter, about.flux, to), 1.0))
        return max(light, 0.0), max(-light, 0.0)
    radiance = emitter.radiance[0, 0]
    axes = _across_horizon(emitter, n)
    front = _sent_to_front(emitter, x, n, axes)
    back = _sent_to_front(emitter, x, scale(n, -1.0), axes)
    return radiance * front, radiance * back


@jit
def width_of_edge(blockers, emitter, o):
    """Width of the drops' narrowest penumbra at o, mm."""
    drops, nearest = blockers.drops, inf  # to where a ray touches a drop
    for c in range(blockers.many):
        k = blockers.listed[c]
        m = sub(row(drops.centre, k), o)
        nearest = min(nearest, dot(m, m) - drops.radius[k] ** 2)
    return 2.0 * emitter.spread * sqrt(max(nearest, 0.0)) / length(sub(emitter.centre, o))


@jit
def unshaded_share_of_pixel(light, pixel, n, blockers):
    """Share of an emitter's light on the petal's front that gets past the drops at a pixel in focus, n its
    normal there; -1 where a penumbra is finer than that resolves."""
    paths, o = light.paths, pixel.x
    wide = width_of_edge(blockers, light.emitter, o) / light.settings.pixel_mm
    if wide < SHADOW.fine_px:
        return -1.0
    if wide >= SHADOW.broad_px:
        return unshaded_by_drops(blockers, light.emitter, o, n)
    first, many, total = paths.petal_start[pixel.number], min(SHADOW.places, paths.samples), 0.0
    for e in range(first, first + many):
        f, u, v = int(paths.petal_face[e]), paths.petal_uv[e, 0], paths.petal_uv[e, 1]
        o, at = petal_mesh.place(light.scene.petal, f, u, v), (e - first + 0.5) / many
        total += unshaded_by_few_strips(blockers, light.emitter, o, n, at)
    return total / many
