"""Diffraction: Goodman, Introduction to Fourier Optics, ch. 6; Hecht, Optics, ch. 10; Rayleigh 1881."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.optics.airy import (
    FIRST_DARK_RING,
    airy_diameter_um,
    airy_pattern,
    cut_off_per_mm,
    diffraction_contrast,
    encircled_share,
    object_aperture,
    resolved_detail_um,
)


@pytest.mark.parametrize(
    ("n_eff", "diameter", "cut_off"),
    [(8, 10.73, 227.27), (16, 21.46619, 113.6364), (32, 42.93238, 56.81818), (44, 59.03202, 41.32231)],
)
def test_disc_and_cut_off(n_eff, diameter, cut_off):
    assert airy_diameter_um(n_eff, 550) == pytest.approx(diameter, abs=4e-3)
    assert cut_off_per_mm(n_eff, 550) == pytest.approx(cut_off, abs=4e-3)


@pytest.mark.parametrize(
    ("share", "contrast"),
    [(0.1, 0.8728886), (0.25, 0.6850376), (0.5, 0.3910022), (0.75, 0.1442936), (1.2, 0.0)],
)
def test_contrast(share, contrast):
    cut_off = cut_off_per_mm(32, 550)
    assert diffraction_contrast(share * cut_off, 32, 550) == pytest.approx(contrast, abs=1e-6)


def test_pattern_is_dark_at_the_first_ring():
    ring = FIRST_DARK_RING * 0.55 * 32
    assert 2 * ring == pytest.approx(airy_diameter_um(32, 550))
    assert airy_pattern(ring, 32, 550) < 1e-12 * airy_pattern(0, 32, 550)
    # 83.8 % of the light within the first ring, 91.0 % within the second (1.619): Hecht, ch. 10; Born and
    # Wolf, 8.5.
    assert encircled_share(ring, 32, 550) == pytest.approx(0.838, abs=5e-4)
    assert encircled_share(2.233 * 0.55 * 32, 32, 550) == pytest.approx(0.910, abs=5e-4)


def test_encircled_light_is_the_sum_of_the_pattern():
    r = (np.arange(200_000) + 0.5) / 200_000 * 100
    summed = np.cumsum(2 * np.pi * r * airy_pattern(r, 32, 550)) * (r[1] - r[0])
    for radius in (5, 20, 60, 99):
        place = np.searchsorted(r, radius)
        assert summed[place] == pytest.approx(float(encircled_share(radius, 32, 550)), abs=2e-4)


def test_contrast_is_the_transform_of_the_pattern():
    # The line spread's cosine transform, by plain sums over a wide field.
    side = (np.arange(3001) - 1500) * 1.0  # micrometres
    x, y = np.meshgrid(side, side)
    pattern = airy_pattern(np.hypot(x, y), 32, 550)
    for per_mm in (5, 15, 30, 45):
        found = np.sum(pattern * np.cos(2 * np.pi * per_mm * x / 1000)) / pattern.sum()
        assert found == pytest.approx(float(diffraction_contrast(per_mm, 32, 550)), abs=6e-3)


def test_at_the_subject():
    assert object_aperture(16, 1) == pytest.approx(0.03125)
    assert object_aperture(24, 0.5) == pytest.approx(0.0104166667)
    # 0.61 lambda / NA with the rounded 0.61 gives 10.736 um.
    assert resolved_detail_um(16, 1, 550) == pytest.approx(10.736, abs=4e-3)
    assert resolved_detail_um(24, 0.5, 550) == pytest.approx(32.2, abs=0.02)


@given(st.floats(0, 200), st.floats(2, 90), st.floats(1.01, 2))
def test_stopping_down_never_helps_contrast(per_mm, n_eff, factor):
    assert diffraction_contrast(per_mm, n_eff * factor) <= diffraction_contrast(per_mm, n_eff)
