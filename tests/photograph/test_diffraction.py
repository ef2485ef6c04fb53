"""Diffraction in the picture: Goodman, Introduction to Fourier Optics, ch. 6; Hecht, Optics, ch. 10."""

import gc
import weakref
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightsim.optics.airy import airy_diameter_um, diffraction_contrast, encircled_share
from lightsim.photograph.diffraction import (
    WAVELENGTHS_NM,
    Diffraction,
    airy_kernel,
    diffract_layers,
    diffracted,
    diffracted_luminance,
    pixel_at_sensor_um,
    within_dark_ring,
)
from lightsim.photograph.exposing import expose_layers
from lightsim.scene.records import Exposure
from tests.photograph.synthetic import layer, layers_of, stage_of

N_EFF = 32.0


def test_pixel_at_the_sensor():
    # 24 mm of field on 960 pixels at 1.5 : 1 is 36 mm of sensor: 37.5 um.
    assert pixel_at_sensor_um(24 / 960, 1.5) == pytest.approx(37.5)


@pytest.mark.parametrize("channel", [0, 1, 2])
def test_first_dark_ring_lies_where_it_should(channel):
    # A point of light on 1 um pixels: the darkest ring at 1.22 lambda N_eff.
    point = np.zeros((161, 161, 3), np.float32)
    point[80, 80] = 1.0
    spread = diffracted(point, Diffraction(N_EFF, 1.0))[80, 80:, channel]
    darkest = int(np.argmin(spread[: int(1.5 * airy_diameter_um(N_EFF, WAVELENGTHS_NM[channel]) / 2)]))
    assert darkest == pytest.approx(airy_diameter_um(N_EFF, WAVELENGTHS_NM[channel]) / 2, abs=0.6)
    assert spread[darkest] < 5e-3 * spread[0]  # each channel sees a band, which fills the ring a little


def test_pure_colour_has_a_dark_ring():
    kernel = airy_kernel(N_EFF, 1.0, 540.0)
    middle = kernel.shape[0] // 2
    row = kernel[middle, middle : middle + 30]
    assert int(np.argmin(row)) == pytest.approx(airy_diameter_um(N_EFF, 540.0) / 2, abs=0.6)
    assert row.min() < 1e-3 * row[0]


@given(st.floats(4, 90), st.floats(2, 60))
@settings(max_examples=15, deadline=None)
def test_kernel_keeps_the_light_and_its_middle(n_eff, pixel_um):
    kernel = airy_kernel(n_eff, pixel_um, 550.0)
    assert kernel.sum() == pytest.approx(1.0)
    assert (kernel >= 0).all()
    assert np.array_equal(kernel, kernel[::-1, ::-1])
    assert np.allclose(kernel, kernel.T, atol=1e-12)


