"""What lies near what: faces under drops, drops near blocks of pixels."""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import petal_mesh
from lightsim.tracer.kernels.box_tree import STACK
from lightsim.tracer.kernels.caustic_list import BeamLimits, LitBall, farthest, may_send_caustic
from lightsim.tracer.kernels.emitters import face_of
from lightsim.tracer.kernels.jit import jit, jit_allocating, threaded
from lightsim.tracer.kernels.pixel_cells import CELL
from lightsim.tracer.kernels.simd import LANES
from lightsim.tracer.kernels.struct_pointer import held
from lightsim.tracer.kernels.vectors import along, dot, length, row, scale, sub


@jit_allocating
def _faces_under_one(petal, foot, normal, radius, found, k):
    stack = np.empty(STACK, dtype=np.int32)
    n = row(normal, k)
    best = inf
    for side in range(2):
        lift = 0.5 * radius[k] * (1.0 if side == 0 else -1.0)
        o = along(row(foot, k), n, lift)
        t, f, _, _ = petal_mesh.nearest(petal, o, scale(n, -1.0 if side == 0 else 1.0), 0.0, inf, stack)
        if f >= 0 and abs(t - abs(lift)) < best:
            best = abs(t - abs(lift))
            found[k] = f


@threaded
def faces_under(begin, end, petal, foot, normal, radius, found):
    """The face under each drop's foot, found (n,) int32."""
    for k in range(begin, end):
        _faces_under_one(petal, foot, normal, radius, found, k)


@jit
def _seen_place(paths, drops, p):
    """Whether a pixel sees petal or drop, where on the whole, and how far round it."""
    if paths.mean_end[p] >= 0:
        return True, row(paths.mean_place, p), float(paths.mean_reach[p])
    if paths.base_start[p + 1] > paths.base_start[p]:
        k = paths.base_drop[paths.base_start[p]]
        return True, row(drops.centre, k), drops.radius[k]
    return False, (0.0, 0.0, 0.0), 0.0


@jit
def _block_ball(paths, drops, i, j):
    """Centre and radius of a ball round what a block's pixels see of the petal; radius -1 for none."""
    n = 0
    c = (0.0, 0.0, 0.0)
    for y in range(i * CELL, min(paths.rows, (i + 1) * CELL)):
        for x in range(j * CELL, min(paths.width, (j + 1) * CELL)):
            seen, place, _ = _seen_place(paths, drops, y * paths.width + x)
            if seen:
                n += 1
                c = along(c, place, 1.0)
    if n == 0:
        return c, -1.0
    c = scale(c, 1.0 / n)
    reach = 0.0
    for y in range(i * CELL, min(paths.rows, (i + 1) * CELL)):
        for x in range(j * CELL, min(paths.width, (j + 1) * CELL)):
            seen, place, round_it = _seen_place(paths, drops, y * paths.width + x)
            if seen:
                m = sub(place, c)
                reach = max(reach, sqrt(dot(m, m)) + round_it)
    return c, reach


@jit_allocating
def _list_senders_one(paths, drops, lamp, near, least, pixel_mm, i):
    face = held(face_of(lamp))
    for j in range(near.sender_count.shape[1]):
        first, last = near.bounds[i, j, 0], near.bounds[i, j, 1]
        n = 0
        if first < last:
            c, reach = row(near.balls[i], j), near.balls[i, j, 3]
            to = sub(face.centre, c)
            far = length(to)
            to = scale(to, 1.0 / far)
            floor = least * max(0.1, _least_cosine(paths, to, i, j) - reach / far)
            ball = LitBall(c, reach, to, reach / far)
            limits = BeamLimits(farthest(near.most, floor), floor, pixel_mm)
            for q in range(first, last):
                k = near.listed[q]
                if may_send_caustic(near.crest, drops, k, ball, limits):
                    near.senders[first + n] = k
                    n += 1
        near.sender_count[i, j] = n


@jit
def _least_cosine(paths, to, i, j):
    """Between the light's direction and the petal's normals that a block's pixels see."""
    least = 1.0
    for y in range(i * CELL, min(paths.rows, (i + 1) * CELL)):
        for x in range(j * CELL, min(paths.width, (j + 1) * CELL)):
            p = y * paths.width + x
            if paths.mean_end[p] >= 0:
                least = min(least, abs(dot(row(paths.mean_normal, p), to)))
    return least


@threaded
def list_senders(begin, end, paths, drops, lamp, near, least, pixel_mm):
    """Fill senders and sender_count of a pixel_cells.DropLight."""
    for i in range(begin, end):
        _list_senders_one(paths, drops, lamp, near, least, pixel_mm, i)


@jit
def _box_near(box, node, child, c, far):
    """Whether the box of a node's child comes nearer than `far` to c."""
    square = 0.0
    for a in range(3):
        off = max(max(box[node, a, child] - c[a], c[a] - box[node, a + 3, child]), 0.0)
        square += off * off
    return square < far * far


@jit
def _near_ball(drops, ball, radii, near, n, stack):
    """Put the drops within radii[0] of their radii of a ball (centre, radius) into `near` from n on, where
    there is room for any; returns where they end. radii[1]: the same of the largest drop, mm."""
    c, reach = (ball[0], ball[1], ball[2]), ball[3]
    stack[0], top = 0, 1
    while top > 0:
        top -= 1
        node = int(stack[top])
        for child in range(LANES):
            first, many = int(drops.link[node, child, 0]), int(drops.link[node, child, 1])
            if many < 0 or not _box_near(drops.box, node, child, c, reach + radii[1]):
                continue
            if many == 0:
                stack[top] = first
                top += 1
            for place in range(first, first + many):
                k = int(drops.order[place])
                m = sub(row(drops.centre, k), c)
                far = reach + radii[0] * drops.radius[k]
                if dot(m, m) < far * far:
                    if near.shape[0] > 0:
                        near[n] = k
                    n += 1
    return n


class NearList(NamedTuple):
    """The drops near each cell of pixels: start (rows, columns, 2) says from where on in drop (n,) int32 and
    where they end. ball (rows, columns, 4) : centre and radius of a ball round what a cell's pixels see of
    petal and drops, -1 for nothing."""

    start: NDArray
    drop: NDArray
    ball: NDArray


@jit_allocating
def _list_near_one(paths, drops, radii, found, i):
    stack = np.empty(STACK, dtype=np.int32)
    many = drops.radius.shape[0]
    reaches = radii, radii * np.max(drops.radius) if many > 0 else 0.0
    for j in range(found.start.shape[1]):
        ball, start = found.ball[i, j], found.start[i, j]
        if found.drop.shape[0] == 0:
            c, reach = _block_ball(paths, drops, i, j)
            ball[0], ball[1], ball[2], ball[3] = c[0], c[1], c[2], reach
        start[1] = start[0]
        if ball[3] >= 0.0 and many > 0:
            about = ball[0], ball[1], ball[2], ball[3]
            start[1] = _near_ball(drops, about, reaches, found.drop, int(start[0]), stack)


@threaded
def list_near(begin, end, paths, drops, radii, found):
    """Fill a `NearList` with the drops within `radii` of their radii of each cell, in any order, from the
    first number of start on. An empty drop is not filled, so that they are only counted, but ball is."""
    for i in range(begin, end):
        _list_near_one(paths, drops, radii, found, i)
