"""The petal's horizon before an emitter, against rays to points all over the face, asked one after
another."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray

from lightsim.scene.records import Petal
from lightsim.tracer import kernels
from lightsim.tracer.area_light import LampWork
from lightsim.tracer.kernels.drop_visibility import STATE, OccluderList, petal_visibility
from lightsim.tracer.kernels.jit import jit_allocating
from lightsim.tracer.view import View
from tests.tracer.grids import points_of
from tests.tracer.inner import Room
from tests.tracer.sets import NO_DROPS, lamp, plain_petal, simple

blocks, faces, horizon, horizons, leaf, penumbra = (
    Room(room)
    for room in (
        kernels.visibility_cache,
        kernels.emitters,
        kernels.horizon,
        kernels.horizon_map,
        kernels.petal_mesh,
        kernels.petal_penumbra,
    )
)
passes = Room(kernels.light_pass)
HOLLOW = Petal(form="cupped", curl=0.3, mesh_spacing_mm=0.15, relief_mm=0.02)
LEAST = 0.01  # of what would fall on a surface that faces it
SIDE = 48  # rays to points along each side of a face


class LightSeen(NamedTuple):
    """What a horizon takes of a `LightPass`."""

    paths: Any
    scene: Any
    emitter: Any
    cache: Any
    settings: Any
    horizon: NDArray


@jit_allocating
def _let_through(petal, f, o, points, stack, found):
    for m in range(points.shape[0]):
        y = points[m, 0], points[m, 1], points[m, 2]
        found[m] = petal_visibility(petal, f, o, y, stack)
    return found


def let_through(petal, f, o, points):
    """Which of some points the petal lets light through from, to o on triangle f."""
    found, stack = np.empty(len(points)), np.empty(192, dtype=np.int32)
    return _let_through(petal, f, tuple(o), points, stack, found) > 0.0


def looked_at(petal, light, field_mm=20.0, width_px=320, samples=4):
    """A view of a petal without drops, and the shadows of a light on it."""
    scene = simple(petal, NO_DROPS, (light,), field_mm=field_mm)
    scene = replace(scene, ambient=replace(scene.ambient, illuminance_lx=0.0))
    view = View(scene, width_px=width_px, samples=samples)
    work = LampWork(view, view.stage.lights[0])
    for block in view._blocks:
        work.classify_coarse(block)
    for block in view._blocks:
        work.classify_fine(block)
    return view, work


def light_on(view, work, paths, face, y):
    """A light's pass over row y, as kernels see it."""
    return LightSeen(paths, work.scene, face, work.cache, work.settings, np.empty(horizon.STRIPS))


def no_occluders(view):
    """No drop in the way."""
    return OccluderList(view.packed.drops, np.zeros(1, dtype=np.int32), 0)


def some_pixels(view, rng, many):
    """So many pixels of each block that see the petal: the block's paths, the pixel there, column and row."""
    for block in view._blocks:
        paths = block.paths
        for p in rng.choice(np.flatnonzero(paths.mean_end >= 0), many):
            y, x = divmod(paths.first + p, paths.width)
            yield paths, p, x, y


def place_of(view, paths, p):
    """Triangle, place and front normal of the petal that a pixel sees."""
    e = paths.mean_end[p]
    f = int(paths.petal_face[e])
    at = view.packed.petal, f, paths.petal_uv[e, 0], paths.petal_uv[e, 1]
    return f, np.array(leaf.place(*at)), np.array(leaf.normal_at(*at))


def counted(view, face, f, o, n):
    """Share of a face's light that the petal leaves at o on the side of the normal n: see `share_of`."""
    return share_of(view, face, f, o, n, points_of(face, SIDE))


