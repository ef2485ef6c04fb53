"""Ways between a drop and the petal round it, held against a count of rays followed in plain vectors."""

from __future__ import annotations

import numpy as np
import pytest

from lightsim.tracer import drop_transfer
from lightsim.tracer.drop_transfer import Detail
from lightsim.tracer.kernels import base_transfer, near_transfer
from tests.tracer.inner import Room

N = 1.333
RINGS, SPOKES, GRID = 12, 16, 10
DETAIL = Detail(GRID, RINGS, SPOKES, base_rays=48, ring_rays=1536, far_rays=6)
FAINT = 1e-4  # of the strongest ray's light: what is let go is far below the counts' bounds
ring_at = Room(near_transfer).ring_radius


def dots(a, b):
    return np.sum(a * b, axis=-1)


def reflected(cos_i, eta):
    """Fresnel reflectance, unpolarised, and cosine beyond. Born and Wolf, Principles of Optics, 1.5."""
    cos_i = np.maximum(cos_i, 1e-9)
    k = 1.0 - (1.0 - cos_i**2) / eta**2
    cos_t = np.sqrt(np.maximum(k, 0.0))
    rs = (cos_i - eta * cos_t) / (cos_i + eta * cos_t)
    rp = (eta * cos_i - cos_t) / (eta * cos_i + cos_t)
    return np.where(k > 0.0, 0.5 * (rs**2 + rp**2), 1.0), cos_t


def upward(many, rng):
    """Directions with the cosine's density."""
    u, turn = rng.random(many), 2.0 * np.pi * rng.random(many)
    return np.stack([np.sqrt(u) * np.cos(turn), np.sqrt(u) * np.sin(turn), np.sqrt(1.0 - u)], axis=-1)


def followed(p, d, w, centre):
    """Rays inside the water: light that ends on the base, and the places, directions and light of all that
    leave. A ray with less than FAINT of the strongest one's light is let go."""
    on_base, out = 0.0, []
    for _ in range(60):
        m = p - centre
        b = dots(m, d)
        far = -b + np.sqrt(np.maximum(0.0, b**2 - dots(m, m) + 1.0))
        to_base = np.where(d[:, 2] < -1e-12, -p[:, 2] / np.minimum(d[:, 2], -1e-12), np.inf)
        goes_on = to_base > far - 1e-9
        on_base += w[~goes_on].sum()
        p, d, w, far = p[goes_on], d[goes_on], w[goes_on], far[goes_on]
        n = centre - (p + far[:, None] * d)
        n /= np.linalg.norm(n, axis=1)[:, None]  # or rays along the surface would leave it after many turns
        p = centre - n
        cos_i = np.clip(-dots(d, n), 0.0, 1.0)
        f, cos_t = reflected(cos_i, 1.0 / N)
        leave = f < 1.0
        run = N * d + (N * cos_i - cos_t)[:, None] * n
        out.append((p[leave], run[leave], (w * (1.0 - f))[leave]))
        w, d = w * f, d + 2.0 * cos_i[:, None] * n
        strong = w > FAINT * w.max(initial=0.0)
        p, d, w = p[strong], d[strong], w[strong]
    return on_base, *(np.concatenate(parts) for parts in zip(*out, strict=True))


@pytest.mark.parametrize("angle", [60.0, 90.0, 110.0, 150.0])
def test_light_of_a_base_leaves_downward_as_often_as_counted(angle):
    paths = drop_transfer.base_paths(angle, GRID, 48)
    down = (paths.out_share * (paths.out_run[..., 2] < 0.0)).sum(axis=1).reshape(GRID, GRID).mean(axis=1)
    thrown = paths.back_share.mean(axis=1).reshape(GRID, GRID).mean(axis=1)
    rim = np.sin(np.radians(angle))
    centre = np.array([0.0, 0.0, -np.cos(np.radians(angle))])
    rng = np.random.default_rng(3)
    place = Room(base_transfer).ring_place
    for ring in (0, 2, 4, 6, 8):
        r = place(GRID, float(rim), float(ring)) * rim
        p = np.tile([r, 0.0, 0.0], (100_000, 1))
        back, _, run, light = followed(p, upward(len(p), rng), np.full(len(p), 1.0 / len(p)), centre)
        assert thrown[ring] == pytest.approx(back, rel=0.02, abs=2e-3)
        assert down[ring] == pytest.approx(light[run[:, 2] < 0.0].sum(), rel=0.06, abs=1e-3)


@pytest.mark.parametrize("angle", [60.0, 90.0, 110.0, 150.0])
def test_the_petal_sees_of_a_drop_what_is_counted(angle):
    found = drop_transfer.ring_paths(angle, DETAIL)
    rim = float(np.sin(np.radians(angle)))
    centre = np.array([0.0, 0.0, -np.cos(np.radians(angle))])
    rng = np.random.default_rng(4)
    for ring in (3, 6, 9):
        x = np.array([ring_at(rim, RINGS, float(ring)), 0.0, 0.0])
        many = 2_000_000
        d = upward(many, rng)
        b = d @ (x - centre)
        root = b**2 - dots(x - centre, x - centre) + 1.0
        hit = (root > 0.0) & (b < 0.0)
        d, p = d[hit], x + (-b[hit] - np.sqrt(root[hit]))[:, None] * d[hit]
        n = p - centre
        cos_i = -dots(d, n)
        f, cos_t = reflected(cos_i, N)
        run = d + 2.0 * cos_i[:, None] * n
        petal, sky = (f * (run[:, 2] < 0.0)).sum(), (f * (run[:, 2] >= 0.0)).sum()
        inner = d / N + (cos_i / N - cos_t)[:, None] * n
        on_base, _, run, light = followed(p, inner, 1.0 - f, centre)
        petal += light[run[:, 2] < 0.0].sum()
        sky += light[run[:, 2] >= 0.0].sum()
        down = found.out_run[ring, :, 2] < 0.0
        assert found.hidden_share[ring].sum() == pytest.approx(hit.mean(), rel=0.02)
        assert found.base_share[ring].sum() == pytest.approx(on_base / many / N**2, rel=0.06, abs=1e-4)
        assert found.out_share[ring, down].sum() == pytest.approx(petal / many, rel=0.06, abs=1e-3)
        assert found.out_share[ring, ~down].sum() == pytest.approx(sky / many, rel=0.06, abs=1e-3)


def test_between_rings_a_power_of_the_radius_is_kept():
    rims = np.array([1.0, 0.5])
    radius = np.array([[ring_at(rim, RINGS, float(i)) for i in range(RINGS)] for rim in rims])
    values = np.repeat(radius[:, :, None, None] ** -3.0, 4, axis=2)
    values = np.repeat(values, 3, axis=3)
    fine = drop_transfer.between_rings(rims, values, np.zeros((2, RINGS, 4)))
    many = fine.shape[1]
    radius = np.array([[ring_at(rim, many, float(i)) for i in range(many)] for rim in rims])
    assert np.allclose(fine[..., 0], radius[:, :, None] ** -3.0, rtol=1e-12)
