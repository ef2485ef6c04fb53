"""A light's image in a drop as a point sees it: of the petal through the drop, or of the drop's wet base.

From the point x rays are followed backward to the emitter (see `backward_rays`), in planes through x and
the sphere's centre. Such a plane cuts the emitter in a strip. The image lies where q, by which a ray
passes one of the strip's ends, is above nothing and that of the other below. It is integrated over the
rays' numbers, from place to place of a table made for x, and over the planes' turn about the axis. What
comes along a ray is what the emitter sends times the Fresnel shares: nothing is divided by a derivative,
so no caustic of a wide emitter is infinite."""

from __future__ import annotations

from math import acos, cos, pi, sin, sqrt
from typing import NamedTuple

from lightsim.tracer.kernels import connection, drop_spheres
from lightsim.tracer.kernels.angles import angle_of
from lightsim.tracer.kernels.backward_rays import FAN, follow_nodes, leaving, ray_at
from lightsim.tracer.kernels.caustics import from_below, unblocked
from lightsim.tracer.kernels.drop_visibility import STATE, visibility_from
from lightsim.tracer.kernels.emitters import Vector, face_point, radiance_at
from lightsim.tracer.kernels.jit import jit
from lightsim.tracer.kernels.refraction import fresnel
from lightsim.tracer.kernels.sampling import GOLDEN_SHARE
from lightsim.tracer.kernels.vectors import along, basis, cross, dot, length, row, scale, sub, unit


class CurveLimits(NamedTuple):
    """How a curve of the light's image is cut into pieces."""

    piece: float = 0.3  # rad of the rays' numbers, over which two places of Gauss and Legendre are evaluated
    gauss: float = 0.5 - 0.5 / sqrt(3.0)  # where the first of them lies
    curved: float = 0.3  # of the chord's slope: at a curve's ends less than that means that it turns near by
    near_centre: float = 1e-6  # radii from the sphere's centre within which any axis serves


CURVE = CurveLimits()


class PlaneStrip(NamedTuple):
    """What a plane cuts out of an emitter: both ends in the plane (radii) and on the emitter (-1 to 1)."""

    a0: float
    b0: float
    a1: float
    b1: float
    x0: float
    y0: float
    x1: float
    y1: float


