"""The kernels against slow plain twins, reference libraries and the laws of optics."""

from __future__ import annotations

from math import acos, asin, cos, inf, pi, radians, sin, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import qmc

from lightsim.scene.stage import DropSet, PetalMesh
from lightsim.tracer import kernels
from lightsim.tracer.kernels.drop_spheres import Cone, Drops
from lightsim.tracer.kernels.petal_mesh import Petal, new_stack
from lightsim.tracer.kernels.specular_path import PathScene
from lightsim.tracer.pack import pack_drops, pack_petal
from tests.tracer import naive
from tests.tracer.inner import Room

drop, leaf = Room(kernels.drop_spheres), Room(kernels.petal_mesh)
sampling, walk, water = Room(kernels.sampling), Room(kernels.specular_path), Room(kernels.refraction)
N = 1.333


def soup(seed: int, count: int = 300) -> Petal:
    """Triangles of all sizes anyhow in space."""
    rng = np.random.default_rng(seed)
    corners = rng.uniform(-4.0, 4.0, (count, 1, 3)) + rng.normal(0.0, 0.6, (count, 3, 3))
    return mesh(corners.reshape(-1, 3), np.arange(3 * count).reshape(-1, 3))


def mesh(vertices: np.ndarray, faces: np.ndarray) -> Petal:
    grey = np.full((len(vertices), 3), 0.4, dtype=np.float32)
    up = np.tile([0.0, 0.0, 1.0], (len(vertices), 1))
    return pack_petal(PetalMesh(vertices, faces.astype(np.int32), up, grey, 0.5 * grey))


def sheet(bumps_mm: float = 0.15, side: int = 9) -> Petal:
    """An uneven sheet of 8 x 8 mm about z = 0."""
    rng = np.random.default_rng(5)
    x, y = np.meshgrid(np.linspace(-4.0, 4.0, side), np.linspace(-4.0, 4.0, side))
    vertices = np.stack([x, y, rng.uniform(-bumps_mm, bumps_mm, x.shape)], axis=-1).reshape(-1, 3)
    a = (np.arange(side - 1)[:, None] * side + np.arange(side - 1)).ravel()
    lower = np.stack([a, a + 1, a + side], axis=1)
    upper = np.stack([a + 1, a + side + 1, a + side], axis=1)
    return mesh(vertices, np.concatenate([lower, upper]))


def standing(count: int, seed: int = 2) -> Drops:
    """Drops of several sizes and contact angles with their feet at z = 0."""
    rng = np.random.default_rng(seed)
    foot = np.column_stack([rng.uniform(-3.5, 3.5, (count, 2)), np.zeros(count)])
    radius, angle = rng.uniform(0.3, 0.8, count), rng.uniform(60.0, 150.0, count)
    normal = np.tile([0.0, 0.0, 1.0], (count, 1))
    centre = foot - (radius * np.cos(np.radians(angle)))[:, None] * normal
    return pack_drops(DropSet(centre, radius, foot, normal, angle, count))


def ball() -> Drops:
    """A whole ball of radius 1: the petal's plane lies far below it."""
    at = np.zeros((1, 3))
    up = np.array([[0.0, 0.0, 1.0]])
    return pack_drops(DropSet(at, np.ones(1), at - 50.0 * up, up, np.array([180.0]), 1))


FAR_BELOW = mesh(np.array([[0.0, 0.0, -90.0], [1e-3, 0.0, -90.0], [0.0, 1e-3, -90.0]]), np.array([[0, 1, 2]]))
NO_FACE = np.zeros(1, dtype=np.int32)


def rays(seed: int, count: int, span: float = 6.0):
    rng = np.random.default_rng(seed)
    return rng.uniform(-span, span, (count, 3)), naive.directions(rng, count)


# Water


@pytest.mark.parametrize(
    ("angle_deg", "share"),
    [(0, 0.020373), (30, 0.021436), (45, 0.027898), (60, 0.059691), (75, 0.212378), (85, 0.583523)],
)
def test_reflectance_of_water(angle_deg, share):
    """Worked out from Born and Wolf, Principles of Optics, 1.5, at n = 1.333 (Hecht, Optics, ch. 4)."""
    assert water.fresnel(cos(radians(angle_deg)), N) == pytest.approx(share, abs=1e-6)


@given(st.floats(0.0, 1.57), st.sampled_from([N, 1.0 / N, 1.5, 1.0 / 1.5]))
def test_reflectance_is_the_complex_amplitudes(angle, eta):
    assert water.fresnel(cos(angle), eta) == pytest.approx(naive.fresnel(angle, eta), abs=2e-7)


