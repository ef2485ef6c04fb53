"""Caustics of a sphere: the one-variable connection against independent counts of refracted rays."""

from __future__ import annotations

from itertools import pairwise
from math import pi, radians

import numpy as np
import pytest

from lightsim.tracer import kernels
from tests.tracer.inner import Room

connect = Room(kernels.connection)
N = 1.333


def unpolarised(i):
    """Fresnel transmission into water. Born and Wolf, Principles of Optics, 1.5."""
    r = np.arcsin(np.sin(i) / N)
    rs = (np.cos(i) - N * np.cos(r)) / (np.cos(i) + N * np.cos(r))
    rp = (N * np.cos(i) - np.cos(r)) / (N * np.cos(i) + np.cos(r))
    return 1.0 - 0.5 * (rs**2 + rp**2)


def parallel_rays(count=400_001):
    """Incidence, refraction, and each ray's share of a unit beam, for rays spread over the sphere's disc."""
    i = np.linspace(0.0, pi / 2.0, count)[1:-1]
    return i, np.arcsin(np.sin(i) / N), 2.0 * pi * np.sin(i) * np.cos(i) * (i[1] - i[0])


def plane_irradiance(rho, z, courses):
    """Irradiance of a plane across the beam at height z, from the kernels' roots."""
    total = 0.0
    for course in courses:
        state, entry = 0, connect.stretches_at(rho, z, 1e6)
        while True:
            _, state, path = connect.next_root(rho, z, 1e6, course, entry, state)
            if state < 0:
                break
            _, _, t = connect.miss(rho, z, path, course)
            if t > 0.0:
                total += 1e12 * abs(path.dz) * connect.flux_density(path, 1e6, course, t, 0.0)
    return total


def ring_means(radii, weights, edges):
    """Weight per area of rings."""
    held, _ = np.histogram(radii, bins=edges, weights=weights)
    return held / (pi * np.diff(edges**2))


def kernel_ring_means(edges, z, courses):
    nodes, shares = np.polynomial.legendre.leggauss(8)
    means = []
    for low, high in pairwise(edges):
        area = low**2 + 0.5 * (nodes + 1.0) * (high**2 - low**2)
        means.append(
            0.5 * sum(s * plane_irradiance(a**0.5, z, courses) for a, s in zip(area, shares, strict=True))
        )
    return np.array(means)


@pytest.mark.parametrize("z", [0.0, -0.3, -0.6])
def test_inside_the_sphere(z):
    i, r, share = parallel_rays()
    run = pi + i - r
    t = (z - np.cos(i)) / np.cos(run)
    radii = np.abs(np.sin(i) + t * np.sin(run))
    edges = np.linspace(0.0, 0.9 * np.sqrt(1.0 - z * z), 13)
    counted = ring_means(radii, share * unpolarised(i), edges)
    got = kernel_ring_means(edges, z, [connect.PATH.inside])
    # at z = -0.6 one ring holds the fold at the border of the light, an integrable infinity
    assert np.isclose(got, counted, rtol=0.01, atol=0.01).sum() >= len(edges) - 1 - (z < -0.5)


@pytest.mark.parametrize("z", [-1.4, -2.5, -5.0])
def test_behind_the_sphere(z):
    """Light through it on a plane behind, folds of the caustic and the paraxial focus included."""
    i, r, share = parallel_rays()
    stand, run = i + pi - 2.0 * r, 2.0 * i + pi - 2.0 * r
    ahead = np.cos(run) < 0.0
    t = (z - np.cos(stand)) / np.cos(run)
    radii = np.abs(np.sin(stand) + t * np.sin(run))
    edges = np.linspace(0.2, 3.0, 15)
    keep = ahead & (t > 0.0)
    counted = ring_means(radii[keep], (share * unpolarised(i) ** 2)[keep], edges)
    # rings with a fold inside carry an integrable infinity that the few nodes of a ring cannot follow
    got = kernel_ring_means(edges, z, [connect.PATH.through])
    close = np.isclose(got, counted, rtol=0.03, atol=0.003)
    assert close.sum() >= len(edges) - 3


def test_mirrored_light_is_even_in_all_directions_but_for_fresnel():
    """I = E R^2 F / 4 per steradian far away (convex mirror; Hecht, Optics, ch. 5)."""
    far = 400.0
    for phase in (20.0, 80.0, 140.0):
        rho, z = far * np.sin(radians(phase)), far * np.cos(radians(phase))
        fresnel = 1.0 - unpolarised(radians(phase) / 2.0)
        assert connect.beam_density(rho, z, connect.PATH.mirrored) * far**2 == pytest.approx(
            fresnel / 4.0, rel=0.01
        )


def test_base_of_a_hemispherical_cap_on_the_axis():
    """(1 - (n - 1) / n)^-2 = n^2 times the beam, times 0.97963 at normal entry: 1.74069 (paraxial)."""
    assert connect.beam_density(1e-7, 0.0, connect.PATH.inside) == pytest.approx(1.74069, rel=1e-4)


def test_paraxial_focus_of_a_ball_lens():
    """Focus n D / (4 (n - 1)) = 2.0015 R from the centre (Hecht, Optics, ch. 6)."""
    heights = -np.linspace(1.5, 2.5, 2001)
    axis = [connect.beam_density(1e-9, z, connect.PATH.through) for z in heights]
    assert -heights[int(np.argmax(axis))] == pytest.approx(2.0015, abs=0.002)


def test_no_light_goes_through_beyond_the_grazing_ray():
    """The most that a ray is turned is 180 - 2 asin(1/n) = 82.7867 deg (Descartes)."""
    far = 1000.0
    for turned, lit in ((82.0, True), (84.0, False)):
        phase = radians(180.0 - turned)
        got = connect.beam_density(far * np.sin(phase), far * np.cos(phase), connect.PATH.through)
        assert (got * far**2 > 1e-6) == lit


def test_rainbow():
    """Descartes: one inner mirroring turns no ray to a phase angle beyond 42.0781 deg at n = 1.333."""
    far = 1e5
    for phase, lit in ((41.9, True), (42.3, False)):
        got = connect.beam_density(
            far * np.sin(radians(phase)), far * np.cos(radians(phase)), connect.PATH.once_inside
        )
        assert (got * far**2 > 1e-6) == lit


def test_energy_of_a_beam_on_a_sphere():
    """What falls on the sphere, pi R^2, is mirrored, goes through, or is mirrored inside before it leaves."""
    far = 2000.0
    phase, weight = np.polynomial.legendre.leggauss(600)
    angle = 0.5 * pi * (phase + 1.0)
    shares = {
        course: sum(
            0.5
            * pi
            * w
            * 2.0
            * pi
            * np.sin(a)
            * far**2
            * connect.beam_density(far * np.sin(a), far * np.cos(a), course)
            for a, w in zip(angle, weight, strict=True)
        )
        / pi
        for course in (connect.PATH.mirrored, connect.PATH.through, connect.PATH.once_inside)
    }
    i, _, share = parallel_rays()
    t = unpolarised(i)
    assert shares[connect.PATH.mirrored] == pytest.approx((share * (1 - t)).sum() / pi, rel=0.03)
    assert shares[connect.PATH.through] == pytest.approx((share * t * t).sum() / pi, rel=0.02)
    left = (share * t * (1.0 - t) ** 2).sum() / pi  # two or more inner mirrorings
    assert sum(shares.values()) == pytest.approx(1.0 - left, abs=0.02)
