"""What rays see that leave the set: a glowing face, a card, the backdrop, the dome."""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from numpy.typing import NDArray

from lightsim.tracer.kernels.bodies import body_met
from lightsim.tracer.kernels.camera_paths import TAG
from lightsim.tracer.kernels.emitters import Boards, board_met, glow_at
from lightsim.tracer.kernels.jit import jit, threaded
from lightsim.tracer.kernels.path_store import put_part
from lightsim.tracer.kernels.vectors import dot


class Environment(NamedTuple):
    """What rays meet that leave the set, in one layer.

    boards : with what they send. light : index of the board whose mirror image is the glint, or -1. dome (5,)
    : level, gradient, up (x, y, z). splats (nd + 1,) int64 : where each drop's splatted highlights begin;
    highlights that are splatted are left out here.
    """

    boards: Boards
    light: int
    dome: NDArray
    splats: NDArray


@jit
def dome_level(dome, d):
    """Radiance of the dome in direction d. dome: level, gradient, up (x, y, z)."""
    return dome[0] * (1.0 + dome[1] * dot(d, (dome[2], dome[3], dome[4])))


@jit
def dome_share(dome, n):
    """Irradiance of a surface with normal n that sees half of the dome, over pi."""
    return dome[0] * (1.0 + 2.0 / 3.0 * dome[1] * dot(n, (dome[2], dome[3], dome[4])))


@jit
def _seen_away(boards, dome, o, d):
    """What a ray that leaves the set sees: (index of the board met, a body's after all boards', or -1;
    radiance)."""
    best, found, colour = inf, -1, (0.0, 0.0, 0.0)
    for i in range(boards.frame.shape[0]):
        t, x, y, front = board_met(boards, i, o, d)
        if t < best:
            best, found = t, i
            colour = glow_at(boards, i, x, y) if front else (0.0, 0.0, 0.0)
    for i in range(boards.body.shape[0]):
        t = body_met(boards.body, i, o, d)
        if t < best:
            return boards.frame.shape[0] + i, (0.0, 0.0, 0.0)
    if found < 0 and dome[0] > 0.0:
        level = dome_level(dome, d)
        colour = (level, level, level)
    return found, colour


@jit
def _add_environment_one(paths, around, parts, r):
    for x_pixel in range(paths.width):
        p = r * paths.width + x_pixel
        for e in range(paths.environment_start[p], paths.environment_start[p + 1]):
            o = (
                float(paths.environment_ray[e, 0]),
                float(paths.environment_ray[e, 1]),
                float(paths.environment_ray[e, 2]),
            )
            d = (
                float(paths.environment_ray[e, 3]),
                float(paths.environment_ray[e, 4]),
                float(paths.environment_ray[e, 5]),
            )
            w = paths.environment_weight[e] / paths.samples
            tag = paths.environment_tag[e]
            found, colour = _seen_away(around.boards, around.dome, o, d)
            if found >= 0 and found == around.light and tag & TAG.glint:
                k = paths.environment_drop[e]
                if around.splats[k + 1] == around.splats[k]:
                    parts.glint[p] += w * colour[0]
            else:
                put_part(parts, tag, p, colour, w)


@threaded
def add_environment(begin, end, paths, around, parts):
    """Add what the kept rays see that leave the set; around: an `Environment`."""
    for r in range(begin, end):
        _add_environment_one(paths, around, parts, r)
