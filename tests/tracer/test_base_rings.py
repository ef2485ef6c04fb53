"""The grid of a wet base, and the dome's light on it against a count of rays from the base outward."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lightsim.tracer import kernels
from lightsim.tracer.prepared_scene import Ground
from tests.tracer.inner import Room
from tests.tracer.sets import one_drop, plain_petal, simple

base = Room(kernels.base_transfer)
N = 1.333
RIMS = np.sin(np.radians([40.0, 60.0, 90.0, 110.0, 150.0]))


def reflected(cos_i, eta):
    """Fresnel reflectance, unpolarised, and cosine beyond. Born and Wolf, Principles of Optics, 1.5."""
    k = 1.0 - (1.0 - cos_i**2) / eta**2
    cos_t = np.sqrt(np.maximum(k, 0.0))
    rs = (cos_i - eta * cos_t) / (cos_i + eta * cos_t)
    rp = (eta * cos_i - cos_t) / (eta * cos_i + cos_t)
    return np.where(k > 0.0, 0.5 * (rs**2 + rp**2), 1.0), cos_t


def counted(r, angle_deg, rays=200_000):
    """Irradiance at a share r of the base's radius under an even dome of level 1, the petal black: rays
    from the base with the cosine's density, mirrored and let out at the sphere until they meet the base."""
    angle = np.radians(angle_deg)
    centre = np.array([0.0, 0.0, -np.cos(angle)])
    rng = np.random.default_rng(5)
    u, turn = rng.random(rays), 2.0 * np.pi * rng.random(rays)
    d = np.stack([np.sqrt(u) * np.cos(turn), np.sqrt(u) * np.sin(turn), np.sqrt(1.0 - u)], axis=-1)
    p = np.tile([r * np.sin(angle), 0.0, 0.0], (rays, 1))
    left, total = np.ones(rays), 0.0
    for _ in range(12):
        m = p - centre
        along = np.sum(m * d, axis=-1)
        far = -along + np.sqrt(np.maximum(0.0, along**2 - np.sum(m * m, axis=-1) + 1.0))
        to_base = np.where(d[:, 2] < 0.0, -p[:, 2] / np.minimum(d[:, 2], -1e-12), np.inf)
        left = np.where(to_base < far, 0.0, left)
        p = p + np.minimum(far, 2.0)[:, None] * d
        inward = (centre - p) / np.linalg.norm(centre - p, axis=-1, keepdims=True)
        cos_i = np.clip(-np.sum(d * inward, axis=-1), 0.0, 1.0)
        f, cos_t = reflected(cos_i, 1.0 / N)
        out = N * d + (N * cos_i - cos_t)[:, None] * inward
        total += np.mean(np.where((f < 1.0) & (out[:, 2] > 0.0), left * (1.0 - f) * N * N, 0.0))
        left = left * f
        d = d + 2.0 * cos_i[:, None] * inward
    return total


@pytest.mark.parametrize("rim", RIMS)
@pytest.mark.parametrize("rings", [5, 10])
def test_a_ring_is_found_where_it_lies(rim, rings):
    places = [base.ring_place(rings, rim, float(i)) for i in range(rings)]
    assert np.all(np.diff(places) > 0.0)
    assert 0.0 <= places[0] < 1e-9
    assert places[-1] > 0.99
    found = [base.grid_ring(rings, rim, place) for place in places]
    np.testing.assert_allclose(found, np.arange(rings), atol=1e-6)


def test_a_ring_lies_where_the_water_begins_to_throw_light_back_wholly():
    """1 / n radii from the sphere's centre a ray square to the radius meets the surface at the critical
    angle: 0.7502 of the base's radius for a hemisphere."""
    places = [base.ring_place(10, 1.0, float(i)) for i in range(10)]
    assert min(abs(place - 1.0 / N) for place in places) < 1e-9


@pytest.mark.parametrize("angle_deg", [90.0, 110.0, 150.0])
def test_the_domes_light_on_a_base(angle_deg):
    petal = replace(plain_petal(0.05), width_mm=60.0, length_mm=60.0, mesh_spacing_mm=3.0)
    ground = Ground(simple(petal, one_drop(angle_deg)), 32, 4, 0)
    rings = ground.indirect.detail.grid
    light = ground.indirect.drops[0].base_rays.dome[0].reshape(rings, rings)
    rim = float(np.sin(np.radians(angle_deg)))
    for ring in (1, 3, 5, 7, 9):
        place = base.ring_place(rings, rim, float(ring))
        assert light[ring].mean() == pytest.approx(counted(place, angle_deg), rel=0.03)
        assert np.ptp(light[ring]) < 0.04 * light[ring].mean()
