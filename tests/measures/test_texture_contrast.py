"""Texture against gratings, whose RMS contrast is known.

E. Peli, J. Opt. Soc. Am. A 7 (1990) 2032: a grating of Michelson contrast C has the RMS contrast C / sqrt(2).
An average that halves gratings of period P0 leaves 2^-(P0/P)^2 of one of period P (a Gaussian's transform).
"""

from dataclasses import replace

import numpy as np
import pytest

from lightsim.measures import measure_frame, measure_photograph
from tests.measures.drawing import wet_petal

WIDE_MM = 24.0


def grating(period_mm, contrast, width_px):
    """A petal 24 mm wide with one grating across it, averaged over each pixel."""
    edges = np.arange(width_px + 1) * WIDE_MM / width_px
    wave = np.diff(-np.cos(2 * np.pi * edges / period_mm)) / (2 * np.pi / period_mm) / (WIDE_MM / width_px)
    light = 0.4 * (1.0 + contrast * np.tile(wave, (width_px * 2 // 3, 1)))
    return replace(wet_petal(light.shape, [], light=light), mm_per_px=WIDE_MM / width_px)


def left(period_mm, halved_mm):
    return 2.0 ** -((halved_mm / period_mm) ** 2)


@pytest.mark.parametrize("width_px", [480, 1920])
@pytest.mark.parametrize("period_mm", [0.25, 0.5, 1.0, 2.0])
def test_a_grating_in_both_bands(period_mm, width_px):
    m = measure_frame(grating(period_mm, 0.05, width_px))
    rms = 0.05 / np.sqrt(2.0)
    fine = rms * (left(period_mm, 0.25) - left(period_mm, 1.0))
    coarse = rms * (left(period_mm, 1.0) - left(period_mm, 4.0))
    assert m.texture_fine_rms == pytest.approx(fine, rel=0.03)
    assert m.texture_coarse_rms == pytest.approx(coarse, rel=0.05, abs=0.02 * rms)
    assert m.texture_fine_stops == pytest.approx(m.texture_fine_rms / np.log(2.0))


def test_more_relief_is_more_texture_and_exposure_is_not():
    found = [
        measure_frame(grating(0.5, contrast, 480)).texture_fine_rms for contrast in (0.05, 0.1, 0.2, 0.4)
    ]
    assert found == sorted(found)
    photo = grating(0.5, 0.1, 480)
    brighter = measure_frame(replace(photo, linear=np.float32(4.0) * photo.linear))
    assert brighter.texture_fine_rms == pytest.approx(found[1], rel=1e-4)


@pytest.mark.parametrize("grain", [0.1, 0.25])
def test_grain_is_no_texture(grain):
    photo = grating(0.5, 0.1, 480)
    clean = measure_frame(photo)
    random = np.random.default_rng(4).normal(1.0, grain, photo.shape)
    m = measure_frame(
        replace(photo, linear=photo.linear * np.maximum(random, 0.05)[..., None].astype(np.float32))
    )
    assert m.texture_fine_rms == pytest.approx(clean.texture_fine_rms, rel=0.1)
    even = measure_frame(replace(photo, linear=np.full_like(photo.linear, 0.3)))
    assert even.texture_fine_rms == pytest.approx(0.0, abs=1e-5)


def test_an_even_slope_of_light_has_no_texture():
    light = np.linspace(0.4, 0.6, 480)[None].repeat(320, axis=0)
    m = measure_frame(replace(wet_petal((320, 480), [], light=light), mm_per_px=0.05))
    assert m.texture_fine_rms < 0.002
    assert m.texture_coarse_rms < 0.006


def test_what_cannot_be_measured_says_why():
    coarse_pixels = measure_frame(replace(wet_petal((100, 150), []), mm_per_px=0.1))
    assert coarse_pixels.missing["texture_fine_rms"] == "detail of 0.25 mm is less than 3 pixels"
    assert coarse_pixels.texture_coarse_rms == pytest.approx(0.0, abs=1e-6)
    near = measure_frame(replace(wet_petal((100, 150), []), mm_per_px=0.025))
    assert near.missing["texture_coarse_stops"] == "detail of 4 mm is larger than the frame"
    assert near.texture_fine_rms == pytest.approx(0.0, abs=1e-6)
    real = measure_photograph(np.full((50, 60), 0.5), petal=np.ones((50, 60)))
    assert real.missing["texture_fine_rms"] == "the picture's scale in mm is not known"