@given(st.floats(0.0, 1.57))
def test_reflectance_is_the_same_both_ways(angle):
    """Stokes' reversibility: from inside at the angle of refraction as from outside (Hecht, ch. 4)."""
    inside = asin(sin(angle) / N)
    assert water.fresnel(cos(inside), 1.0 / N) == pytest.approx(water.fresnel(cos(angle), N), abs=1e-7)


def test_directions_mirrored_and_refracted():
    rng = np.random.default_rng(11)
    for d, n in zip(naive.directions(rng, 400), naive.directions(rng, 400), strict=True):
        n = n if d @ n < 0.0 else -n
        np.testing.assert_allclose(water.mirror(tuple(d), tuple(n)), naive.mirror(d, n), atol=1e-12)
        for eta in (N, 1.0 / N):
            cos_i = float(-(d @ n))
            if naive.fresnel(acos(cos_i), eta) > 0.999:
                continue
            got = np.array(water.bend(tuple(d), tuple(n), cos_i, eta))
            np.testing.assert_allclose(got, naive.bend(d, n, eta), atol=1e-9)
            # Snell's law as vectors: n1 (d x n) = n2 (d' x n)
            np.testing.assert_allclose(eta * np.cross(got, n), np.cross(d, n), atol=1e-9)
            assert np.linalg.norm(got) == pytest.approx(1.0, abs=1e-9)


# Triangles, spheres, trees


@pytest.mark.parametrize("seed", [1, 2])
def test_one_triangle_at_a_time(seed):
    petal = soup(seed, 60)
    for o, d in zip(*rays(seed + 10, 20), strict=True):
        expected = naive.triangles(petal, o, d)
        got = np.array([leaf.triangle(petal, f, tuple(o), tuple(d)) for f in range(len(expected))])
        hit = expected[:, 0] < inf
        # a ray within the kernel's hair's breadth of an edge may count as a hit
        assert (got[hit, 0] < inf).all()
        assert (got[~hit, 0] < inf).sum() <= 1
        np.testing.assert_allclose(got[hit], expected[hit], rtol=1e-6, atol=1e-6)


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_the_tree_finds_what_trying_every_triangle_finds(seed):
    petal, stack = soup(seed), new_stack()
    hits = 0
    for o, d in zip(*rays(seed + 20, 400, 4.0), strict=True):
        t, face, u, v = leaf.nearest(petal, tuple(o), tuple(d), 1e-4, 8.0, stack)
        expected_t, expected_face = naive.nearest(petal, o, d, 1e-4, 8.0)
        assert face == expected_face
        assert leaf.blocked(petal, tuple(o), tuple(d), 1e-4, 8.0, stack) == (expected_face >= 0)
        if face >= 0:
            hits += 1
            assert t == pytest.approx(expected_t, rel=1e-6)
            np.testing.assert_allclose(leaf.place(petal, face, u, v), o + t * d, atol=1e-5)
    assert 100 < hits < 400


def test_rays_along_the_axes_are_found_too():
    """Directions with zeros in them, through the middle of a sheet's triangles."""
    petal, stack = sheet(0.0), new_stack()
    for x in np.linspace(-3.9, 3.9, 23):
        t, face, _, _ = leaf.nearest(petal, (x, 0.3, 5.0), (0.0, 0.0, -1.0), 1e-4, inf, stack)
        assert t == pytest.approx(5.0)
        assert face >= 0


def test_no_ray_slips_between_triangles():
    """Rays aimed at the corners and edges that the triangles of a sheet share."""
    petal, stack = sheet(0.0), new_stack()
    for x in np.linspace(-3.0, 3.0, 25):
        for y in np.linspace(-3.0, 3.0, 25):
            slope = np.array([0.3 * x, -0.2 * y, -5.0])
            d = slope / np.linalg.norm(slope)
            _, face, _, _ = leaf.nearest(
                petal, tuple(np.array([x, y, 0.0]) - 6.0 * d), tuple(d), 1e-4, inf, stack
            )
            assert face >= 0


def test_one_sphere_at_a_time():
    drops = standing(6)
    for o, d in zip(*rays(7, 300), strict=True):
        for k in range(6):
            expected = naive.sphere(drops.centre[k], drops.radius[k], o, d)
            np.testing.assert_allclose(
                drop.sphere(drops, k, tuple(o), tuple(d)), expected, rtol=1e-6, atol=1e-6
            )


def test_the_first_drop_entered_is_the_one_found_by_trying_all():
    drops, stack = standing(60), new_stack()
    found = 0
    for o, d in zip(*rays(8, 600, 3.0), strict=True):
        t, k = drop.enter(drops, tuple(o), tuple(d), 1e-7, 9.0, 3, stack)
        expected_t, expected_k = naive.enter(drops, o, d, 1e-7, 9.0, 3)
        assert k == expected_k
        if k >= 0:
            found += 1
            assert t == pytest.approx(expected_t, rel=1e-9)
    assert found > 60


