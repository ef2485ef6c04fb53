"""Movement: the room's light is smeared for the time the shutter is open, the flash's for its own
duration."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.photograph.exposing import expose_layers
from lightsim.photograph.movement import Movement, Smear, smeared
from lightsim.scene.records import Exposure
from tests.photograph.synthetic import layer, layers_of, stage_of

MM_PER_PX = 0.025


def point_picture(shape=(41, 81)):
    picture = np.zeros((*shape, 3), np.float32)
    picture[shape[0] // 2, shape[1] // 2] = 1.0
    return picture


def test_smear_in_pixels():
    # 5 mm/s for 1/16 s at 0.025 mm a pixel: 12.5 pixels.
    assert Movement(5.0).smear_px(1 / 16, MM_PER_PX) == pytest.approx(12.5)


@given(st.floats(0.1, 40), st.floats(0, 12))
def test_smear_keeps_the_light_and_its_place(length, clock):
    (kernel,) = Smear(length, clock).kernels()
    assert kernel.sum() == pytest.approx(1.0)
    assert kernel.shape[0] % 2 == 1
    assert kernel.shape[1] % 2 == 1
    rows, columns = np.mgrid[0 : kernel.shape[0], 0 : kernel.shape[1]]
    assert (kernel * rows).sum() == pytest.approx(kernel.shape[0] // 2, abs=1e-6)
    assert (kernel * columns).sum() == pytest.approx(kernel.shape[1] // 2, abs=1e-6)
    # A line of length s has the second moment s^2 / 12; sharing between pixels adds at most 1/4 on each axis.
    across = (kernel * (columns - kernel.shape[1] // 2) ** 2).sum()
    down = (kernel * (rows - kernel.shape[0] // 2) ** 2).sum()
    assert length**2 / 12 * 0.98 - 1e-9 <= across + down <= length**2 / 12 + 0.5


@pytest.mark.parametrize(("clock", "axis"), [(3, 1), (9, 1), (12, 0), (6, 0)])
def test_a_point_becomes_a_line_along_the_movement(clock, axis):
    line = smeared(point_picture(), Movement(4.0, clock), 1 / 8, MM_PER_PX)[..., 1]  # 20 px
    along = line.sum(axis=1 - axis)
    across = line.sum(axis=axis)
    assert along.sum() == pytest.approx(1.0, rel=1e-4)
    assert (along > 0.5 / 20).sum() == pytest.approx(20, abs=1)
    assert across.max() == pytest.approx(1.0, rel=1e-3)


def test_slanted_movement_goes_where_the_clock_says():
    line = smeared(point_picture((81, 81)), Movement(4.0, 1.5), 1 / 8, MM_PER_PX)[..., 0]  # up and right
    rows, columns = np.nonzero(line > 0.2 * line.max())
    assert np.polyfit(columns, rows, 1)[0] == pytest.approx(-1.0, abs=0.05)


def test_flash_stays_sharp_in_the_ghost_of_the_room():
    layers = layers_of(
        layer("flash", "cd s", point_picture()), layer("ambient", "lx", point_picture()), mm_per_px=MM_PER_PX
    )
    flash = ("flash", "flash", 20.0, 5600.0, 1 / 8000)
    stage = stage_of(flash, ambient_lx=40.0, ambient_kelvin=5600.0)
    exposure = Exposure(shutter_s=1 / 8, white_balance="key")
    photo = expose_layers(layers, stage, exposure, movement=Movement(4.0, 3.0))
    still = expose_layers(layers, stage, exposure)
    share = 20.0 / (20.0 + 40.0 / 8)
    row = photo.luminance()[20]
    assert row[40] == pytest.approx(still.luminance()[20, 40] * (share + (1 - share) / 20), rel=0.01)
    assert row[35] == pytest.approx(still.luminance()[20, 40] * (1 - share) / 20, rel=0.02)
    assert photo.notes["ghost_px"] == pytest.approx(20)
    assert photo.notes["ghost_mm"] == pytest.approx(0.5)
    assert photo.notes["flash_smear_px"] == pytest.approx(4 / 8000 / MM_PER_PX)


def test_long_flash_is_smeared_too():
    layers = layers_of(layer("flash", "cd s", point_picture()), mm_per_px=MM_PER_PX)
    stage = stage_of(("flash", "flash", 1.0, 5600.0, 1 / 200))
    slow = Exposure(shutter_s=1 / 60)
    photo = expose_layers(layers, stage, slow, movement=Movement(50.0, 3.0))  # 10 px
    assert (photo.luminance()[20] > 0.5 * photo.luminance()[20].max()).sum() == pytest.approx(10, abs=1)


def test_each_flash_burns_for_its_own_time():
    layers = layers_of(
        layer("quick", "cd s", point_picture()), layer("slow", "cd s", point_picture()), mm_per_px=MM_PER_PX
    )
    stage = stage_of(("quick", "flash", 1.0, 5600.0, 1 / 80_000), ("slow", "flash", 1.0, 5600.0, 1 / 200))
    photo = expose_layers(layers, stage, Exposure(shutter_s=1 / 60), movement=Movement(50.0))
    still = expose_layers(layers, stage, Exposure(shutter_s=1 / 60))
    row = photo.luminance()[20]
    # Half the light stays in its point, the other half is spread over 10 pixels.
    assert row[40] == pytest.approx(still.luminance()[20, 40] * (0.5 + 0.05), rel=0.02)
    assert photo.notes["flash_smear_px"] == pytest.approx(10)