def share_of(view, face, f, o, n, points):
    """Share of the light of a face's points that the petal leaves at o on the side of the normal n.

    None where next to none falls, and where the triangle is turned away from a part that its smooth normal
    faces."""
    to = points - o
    far2 = (to * to).sum(axis=1)
    upright = np.maximum(-(to @ np.array(face.out)), 0.0) / far2**1.5
    weight = np.maximum(to @ n, 0.0) / np.sqrt(far2) * upright
    if weight.sum() < LEAST * upright.sum():
        return None
    flat = np.array(leaf.flat_normal(view.packed.petal, f))
    if (((to @ flat) * (n @ flat) > 0.0) != (to @ n > 0.0)).any():
        return None
    free = let_through(view.packed.petal, f, o, points)
    return weight[free].sum() / weight.sum()


@pytest.mark.parametrize("angle_deg", [70.0, 86.0, 100.0])
def test_a_strip_is_hidden_up_to_where_rays_are_stopped(angle_deg):
    light = lamp(angle_deg=angle_deg, clock=2.0, distance_mm=120.0, width_mm=60.0, height_mm=60.0)
    view, work = looked_at(HOLLOW, light, width_px=64)
    petal, face = view.packed.petal, faces.face_of(work.face)
    stack, rng = np.empty(192, dtype=np.int32), np.random.default_rng(1)
    scene = work.scene._replace(stack=stack)
    half, partly, many = face.half_width, 0, 0
    for paths, p, _, _ in some_pixels(view, rng, 60):
        _, o, n = place_of(view, paths, p)
        to = np.array(face.centre) - o
        facing = n if n @ to > 0.0 else -n
        way = np.array(face.right) * np.sign(facing @ face.right)
        o = o + 5e-4 * facing
        start = to + rng.uniform(-1.0, 1.0) * face.half_height * np.array(face.up)
        fan = horizon.fan_of(tuple(o), tuple(start), tuple(way))
        top = horizon.hidden_up_to(petal, fan, -half, half, stack)
        assert abs(top) < half + 1e-9
        for hint in rng.uniform(-half, half, 4):
            again = horizons._hidden_about(hint, scene, fan, -half, half)
            assert again == pytest.approx(top, abs=1e-9 * half)
        t = np.linspace(-half, half, 41)
        t = t[(abs(t - top) > 1e-3) & (abs(t) < half)]
        for one in t:
            ray = start + one * way
            far = np.linalg.norm(ray)
            stopped = leaf.blocked(petal, tuple(o), tuple(ray / far), 1e-4, far * (1.0 - 1e-6), stack)
            assert stopped == (one < top)
        partly += -half < top < half
        many += 1
    assert partly > 0.1 * many


@pytest.mark.parametrize("shape", ["rectangle", "round"])
@pytest.mark.parametrize("angle_deg", [78.0, 88.0, 100.0])
def test_what_is_seen_over_the_horizon_is_what_rays_count(angle_deg, shape):
    light = lamp(
        angle_deg=angle_deg, clock=2.0, distance_mm=150.0, shape=shape, width_mm=60.0, height_mm=60.0
    )
    view, work = looked_at(HOLLOW, light, field_mm=10.0)
    face, cache, nobody = faces.face_of(work.face), work.cache, no_occluders(view)
    rng = np.random.default_rng(2)
    off, asked, told = [], 0, 0
    for paths, p, x, y in some_pixels(view, rng, 12000):
        state = blocks.common_state(cache.petal_state, blocks.BLOCK, x, y, 1)
        light = light_on(view, work, paths, face, y)
        pixel = passes.petal_pixel(paths, p, 1.0)._replace(spread=0.0)
        uneven = blocks.petal_shares(cache, state, light, pixel)[0] < 0.0
        if state != STATE.mixed or (not uneven and len(off) > 400):
            continue
        f, o, normal = place_of(view, paths, p)
        for q, n in enumerate((normal, -normal)):
            want = counted(view, face, f, o, n)
            if want is None or not 0.0 < want < 1.0:
                continue
            got = penumbra.visible_share_of_pixel(light, pixel, q, tuple(n), nobody)
            asked += uneven
            told += uneven and got >= 0.0
            if got >= 0.0:
                off.append(got - want)
    off = np.array(off)
    assert asked > 40
    assert told > 0.6 * asked
    assert abs(off.mean()) < 0.002
    assert np.quantile(abs(off), 0.95) < 0.01
    assert abs(off).max() < 0.05


