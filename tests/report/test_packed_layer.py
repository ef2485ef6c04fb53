"""A layer that is packed for a page and unpacked again, by a slow twin of the page's own script."""

from __future__ import annotations

import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.constants import LUMINANCE_WEIGHTS
from lightsim.report.viewer.packed_layer import RATIO_STEPS_PER_STOP, packed_layer


def unpacked(packed, height, width):
    """Colours (h, w, 3), by the median predictor, pixel by pixel."""
    data, at = zlib.decompress(packed.data, wbits=-15), 0
    planes = []
    for rows, columns in ((height, width), *[((height + 1) // 2, (width + 1) // 2)] * 2):
        plane = np.zeros((rows, columns), int)
        for y in range(rows):
            for x in range(columns):
                folded, at = data[at], at + 1
                if folded == 255:
                    folded, at = data[at] + 256 * data[at + 1], at + 2
                left = plane[y, x - 1] if x else 0
                above = plane[y - 1, x] if y else 0
                corner = plane[y - 1, x - 1] if x and y else 0
                foretold = sorted((left, above, left + above - corner))[1]
                plane[y, x] = foretold + (-((folded + 1) // 2) if folded & 1 else folded // 2)
        planes.append(plane)
    assert at == len(data)
    light = np.where(
        planes[0] == 0, 0.0, packed.brightest * 2.0 ** ((planes[0] - packed.top) / packed.steps_per_stop)
    )
    red, blue = (
        light * 2.0 ** (plane.repeat(2, 0).repeat(2, 1)[:height, :width] / RATIO_STEPS_PER_STOP)
        for plane in planes[1:]
    )
    wr, wg, wb = LUMINANCE_WEIGHTS
    return np.stack([red, np.maximum((light - wr * red - wb * blue) / wg, 0.0), blue], axis=-1)


@given(st.integers(1, 9), st.integers(1, 9), st.integers(0, 2**32 - 1))
def test_luminance_comes_back_within_half_a_step(height, width, seed):
    random = np.random.default_rng(seed)
    colours = (2.0 ** random.uniform(-18, 4, (height, width, 1)) * [0.8, 1.0, 0.9]).astype(np.float32)
    packed = packed_layer(colours)
    wanted = colours @ np.array(LUMINANCE_WEIGHTS)
    found = unpacked(packed, height, width) @ np.array(LUMINANCE_WEIGHTS)
    half_a_step = 2.0 ** (0.5 / packed.steps_per_stop)
    assert np.all(found <= wanted * half_a_step * 1.0001)
    assert np.all(found >= wanted / half_a_step * 0.9999)


def test_smooth_colour_comes_back_within_its_steps():
    y, x = np.mgrid[0:40, 0:60] / 60.0
    colours = np.stack([0.5 + 0.4 * x, 0.3 + 0.2 * y, 0.4 - 0.3 * x * y], axis=-1).astype(np.float32)
    found = unpacked(packed_layer(colours), 40, 60)
    step = 2.0 ** (1.0 / RATIO_STEPS_PER_STOP) - 1.0
    assert np.abs(found / colours - 1.0).max() < 1.6 * step


@pytest.mark.parametrize("light", [0.0, 1.0])
def test_an_even_layer_takes_next_to_nothing(light):
    packed = packed_layer(np.full((200, 300, 3), light, np.float32))
    assert len(packed.data) < 400
    np.testing.assert_allclose(unpacked(packed, 200, 300), light, rtol=0.02, atol=1e-12)


def test_more_noise_takes_more_room():
    random = np.random.default_rng(2)
    sizes = [
        len(packed_layer(np.exp(random.normal(0.0, noise, (64, 64, 3))).astype(np.float32)).data)
        for noise in (0.003, 0.03, 0.3)
    ]
    assert sizes == sorted(sizes)
