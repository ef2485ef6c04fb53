"""The picture to look at: sRGB (IEC 61966-2-1, by colour-science) below the knee, a smooth shoulder above."""

import io

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from lightsim.optics.exposure_values import SATURATION
from lightsim.photograph.tone import KNEE, clipped_bits, png_bytes, shoulder, to_srgb8, to_srgb16
from lightsim.picture import Photograph


def photo_of(linear, saturation=SATURATION):
    return Photograph(np.asarray(linear, np.float32), 0.02, saturation)


def test_mid_tone_is_code_118():
    assert (to_srgb8(photo_of(np.full((2, 3, 3), 0.18))) == 118).all()


@pytest.mark.parametrize("saturation", [1.0, SATURATION])
def test_below_the_knee_it_is_plain_srgb(saturation):
    linear = np.linspace(0, KNEE, 3000).reshape(30, 100, 1).repeat(3, axis=2)
    reference = 255 * colour.cctf_encoding(linear, function="sRGB")
    assert np.abs(to_srgb8(photo_of(linear, saturation)) - reference).max() <= 0.54


def test_a_photograph_of_a_camera_comes_back_as_it_was():
    codes = np.arange(256, dtype=np.uint8).reshape(16, 16, 1).repeat(3, axis=2)
    linear = colour.cctf_decoding(codes / 255, function="sRGB")
    assert np.array_equal(to_srgb8(photo_of(linear, 1.0)), codes)


def test_shoulder_is_smooth_and_ends_at_white():
    x = np.linspace(0, SATURATION, 20_001)
    y = shoulder(x, SATURATION)
    assert y[-1] == pytest.approx(1.0)
    assert np.array_equal(y[x <= KNEE], x[x <= KNEE])
    slope = np.diff(y) / np.diff(x)
    assert (slope > 0).all()
    assert np.abs(np.diff(slope)).max() < 1e-3  # no kink
    assert shoulder(np.array([5.0]), SATURATION) == 1.0


@given(st.lists(st.floats(0, 3), min_size=3, max_size=3))
def test_order_of_the_channels_is_kept(rgb):
    shown = to_srgb8(photo_of([[rgb]]))[0, 0].astype(int)
    assert all(shown[a] >= shown[b] for a in range(3) for b in range(3) if min(rgb[a], SATURATION) >= rgb[b])


def test_bright_pink_stays_pink():
    hue = [
        colour.RGB_to_HSV(to_srgb8(photo_of([[np.array((1.0, 0.5, 0.6)) * level]]))[0, 0] / 255)[0]
        for level in (0.4, 0.8, 1.0, 1.3)
    ]
    assert np.ptp(np.array(hue)) < 0.02


def test_bits_of_clipped_channels_and_of_no_others():
    linear = np.full((20, 30, 3), 0.3)
    linear[5:11, 5:17] = SATURATION
    linear[15:, :, 0] = SATURATION
    bits = clipped_bits(photo_of(linear))
    assert (bits[5:11, 5:17] == 7).all()
    assert (bits[15:] == 1).all()
    assert np.count_nonzero(bits) == 6 * 12 + 5 * 30


def test_sixteen_bits_are_the_same_picture_finer():
    linear = np.random.default_rng(3).random((40, 50, 3)) ** 2 * 1.6 * SATURATION
    photo = photo_of(linear)
    fine = to_srgb16(photo)
    # 65535 / 255 = 257; both are rounded, the coarse one from a table of 65536 steps
    assert np.abs(fine / 257.0 - to_srgb8(photo)).max() <= 1.0
    assert len(np.unique(fine)) > 10 * 256


def test_png_opens_as_it_was_written():
    photo = photo_of(np.random.default_rng(1).random((9, 7, 3)))
    picture = Image.open(io.BytesIO(png_bytes(to_srgb8(photo))))
    assert picture.size == (7, 9)
    assert np.array_equal(np.asarray(picture), to_srgb8(photo))
    assert photo._repr_png_() == png_bytes(to_srgb8(photo))
