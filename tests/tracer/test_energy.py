"""Where the light goes that falls on a drop: below it, past it, off it; nothing is lost and nothing added."""

from __future__ import annotations

from functools import cache
from math import cos, pi, radians, sin

import numpy as np
import pytest

from lightsim.tracer import kernels, trace_layers
from tests.tracer.inner import Room
from tests.tracer.sets import lamp, one_drop, plain_petal, simple

connect = Room(kernels.connection)
N = 1.333
RADIUS_MM = 0.75
DIM = 0.004  # reflectance of a petal so dark that its light bounces nowhere again


def reflectance(cos_i: np.ndarray, eta: float = N) -> np.ndarray:
    """Unpolarised, below total reflection. Born and Wolf, Principles of Optics, 1.5."""
    cos_t = np.sqrt(1.0 - (1.0 - cos_i**2) / eta**2)
    rs = (cos_i - eta * cos_t) / (cos_i + eta * cos_t)
    rp = (eta * cos_i - cos_t) / (eta * cos_i + cos_t)
    return 0.5 * (rs**2 + rp**2)


# Light along the axis of a cap, by the kernels' densities


def flux_on_base(height: float, nodes: int = 1500) -> float:
    """Share of the beam on the whole sphere that comes to a base this high (radii over the centre)."""
    area = (1.0 - height * height) * (np.arange(nodes) + 0.5) / nodes
    got = 0.0
    for rho in np.sqrt(area):
        state, entry = 0, connect.stretches_at(rho, height, 1e6)
        while True:
            _, state, path = connect.next_root(rho, height, 1e6, connect.PATH.inside, entry, state)
            if state < 0:
                break
            _, _, t = connect.miss(rho, height, path, connect.PATH.inside)
            if t > 0.0 and path.z > height:
                got -= path.dz * connect.flux_density(path, 1e6, connect.PATH.inside, t, 0.0)
    return 1e12 * got * (1.0 - height * height) / nodes


@cache
def flux_mirrored(first_deg: float, last_deg: float, nodes: int = 200) -> float:
    """Share of the beam that leaves mirrored at phase angles between these, on a large sphere round it."""
    x, w = np.polynomial.legendre.leggauss(nodes)
    far, half = 1e4, 0.5 * radians(last_deg - first_deg)
    phase = radians(first_deg) + half * (x + 1.0)
    density = [connect.beam_density(far * sin(p), far * cos(p), connect.PATH.mirrored) for p in phase]
    return float(np.sum(w * half * 2.0 * np.sin(phase) * np.array(density))) * far**2


@pytest.mark.parametrize("contact_angle_deg", [90.0, 120.0, 150.0])
def test_what_falls_on_a_drop_comes_to_its_base_or_is_mirrored(contact_angle_deg):
    """In light along its axis. At these contact angles every ray that enters meets the base: a chord ends
    180 + i - 2 r round the sphere, never more than 21.04 deg from its foot (Descartes' ray).
    """
    base = flux_on_base(cos(radians(contact_angle_deg)))
    mirrored_up, mirrored_down = flux_mirrored(0.0, 90.0), flux_mirrored(90.0, 180.0)
    assert base + mirrored_up + mirrored_down == pytest.approx(1.0, abs=0.005)
    # reflected at less than 45 deg goes up; the share of the disc there is half
    i = np.radians((np.arange(9000) + 0.5) / 100.0)
    share = 2.0 * np.sin(i) * np.cos(i) * radians(0.01) * reflectance(np.cos(i))
    assert mirrored_up == pytest.approx(share[:4500].sum(), rel=0.002)
    assert mirrored_down == pytest.approx(share[4500:].sum(), rel=0.005)


# Pictures