def test_drops_near_a_cone_hold_every_drop_that_a_ray_of_it_meets():
    drops, stack = standing(60), new_stack()
    rng = np.random.default_rng(9)
    listed = np.empty(60, dtype=np.int32)
    for o, axis in zip(*rays(9, 60), strict=True):
        count = drop.near_cone(drops, Cone(tuple(o), tuple(axis), 9.0, 0.1, 0.2), -1, listed, stack)
        near = set(listed[:count].tolist())
        for lean in naive.directions(rng, 12):
            across = np.cross(axis, lean)
            start = o + 0.1 * across
            d = axis + 0.2 * np.cross(axis, naive.directions(rng, 1)[0])
            far = 9.0 / np.linalg.norm(d)
            d /= np.linalg.norm(d)
            for k in range(60):
                t0, t1 = naive.sphere(drops.centre[k], drops.radius[k], start, d)
                if t1 > 0.0 and t0 < far:
                    assert k in near


# Sample points


def test_sobol_points_are_the_published_ones():
    """The two first dimensions of Joe and Kuo's numbers as scipy has them, as a set of 2^k points."""
    want = qmc.Sobol(2, scramble=False).random(64)
    raw = [
        (
            sampling.reverse_bits(np.uint64(i)) / 2**32,
            sampling.reverse_bits(sampling.reversed_second(np.uint64(i))) / 2**32,
        )
        for i in range(64)
    ]
    assert {tuple(p) for p in want.tolist()} == {(float(x), float(y)) for x, y in raw}


@pytest.mark.parametrize("points", [sampling.pair_of, sampling.shifted_pair])
@pytest.mark.parametrize("pixel", [0, 1, 77, 614_399])
def test_sixteen_points_fill_every_cell(points, pixel):
    """Any 16 points from a multiple of 16 on lie one in each of the 16 boxes of every shape 2^-a x 2^(a-4):
    Sobol 1967, a net that Owen's scrambling keeps (Owen 1995)."""
    scramble = sampling.key(np.uint64(4), pixel, sampling.PAIR.light)
    for first in (0, 16, 48):
        xy = np.array([points(scramble, s) for s in range(first, first + 16)])
        assert (xy >= 0.0).all()
        assert (xy < 1.0).all()
        for a in range(5):
            cells = np.floor(xy * [2**a, 2 ** (4 - a)]).astype(int)
            assert len({tuple(c) for c in cells.tolist()}) == 16


def test_a_point_depends_on_pixel_and_sample_alone():
    rng = np.random.default_rng(1)
    asked = [(p, s) for p in range(9) for s in range(16)]
    scramble = [sampling.key(np.uint64(0), p, sampling.PAIR.pixel) for p in range(9)]
    in_order = {(p, s): sampling.pair_of(scramble[p], s) for p, s in asked}
    for i in rng.permutation(len(asked)):
        p, s = asked[i]
        assert sampling.pair_of(sampling.key(np.uint64(0), p, sampling.PAIR.pixel), s) == in_order[p, s]
    assert len(set(in_order.values())) == len(asked)


def test_pixels_do_not_share_their_points():
    """First points of many pixels are spread evenly: mean 1/2, variance 1/12, no correlation."""
    xy = np.array(
        [sampling.pair_of(sampling.key(np.uint64(0), p, sampling.PAIR.pixel), 0) for p in range(4000)]
    )
    error = 5.0 / sqrt(4000.0)
    np.testing.assert_allclose(xy.mean(axis=0), 0.5, atol=error * sqrt(1.0 / 12.0))
    np.testing.assert_allclose(xy.var(axis=0), 1.0 / 12.0, atol=error * sqrt(1.0 / 180.0))
    assert abs(np.corrcoef(xy.T)[0, 1]) < error
    assert abs(np.corrcoef(xy[:-1, 0], xy[1:, 0])[0, 1]) < error


def test_disc_and_cosine_points_keep_areas():
    """Even on the disc: mean r^2 = 1/2, r^4 = 1/3; density cos / pi: mean cos = 2/3, cos^2 = 1/2."""
    uv = (np.indices((64, 64)).reshape(2, -1).T + 0.5) / 64.0
    r2 = np.array([sum(c * c for c in sampling.to_disc(u, v)) for u, v in uv])
    up = np.array([sampling.spiral_direction(i, 4096, 0.0) for i in range(4096)])
    assert r2.mean() == pytest.approx(0.5, abs=2e-3)
    assert (r2 * r2).mean() == pytest.approx(1.0 / 3.0, abs=2e-3)
    np.testing.assert_allclose(np.linalg.norm(up, axis=1), 1.0, atol=1e-12)
    assert up[:, 2].mean() == pytest.approx(2.0 / 3.0, abs=2e-3)
    assert (up[:, 2] ** 2).mean() == pytest.approx(0.5, abs=2e-3)