def test_kernel_holds_the_light_that_falls_on_the_pixel():
    # Pixels far larger than the disc: the middle one has nearly all, by Rayleigh's encircled light.
    kernel = airy_kernel(8.0, 60.0, 550.0)
    middle = kernel[kernel.shape[0] // 2, kernel.shape[1] // 2]
    assert encircled_share(30.0, 8.0, 550.0) < middle < encircled_share(30.0 * 2**0.5, 8.0, 550.0) + 0.005


def edge_contrast(picture, pixel_mm, tilt):
    """Contrast by frequency from a slanted edge (as ISO 12233 does): project, bin finely, differentiate,
    transform."""
    height, width = picture.shape
    y, x = np.mgrid[0:height, 0:width]
    along = (x - width / 2) - tilt * (y - height / 2)
    along *= np.cos(np.arctan(tilt))
    fine = 4
    place = np.round(along * fine).astype(int)
    inside = np.abs(place) < fine * 60
    place = place[inside] + fine * 60
    edge = np.bincount(place, picture[inside]) / np.maximum(np.bincount(place), 1)
    line = np.diff(edge)
    contrast = np.abs(np.fft.rfft(line))
    per_mm = np.fft.rfftfreq(len(line), pixel_mm / fine)
    return per_mm, contrast / contrast[0] / np.sinc(per_mm * pixel_mm / fine)


@pytest.mark.parametrize("n_eff", [22.0, 45.0])
def test_slanted_edge_has_the_contrast_of_the_closed_form(n_eff):
    pixel_um, tilt, fine = 4.0, 0.0874, 8
    # The edge itself is averaged over each pixel, as a traced picture is, then over the pixel by the kernel.
    height, width = 240, 200
    sub = (np.arange(fine) + 0.5) / fine - 0.5
    y, x = np.mgrid[0:height, 0:width]
    covered = (
        sum((x + dx - width / 2) - tilt * (y + dy - height / 2) > 0 for dx in sub for dy in sub) / fine**2
    )
    edge = np.repeat(covered[..., None], 3, axis=2).astype(np.float32)
    spread = diffracted(edge, Diffraction(n_eff, pixel_um))
    for channel, wavelength in enumerate(WAVELENGTHS_NM):
        per_mm, contrast = edge_contrast(spread[..., channel], pixel_um / 1000, tilt)
        used = (per_mm > 0) & (per_mm < 60)
        expected = diffraction_contrast(per_mm, n_eff, wavelength) * np.sinc(per_mm * pixel_um / 1000) ** 2
        assert contrast[used] == pytest.approx(expected[used], abs=0.02)


def test_even_picture_stays_even_to_its_edges():
    even = np.full((40, 50, 3), 0.3, np.float32)
    assert diffracted(even, Diffraction(64.0, 5.0)) == pytest.approx(0.3, rel=1e-4)


def test_a_channel_without_light_stays_without_and_the_others_as_they_are():
    random = np.random.default_rng(3).random((40, 50, 3), np.float32)
    one_dark = random * np.array((1.0, 0.0, 1.0), np.float32)
    spread, whole = (diffracted(picture, Diffraction(64.0, 5.0)) for picture in (one_dark, random))
    assert np.all(spread[..., 1] == 0.0)
    assert np.array_equal(spread[..., [0, 2]], whole[..., [0, 2]])


def test_smaller_aperture_blurs_more():
    point = np.zeros((61, 61, 3), np.float32)
    point[30, 30] = 1.0
    peaks = [diffracted(point, Diffraction(n_eff, 10.0))[30, 30, 1] for n_eff in (4, 8, 16, 32, 64)]
    assert peaks == sorted(peaks, reverse=True)
    assert peaks[0] > 0.9


def test_layers_spread_once_give_the_same_photograph():
    random = np.random.default_rng(3)
    glint = np.zeros((30, 40), np.float32)
    glint[14:17, 20:22] = 40.0
    layers = layers_of(layer("flash", "cd s", random.random((30, 40, 3)), glint, 0.01, 0.02))
    stage = stage_of(("flash", "flash", 0.5, 5600.0), n_eff=48.0)
    exposure = Exposure(white_balance="key")
    lens = Diffraction(48.0, pixel_at_sensor_um(layers.mm_per_px, 1.0))
    sharp, early = (expose_layers(each, stage, exposure) for each in (layers, diffract_layers(layers, lens)))
    late = replace(sharp, linear=diffracted(sharp.linear, lens))
    # The white balance turns colours a little, so only the neutral part is the same to rounding.
    assert early.luminance() == pytest.approx(late.luminance(), rel=0.01, abs=1e-3)
    glint = diffracted_luminance(sharp.glint, lens) * within_dark_ring(sharp.glint, lens)
    assert early.glint == pytest.approx(glint, rel=0.01, abs=1e-3)


def test_layers_are_spread_once_for_as_long_as_they_live():
    layers = layers_of(layer("flash", "cd s", (0.5, 0.5, 0.5), 3.0))
    once, other = Diffraction(48.0, 20.0), Diffraction(16.0, 20.0)
    drawn = diffract_layers(layers, once).by_light["flash"]
    assert diffract_layers(layers, once).by_light["flash"] is drawn
    assert diffract_layers(layers, other).by_light["flash"] is not drawn
    forgotten = weakref.ref(drawn)
    del layers, drawn
    gc.collect()
    assert forgotten() is None


def test_the_faint_light_round_a_highlight_is_no_highlight():
    glint = np.zeros((61, 61), np.float32)
    glint[30, 30] = 1000.0
    layers = layers_of(layer("flash", "cd s", np.full((61, 61, 3), 0.1), glint))
    spread = Diffraction(64.0, 10.0)
    drawn = diffract_layers(layers, spread).by_light["flash"]
    rows, columns = np.nonzero(drawn.glint)
    ring_px = float(airy_diameter_um(64.0, WAVELENGTHS_NM[1])) / 2 / 10.0
    assert np.hypot(rows - 30, columns - 30).max() <= ring_px
    # 83.8 % of a point's light is within the dark ring (Rayleigh 1881).
    assert drawn.glint.sum() == pytest.approx(838, abs=15)
    assert drawn.total() == pytest.approx(diffracted(layers.by_light["flash"].total(), spread), abs=1e-2)


def test_pixels_much_wider_than_the_pattern_are_parted_alike_by_samples_and_by_energy(monkeypatch):
    # 8 um of lambda N under pixels of 55 um ask for 41 samples a side: both ways, and twice as many samples.
    from lightsim.photograph import diffraction as it

    sampled = airy_kernel(15.0, 55.0, 540.0, 60.0)
    monkeypatch.setattr(it, "FINEST", 12.0)
    monkeypatch.setattr(it, "MOST_SAMPLES", 1000)
    finer = airy_kernel(15.0, 55.0, 540.0, 60.0)
    monkeypatch.setattr(it, "MOST_SAMPLES", 41)
    by_energy = airy_kernel(15.0, 55.0, 540.0, 60.0)
    assert np.abs(by_energy - finer).max() < 1e-3
    assert np.abs(sampled - finer).max() < 1e-3


@pytest.mark.parametrize("n_eff", [0.5, 1.0, 2.8, 8.0])
def test_a_tiny_picture_at_a_wide_aperture_takes_little_memory(n_eff):
    # 16 pixels on 36 mm: a pixel, thousands of times as wide as the pattern, keeps nearly all its light.
    import tracemalloc

    tracemalloc.start()
    kernel = airy_kernel(n_eff, 36_000.0 / 16, 540.0, 60.0)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 50_000_000
    middle = kernel[kernel.shape[0] // 2, kernel.shape[1] // 2]
    assert encircled_share(1125.0, n_eff, 540.0) - 1e-4 < middle <= 1.0