def test_a_half_ball_lit_and_seen_along_its_axis():
    """The ray that lands at x on the base from height h of the beam brings T h dh / (x dx), and shows
    T / n^2 of the base's radiance: T^2 / (n^2 (x / h) (dx / dh)), which is T^2 in the middle (radiance over
    n^2 is kept along a ray: Born and Wolf, 4.8.3).
    """
    light = lamp(shape="round", width_mm=40.0, height_mm=40.0, distance_mm=6000.0, angle_deg=0.0)
    scene = simple(plain_petal(DIM), one_drop(90.0), (light,), field_mm=2.4, far=True)
    layers = trace_layers(scene, width_px=120, samples=32)
    ratio = layers.by_light["lamp"].water[..., 1] / (DIM / pi * 1e6 / 6000.0**2)
    rows, columns = np.indices(layers.shape) + 0.5
    far = np.hypot(columns - 60.0, rows - layers.shape[0] / 2.0) * layers.mm_per_px / RADIUS_MM
    h = np.linspace(0.0, 1.0, 4001)[1:-1]
    i = np.arcsin(h)
    x = h - np.cos(i) * np.tan(i - np.arcsin(h / N))
    seen = (1.0 - reflectance(np.cos(i))) ** 2 / (N * N * x / h * np.gradient(x, h))
    for low, high in ((0.0, 0.15), (0.15, 0.35), (0.35, 0.55), (0.55, 0.75), (0.75, 0.9)):
        ring, of_ring = (far > low) & (far < high), (h > low) & (h < high)
        expected = np.average(seen[of_ring], weights=h[of_ring])
        assert ratio[ring].mean() == pytest.approx(expected, rel=0.015)
    assert seen[0] == pytest.approx(0.97963**2, abs=1e-4)


SIDE = lamp(shape="round", width_mm=4.0, height_mm=4.0, clock=3.0, distance_mm=400.0)
BLOCK = 8
# contact angle and the light's angle off the axis; where both are low the drop covers its bright spot
LOW, STANDING = [(90.0, 60.0), (120.0, 60.0), (150.0, 40.0)], [(135.0, 70.0), (150.0, 60.0)]


def way_to_lamp(angle_deg: float) -> np.ndarray:
    return np.array([sin(radians(angle_deg)), 0.0, cos(radians(angle_deg))])


def centre_of(contact_angle_deg: float) -> np.ndarray:
    return np.array([0.0, 0.0, -RADIUS_MM * cos(radians(contact_angle_deg))])


def after(o: np.ndarray, d: np.ndarray, centre: np.ndarray) -> np.ndarray:
    """Where rays from points of the sphere meet it again."""
    return o - 2.0 * np.sum(d * (o - centre), axis=1, keepdims=True) * d


def bent(d: np.ndarray, n: np.ndarray, eta: float) -> np.ndarray:
    """Snell's law for many rays; n faces them."""
    c = -np.sum(d * n, axis=1, keepdims=True)
    return d / eta + (c / eta - np.sqrt(1.0 - (1.0 - c * c) / eta**2)) * n


def landed(o: np.ndarray, d: np.ndarray, share: np.ndarray, shape: tuple[int, int], block_mm: float):
    """Shares of rays summed over blocks of the petal's plane z = 0, row 0 at the top."""
    down = d[:, 2] < -1e-9
    place = o[down] - (o[down, 2:] / d[down, 2:]) * d[down]
    height, width = shape[0] * block_mm / 2.0, shape[1] * block_mm / 2.0
    sums, _, _ = np.histogram2d(
        -place[:, 1], place[:, 0], bins=shape, range=((-height, height), (-width, width)), weights=share[down]
    )
    return sums


def beam(lamp_at: np.ndarray, centre: np.ndarray, rays: int = 1000):
    """Where rays from the lamp meet the part of the sphere above the petal, their directions, flux per cd."""
    axis = (centre - lamp_at) / np.linalg.norm(centre - lamp_at)
    across, upward = np.array([0.0, 1.0, 0.0]), np.cross(axis, [0.0, 1.0, 0.0])
    step = 2.0 * RADIUS_MM * 1.001 / rays
    a, b = (np.indices((rays, rays)).reshape(2, -1) + 0.5) * step - RADIUS_MM * 1.001
    aim = centre + a[:, None] * across + b[:, None] * upward - lamp_at
    distance = np.linalg.norm(aim, axis=1)
    d = aim / distance[:, None]
    share = step * step * (d @ axis) / distance**2
    m = lamp_at - centre
    along = d @ m
    inside = along**2 - m @ m + RADIUS_MM**2
    hit = inside > 0.0
    d, share = d[hit], share[hit]
    e = lamp_at + (-along[hit] - np.sqrt(inside[hit]))[:, None] * d
    above = e[:, 2] > 0.0
    return e[above], d[above], share[above]