@pytest.mark.parametrize("angle_deg", [78.0, 88.0])
def test_a_strip_by_itself_is_told_only_where_most_blocks_about_know_it(angle_deg):
    light = lamp(angle_deg=angle_deg, clock=2.0, distance_mm=150.0, width_mm=60.0, height_mm=60.0)
    view, work = looked_at(HOLLOW, light, field_mm=10.0)
    face, cache, nobody = faces.face_of(work.face), work.cache, no_occluders(view)
    along, across = (np.array(face.right), np.array(face.up))[:: 1 if cache.horizon.across else -1]
    half, high = (face.half_width, face.half_height)[:: 1 if cache.horizon.across else -1]
    rng = np.random.default_rng(4)
    off, unknown = [], 0
    for paths, p, x, y in some_pixels(view, rng, 3000):
        f, o, n = place_of(view, paths, p)
        at = rng.random()
        middle = np.array(face.centre) + (2.0 * at - 1.0) * high * across
        t = (np.arange(SIDE) + 0.5) / SIDE * 2.0 - 1.0
        points = middle + t[:, None] * half * along
        want = share_of(view, face, f, o, n, points)
        if want is None:
            continue
        light, point = light_on(view, work, paths, face, y), leaf.as_point(f, tuple(o), tuple(n))
        got = penumbra.strip_irradiance(light, x + 0.5, y + 0.5, 0, point, at, nobody)
        if got >= 0.0:
            to = points - o
            far2 = (to * to).sum(axis=1)
            cosines = np.maximum(to @ n, 0.0) * -(to @ np.array(face.out))
            whole = face.radiance[0, 0] * 4.0 * half * high * np.mean(cosines / far2**2)
            off.append(got / whole - want)
        unknown += got < 0.0
    off = np.array(off)
    assert len(off) > 100
    assert unknown > 40
    assert abs(off.mean()) < 0.005
    assert np.quantile(abs(off), 0.95) < 0.05  # it takes the horizon of the nearest of four strips
    assert abs(off).max() < 0.15


def test_light_that_comes_in_below_a_roof_is_not_lost(tmp_path):
    """A second sheet over the petal: the face is seen below it and above it, so that it is not hidden up to a
    horizon."""
    roof = [(-4.0, -12.0, 3.0), (-1.0, -12.0, 3.0), (-4.0, 12.0, 3.0), (-1.0, 12.0, 3.0)]
    ground = [(-12.0, -12.0, 0.0), (12.0, -12.0, 0.0), (-12.0, 12.0, 0.0), (12.0, 12.0, 0.0)]
    lines = [f"v {x} {y} {z}" for x, y, z in ground + roof] + ["f 1 2 3", "f 2 4 3", "f 5 6 7", "f 6 8 7"]
    file = tmp_path / "roofed.obj"
    file.write_text("\n".join(lines) + "\n")
    petal = replace(plain_petal(), form="mesh", file=file, reflectance=(0.5, 0.5, 0.5))
    light = lamp(angle_deg=70.0, clock=9.0, distance_mm=150.0, width_mm=120.0, height_mm=60.0)
    view, work = looked_at(petal, light, field_mm=14.0, width_px=112, samples=16)
    lit = view.trace().by_light["lamp"].lit
    face, off, below = faces.face_of(work.face), [], 0
    rng = np.random.default_rng(3)
    for paths, p, x, y in some_pixels(view, rng, 400):
        f, o, n = place_of(view, paths, p)
        if o[2] > 1.0:
            continue
        want = counted(view, face, f, o, n if n[2] > 0.0 else -n)
        off.append(lit[y, x] - want)
        below += 0.05 < want < 0.95
    assert below > 30
    assert abs(np.mean(off)) < 0.01
    assert np.quantile(np.abs(off), 0.95) < 0.2