NO_STRIP = PlaneStrip(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


class ImagePlace(NamedTuple):
    """Where x (normal n) stands to drop k of radius r (mm) and centre c: the axis toward it, its distance
    and the height of its centre over the petal's plane in radii."""

    k: int
    r: float
    c: Vector
    axis: Vector
    s: float
    stand: float
    x: Vector
    n: Vector


@jit
def turns_of(emitter, c, s, t):
    """The turns about an axis through c between which planes cut the emitter: from, over; s, t: across the
    axis."""
    m = sub(emitter.centre, c)
    x, y = dot(m, s), dot(m, t)
    ax, ay = emitter.half_width * dot(emitter.right, s), emitter.half_width * dot(emitter.right, t)
    bx, by = emitter.half_height * dot(emitter.up, s), emitter.half_height * dot(emitter.up, t)
    if emitter.disc:
        # a plane's normal w cuts an ellipse where (a.w)^2 + (b.w)^2 >= (m.w)^2
        xx, yy, xy = ax * ax + bx * bx - x * x, ay * ay + by * by - y * y, ax * ay + bx * by - x * y
        mean, off = 0.5 * (xx + yy), sqrt(0.25 * (xx - yy) ** 2 + xy * xy)
        if mean >= off:
            return 0.0, pi
        if mean <= -off:
            return 0.0, 0.0
        half = 0.5 * acos(-mean / off)
        return 0.5 * angle_of(xy, 0.5 * (xx - yy)) - half - 0.5 * pi, 2.0 * half
    low, high, left, right = 4.0, -4.0, 0, 0
    last_x, last_y = x - ax + bx, y - ay + by
    for corner in range(4):
        px = x + (ax if corner == 1 or corner == 2 else -ax) + (bx if corner >= 2 else -bx)
        py = y + (ay if corner == 1 or corner == 2 else -ay) + (by if corner >= 2 else -by)
        turn = angle_of(x * py - y * px, x * px + y * py)
        low, high = min(low, turn), max(high, turn)
        side = last_x * py - last_y * px
        left += 1 if side >= 0.0 else 0
        right += 1 if side <= 0.0 else 0
        last_x, last_y = px, py
    if left == 4 or right == 4 or high - low >= pi:
        return 0.0, pi
    return angle_of(y, x) + low, high - low


@jit
def _within(x, dx, low, high):
    """From where to where x + t dx lies between -1 and 1."""
    if abs(dx) < 1e-12:
        return low, high if abs(x) <= 1.0 else low
    one, other = (-1.0 - x) / dx, (1.0 - x) / dx
    return max(low, min(one, other)), min(high, max(one, other))


@jit
def plane_strip(emitter, c, axis, u, r):
    """The strip of an emitter in the plane of axis and u through c, and whether there is one."""
    across = cross(axis, u)
    m = sub(emitter.centre, c)
    g = dot(m, across)
    gx, gy = emitter.half_width * dot(emitter.right, across), emitter.half_height * dot(emitter.up, across)
    h = sqrt(gx * gx + gy * gy)
    if h < 1e-12 * length(m):
        return False, NO_STRIP
    x, y, dx, dy = -g * gx / (h * h), -g * gy / (h * h), -gy / h, gx / h
    if emitter.disc:
        high = sqrt(max(1.0 - x * x - y * y, 0.0))
        low = -high
    else:
        low, high = _within(x, dx, -4.0, 4.0)
        low, high = _within(y, dy, low, high)
    if low >= high:
        return False, NO_STRIP
    x0, y0, x1, y1 = x + low * dx, y + low * dy, x + high * dx, y + high * dy
    ma, mb = dot(m, axis) / r, dot(m, u) / r
    xa, xb = emitter.half_width * dot(emitter.right, axis) / r, emitter.half_width * dot(emitter.right, u) / r
    ya, yb = emitter.half_height * dot(emitter.up, axis) / r, emitter.half_height * dot(emitter.up, u) / r
    a0, b0 = ma + x0 * xa + y0 * ya, mb + x0 * xb + y0 * yb
    return True, PlaneStrip(a0, b0, ma + x1 * xa + y1 * ya, mb + x1 * xb + y1 * yb, x0, y0, x1, y1)


@jit
def through_drop(light, k, point, planes, shift, jitter):
    """Irradiance at a point of the dry petal by an emitter's light through drop k.

    planes: how many are evaluated: one in each of as many even parts of the turn, at `shift` (0 to 1) of it.
    jitter (0 to 1): where within the image rays are followed on which drops or petal may be in the way, else
    those of Gauss and Legendre.
    """
    drops, visibility = light.scene.drops, light.drop_light.visibility
    far = length(sub(row(drops.centre, k), point.x))
    if far <= drops.radius[k] or visibility.state[k, 0] == STATE.hidden:
        return 0.0
    open_to_all = visibility_from(visibility, k) == STATE.clear and far <= drops.gap[k]
    return _by_planes(light, k, point, planes, shift, jitter, open_to_all)


@jit
def into_drop(light, k, point, planes, shift, jitter):
    """Irradiance at a point inside drop k, on its base, by an emitter's light that nothing but petal and
    drops may hide. The rest: as above."""
    visibility = light.drop_light.visibility
    if not drop_spheres.holds(light.scene.drops, k, point.x) or visibility.state[k, 0] == STATE.hidden:
        return 0.0
    open_to_all = visibility_from(visibility, k) == STATE.clear
    return _by_planes(light, k, point, planes, shift, jitter, open_to_all)


@jit
def _by_planes(light, k, point, planes, shift, jitter, open_to_all):
    """As `through_drop` or `into_drop`. open_to_all: whether nothing is in the way of any ray."""
    drops, x = light.scene.drops, point.x
    r, c, up = drops.radius[k], row(drops.centre, k), row(drops.normal, k)
    to = sub(c, x)
    s = length(to) / r
    axis = unit(to) if s > CURVE.near_centre else up
    one, other = basis(axis)
    begin, over = turns_of(light.emitter, c, one, other)
    if over <= 0.0:
        return 0.0
    follow_nodes(s, light.caustics.nodes)
    place = ImagePlace(k, r, c, axis, s, dot(sub(c, row(drops.foot, k)), up) / r, x, point.n)
    total = 0.0
    for plane in range(planes):
        turn = begin + over * (plane + shift) / planes
        at = CURVE.gauss if open_to_all else (jitter + plane * GOLDEN_SHARE) % 1.0
        u = along(scale(one, cos(turn)), other, sin(turn))
        total += _plane(light, place, u, at)
    return total * over / planes


@jit
def _plane(light, place, u, at):
    """What comes in the plane of the axis and u, per rad of its turn; at: see `_between`."""
    found, strip = plane_strip(light.emitter, place.c, place.axis, u, place.r)
    if not found:
        return 0.0
    total = _half_plane(light, place, strip, u, at)
    a0, b0, a1, b1, x0, y0, x1, y1 = strip
    strip = PlaneStrip(a0, -b0, a1, -b1, x0, y0, x1, y1)
    return total + _half_plane(light, place, strip, scale(u, -1.0), at)


@jit
def _half_plane(light, place, strip, u, at):
    """What comes in the half of a plane to which u points, per rad of its turn; at: see `_between`."""
    up, nodes = row(light.scene.drops.normal, place.k), light.caustics.nodes
    lean, aside = dot(place.axis, up), dot(u, up)
    total, begun, done = 0.0, 0.0, 0.0  # of the image's part that is being followed
    gap = FAN.half if place.s < 1.0 else 0
    p0, p1, m0, e0 = 0.0, 0.0, 0.0, 0.0
    for k in range(FAN.nodes):
        c, s, si = nodes[k, 0], nodes[k, 1], nodes[k, 2]
        q0, q1 = strip.b0 * c - strip.a0 * s - si, strip.b1 * c - strip.a1 * s - si
        m1 = place.stand - nodes[k, 4] * lean + nodes[k, 5] * aside
        e1 = place.stand + nodes[k, 6] * lean + nodes[k, 7] * aside
        within, entered = (p0 > 0.0) != (p1 > 0.0), (q0 > 0.0) != (q1 > 0.0)
        if (
            k != 0
            and k != gap
            and (within or entered or (p0 > 0.0) != (q0 > 0.0))
            and max(m0, m1) > 0.0
            and max(e0, e1) > 0.0
        ):
            low, high = nodes[k - 1, 9], nodes[k, 9]
            first, last = _above(low, high, m0, m1)
            begin, end = _above(low, high, e0, e1)
            first, last = max(first, begin), min(last, end)
            one = _crossing(place.s, strip.a0, strip.b0, p0, q0, nodes, k)
            other = _crossing(place.s, strip.a1, strip.b1, p1, q1, nodes, k)
            begin, end = min(one, other), max(one, other)
            for part in range(2 if within and entered else 1):
                if within:
                    a, b = (first, min(begin, last)) if part == 0 else (max(end, first), last)
                else:
                    a, b = max(begin, first), min(end, last)
                if a >= b:
                    continue
                if a > done or done == 0.0:
                    total += _between(light, place, strip, u, begun, done, at)
                    begun = a
                done = b
        p0, p1, m0, e0 = q0, q1, m1, e1
    return total + _between(light, place, strip, u, begun, done, at)


@jit
def _above(low, high, at_low, at_high):
    """What of low..high is above nothing where a height is at_low, at_high at its ends, one of them so."""
    if at_low >= 0.0 and at_high >= 0.0:
        return low, high
    middle = low + (high - low) * at_low / (at_low - at_high)
    return (middle, high) if at_low < 0.0 else (low, middle)


@jit
def _crossing(s, a, b, q0, q1, nodes, k):
    """Where between two nodes, the second k, rays cross the point a, b of the plane, q0, q1 off there; the
    second where they do not."""
    low, high = nodes[k - 1, 9], nodes[k, 9]
    if (q0 > 0.0) == (q1 > 0.0):
        return high
    slope0 = -(b * nodes[k - 1, 1] + a * nodes[k - 1, 0]) * nodes[k - 1, 8] - nodes[k - 1, 3]
    slope1 = -(b * nodes[k, 1] + a * nodes[k, 0]) * nodes[k, 8] - nodes[k, 3]
    chord = (q1 - q0) / (high - low)
    if slope0 / chord > CURVE.curved and slope1 / chord > CURVE.curved:
        return connection.cubic_root(low, high, q0, q1, slope0, slope1)
    i = high
    for _ in range(4):
        i = low + (high - low) * q0 / (q0 - q1)
        ray = ray_at(i, s)
        q = b * ray.c - a * ray.s - ray.si
        if (q > 0.0) == (q0 > 0.0):
            low, q0, q1 = i, q, 0.6 * q1
        else:
            high, q1, q0 = i, q, 0.6 * q0
    return i


@jit
def _between(light, place, strip, u, begin, end, at):
    """What comes between two rays of a plane by their numbers, from two places of each of some pieces:
    CURVE.gauss for at, or as far on (0 to 1) in each half."""
    if end <= begin:
        return 0.0
    pieces = 1 + int((end - begin) / CURVE.piece)
    wide = (end - begin) / pieces
    total = 0.0
    for piece in range(pieces):
        for half in range(2):
            on = 0.5 * (half + at)
            if at == CURVE.gauss:
                on = CURVE.gauss if half == 0 else 1.0 - CURVE.gauss
            i = begin + wide * (piece + on)
            total += _radiance(light, place, strip, u, i)
    return 0.5 * wide * total


@jit
def _radiance(light, place, strip, u, i):
    """What comes to x along ray number i of a plane, per rad of that and of the plane's turn."""
    ray, axis, r = ray_at(i, place.s), place.axis, place.r
    drops, emitter = light.scene.drops, light.emitter
    d = along(scale(axis, ray.cx), u, ray.sx)
    out = along(scale(axis, ray.c), u, ray.s)
    cos_p = dot(d, place.n)
    if cos_p <= 0.0 or dot(out, emitter.out) >= 0.0:
        return 0.0
    q0 = strip.b0 * ray.c - strip.a0 * ray.s - ray.si
    q1 = strip.b1 * ray.c - strip.a1 * ray.s - ray.si
    on = min(max(q0 / (q0 - q1), 0.0), 1.0)
    a, b = strip.a0 + on * (strip.a1 - strip.a0), strip.b0 + on * (strip.b1 - strip.b0)
    if a * ray.c + b * ray.s <= 0.0:
        return 0.0
    px, py = strip.x0 + on * (strip.x1 - strip.x0), strip.y0 + on * (strip.y1 - strip.y0)
    e = along(place.c, along(scale(axis, ray.ce), u, ray.se), r)
    if from_below(drops, place.k, e, out):
        return 0.0
    y = face_point(emitter, px, py)
    seen = visibility_from(light.drop_light.visibility, place.k)
    if seen == STATE.hidden:
        return 0.0
    inside = place.s < 1.0
    far = r * (place.s * ray.cx - ray.ci)
    if not inside and drop_spheres.drop_before(drops, place.k, place.x, d, far, light.scene.stack):
        return 0.0
    if not unblocked(light, place.k, e, out, length(sub(y, e)), seen):
        return 0.0
    passed = 1.0 - fresnel(ray.ci, connection.N)
    sent = radiance_at(emitter, px, py) * passed * cos_p
    if inside:  # radiance is n^2 times as much in water
        return connection.N * connection.N * sent * ray.sx * leaving(ray, place.s)
    return passed * sent * ray.si * ray.ci / (place.s * place.s * ray.cx)