def counted(contact_angle_deg: float, angle_deg: float, shape: tuple[int, int], block_mm: float):
    """Light that comes to the petal by way of the drop, in cd / mm2 from a lamp of 1 cd, by counting rays."""
    centre = centre_of(contact_angle_deg)
    e, d, share = beam(SIDE.distance_mm * way_to_lamp(angle_deg), centre)
    n = (e - centre) / RADIUS_MM
    c = -np.sum(d * n, axis=1)
    f = reflectance(c)
    sums = landed(e, d + 2.0 * c[:, None] * n, share * f, shape, block_mm)
    inner = bent(d, n, N)
    passed = share * (1.0 - f) ** 2
    for _ in range(2):  # through; once mirrored inside
        e = after(e, inner, centre)
        above = e[:, 2] > 0.0
        e, inner, f, passed = e[above], inner[above], f[above], passed[above]
        n = (centre - e) / RADIUS_MM
        sums += landed(e, bent(inner, n, 1.0 / N), passed, shape, block_mm)
        inner, passed = inner - 2.0 * np.sum(inner * n, axis=1, keepdims=True) * n, passed * f
    return sums / block_mm**2


def straight(contact_angle_deg: float, angle_deg: float, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Irradiance of points of the plane z = 0 straight from the lamp's middle, cd / mm2 for 1 cd."""
    o = np.stack([x, y, np.zeros_like(x)], axis=-1)
    to = SIDE.distance_mm * way_to_lamp(angle_deg) - o
    far = np.linalg.norm(to, axis=-1)
    d = to / far[..., None]
    m = o - centre_of(contact_angle_deg)
    b, rest = np.sum(m * d, axis=-1), np.sum(m * m, axis=-1) - RADIUS_MM**2
    leaves = -b + np.sqrt(np.maximum(b * b - rest, 0.0))
    hidden = (b * b > rest) & (leaves > 0.0)
    return np.where(hidden, 0.0, (d @ way_to_lamp(angle_deg)) * d[..., 2] / far**2)


@cache
def beside_a_drop(contact_angle_deg: float, angle_deg: float):
    """Irradiance of the petal over the lamp's own, in blocks of pixels: traced, straight, by the drop; and
    which blocks show nothing but petal."""
    light = SIDE.moved(angle_deg=angle_deg)
    scene = simple(plain_petal(DIM), one_drop(contact_angle_deg, 2.0 * RADIUS_MM), (light,), field_mm=6.0)
    layers = trace_layers(scene, width_px=192, samples=64)
    h, w = layers.shape
    own = cos(radians(angle_deg)) / SIDE.distance_mm**2
    fine = (np.arange(4 * w) + 0.5) / 4.0
    x, y = np.meshgrid((fine - w / 2.0) * layers.mm_per_px, (h / 2.0 - fine[: 4 * h]) * layers.mm_per_px)
    past = in_blocks(straight(contact_angle_deg, angle_deg, x, y), 4 * BLOCK) / own
    shape = (h // BLOCK, w // BLOCK)
    by_drop = counted(contact_angle_deg, angle_deg, shape, BLOCK * layers.mm_per_px) / own
    got = in_blocks(layers.by_light["lamp"].petal[..., 1], BLOCK) * pi / DIM / 1e6 / own
    bare = in_blocks(layers.maps.petal_cover, BLOCK, np.min) > 0.999
    return got, past, by_drop, bare


def in_blocks(picture: np.ndarray, side: int, how=np.mean) -> np.ndarray:
    h, w = picture.shape
    return how(picture.reshape(h // side, side, w // side, side), axis=(1, 3))


@pytest.mark.parametrize(("contact_angle_deg", "angle_deg"), LOW + STANDING)
def test_the_petal_beside_a_drop_block_by_block(contact_angle_deg, angle_deg):
    """In light from the side: shadow, bright spot in it, and the glow before the drop, against rays refracted
    and mirrored one by one. Light under 2 % of the lamp's own may be left out."""
    got, past, by_drop, bare = beside_a_drop(contact_angle_deg, angle_deg)
    near = np.isclose(got, past + by_drop, rtol=0.04, atol=0.03)
    assert near[bare].mean() > 0.985
    assert (np.abs(got - past - by_drop) < 0.05 + 0.1 * by_drop)[bare].all()


@pytest.mark.parametrize(("contact_angle_deg", "angle_deg"), STANDING)
def test_the_bright_spot_as_a_whole(contact_angle_deg, angle_deg):
    """All the light that a drop gathers beside itself, the sharp focus of the marginal and paraxial rays
    included."""
    got, past, by_drop, bare = beside_a_drop(contact_angle_deg, angle_deg)
    strong = bare & (by_drop > 0.05)
    assert by_drop[strong].max() > 5.0
    assert (got - past)[strong].sum() == pytest.approx(by_drop[strong].sum(), rel=0.02)