# A ray's walk


def walked(drops, petal, o, d, scramble, sample, stack):
    return walk.walk(PathScene(petal, drops, NO_FACE, stack), -1, tuple(o), tuple(d), 1.0, scramble, sample)


@pytest.mark.parametrize("impact", [0.2, 0.5, 0.8, 0.95])
def test_ways_out_of_a_ball(impact):
    """Deviation pi - 2 i mirrored, 2 (i - r) through, 2 (i - r) + pi - 2 r once mirrored inside (Descartes);
    chances F, (1 - F)^2, (1 - F)^2 F; and no weight lost on the way out into the air."""
    drops, stack, i = ball(), new_stack(), asin(impact)
    r = asin(impact / N)
    scramble = sampling.key(np.uint64(0), 12, sampling.PAIR.event)
    count, turned = 4000, []
    for s in range(count):
        end = walked(drops, FAR_BELOW, (impact, 0.0, 5.0), (0.0, 0.0, -1.0), scramble, s, stack)
        assert end[0] == walk.END.environment
        assert end[1] == pytest.approx(1.0, abs=1e-9)
        turned.append((end[9], acos(min(1.0, max(-1.0, -end[8][2])))))
    f = naive.fresnel(i, N)
    ways = [
        (1, pi - 2.0 * i, f),
        (2, 2.0 * (i - r), (1.0 - f) ** 2),
        (3, pi + 2.0 * i - 4.0 * r, f * (1.0 - f) ** 2),
    ]
    for events, deviation, chance in ways:
        of_it = [angle for n, angle in turned if n == events]
        bent = min(deviation, 2.0 * pi - deviation)
        np.testing.assert_allclose(of_it, bent, atol=1e-6)
        assert len(of_it) / count == pytest.approx(chance, abs=5.0 * sqrt(chance * (1.0 - chance) / count))


@pytest.mark.parametrize(
    ("phase_deg", "place"), [(120, 0.97420), (135, 0.91059), (150, 0.76814), (170, 0.33394)]
)
def test_where_a_light_behind_a_ball_is_seen(phase_deg, place):
    """2 (i - r) = 180 - phase with Snell's law, n = 1.333: on the side away from the light."""
    drops, stack = ball(), new_stack()
    scramble = sampling.key(np.uint64(0), 3, sampling.PAIR.event)
    ends = [
        walked(drops, FAR_BELOW, (place, 0.0, 5.0), (0.0, 0.0, -1.0), scramble, s, stack) for s in range(40)
    ]
    leaving = np.array([end[8] for end in ends if end[9] == 2])
    assert len(leaving) > 5
    # the camera's ray at +x goes on to a light on the -x side, below
    to_light = np.array([-sin(radians(phase_deg)), 0.0, cos(radians(phase_deg))])
    np.testing.assert_allclose(leaving, np.broadcast_to(to_light, leaving.shape), atol=2e-4)


def test_walks_among_drops_on_a_petal():
    """Step by step as a plain twin that tries every triangle and drop, with the same chances."""
    petal, drops, stack = sheet(), standing(14), new_stack()
    under = np.zeros(14, dtype=np.int32)
    origin, _ = rays(31, 700, 3.5)
    scramble, ends, same = sampling.key(np.uint64(2), 40, sampling.PAIR.event), [], 0
    rng = np.random.default_rng(32)
    for s, (o, lean) in enumerate(zip(origin, naive.directions(rng, 700), strict=True)):
        o[2], d = 4.0, np.array([0.5 * lean[0], 0.5 * lean[1], -1.0])
        d /= np.linalg.norm(d)
        got = walk.walk(PathScene(petal, drops, under, stack), -1, tuple(o), tuple(d), 1.0, scramble, s)
        want = naive.walk(petal, drops, o, d, int(scramble), s)
        ends.append(want[0])
        close = np.allclose(got[8], want[4], atol=1e-5) and np.allclose(got[7], want[3], atol=1e-5)
        same += got[0] == want[0] and got[5] == want[2] and abs(got[1] - want[1]) < 1e-9 and close
    # rays that graze a drop or an edge may part
    assert same >= 697
    assert {walk.END.petal, walk.END.base, walk.END.environment} <= set(ends)
