"""What the photograph says of itself: automatic exposure, clipping, the room's share, the meter."""

from dataclasses import replace
from math import inf, log2, pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.photograph.camera_meter import centre_weights, meter
from lightsim.photograph.exposing import expose_layers
from lightsim.scene.records import Exposure
from tests.photograph.synthetic import layer, layers_of, stage_of

EXPOSURE = Exposure(iso=100, shutter_s=1 / 128, white_balance="key")


def flash_only(output=1.0, reflectance=0.4, glint=0.0):
    layers = layers_of(layer("flash", "cd s", np.full(3, reflectance), glint=glint))
    return layers, stage_of(("flash", "flash", output, 5600.0))


@given(st.floats(0.001, 1000), st.floats(0.02, 0.9))
def test_automatic_exposure_says_its_stops(output, reflectance):
    layers, stage = flash_only(output, reflectance)
    plain = expose_layers(layers, stage, EXPOSURE)
    auto = expose_layers(layers, stage, replace(EXPOSURE, auto=True))
    assert auto.notes["petal_mean"] == pytest.approx(0.18, rel=1e-5)
    assert auto.linear == pytest.approx(plain.linear * 2 ** auto.notes["auto_stops"], rel=1e-4)
    assert plain.notes["petal_stops_above_mid_tone"] == pytest.approx(-auto.notes["auto_stops"], abs=1e-5)


def test_automatic_exposure_looks_at_the_bare_petal_only():
    drop = np.zeros((8, 12), bool)
    drop[2:5, 3:7] = True
    layers, stage = flash_only()
    petal = np.where(drop[..., None], np.float32(0), layers.by_light["flash"].petal)
    wet = layer("flash", "cd s", petal, glint=50.0 * drop, water=(3.0 * drop)[..., None])
    photo = expose_layers(layers_of(wet, drop=drop), stage, replace(EXPOSURE, auto=True))
    assert photo.luminance()[~drop] == pytest.approx(0.18, rel=1e-4)
    assert photo.notes["clipped_share"] == pytest.approx(drop.mean())


def test_a_dark_photograph_stays_dark():
    layers, stage = flash_only(output=0.001)
    photo = expose_layers(layers, stage, EXPOSURE)
    assert photo.notes["auto_stops"] == 0
    assert photo.notes["petal_stops_above_mid_tone"] < -3


def test_no_light_at_all():
    layers, stage = flash_only(output=0.0)
    photo = expose_layers(layers, stage, replace(EXPOSURE, auto=True))
    assert photo.linear.max() == 0
    assert photo.notes["petal_stops_above_mid_tone"] == -inf


def test_clipping_is_counted_by_channel_and_keeps_the_linear_levels():
    petal = np.full((8, 12, 3), 0.1, np.float32)
    petal[0, :, 0] = 1000.0
    petal[1, :6] = 1000.0
    layers = layers_of(layer("lamp", "cd", petal))
    stage = stage_of(("lamp", "continuous", 400.0, 6504.0))
    photo = expose_layers(layers, stage, EXPOSURE)
    assert photo.notes["clipped_share"] == pytest.approx(18 / 96)
    assert photo.notes["clipped_share_rgb"] == pytest.approx((18 / 96, 6 / 96, 6 / 96))
    assert photo.linear.max() > 10 > photo.saturation


def test_room_light_in_stops_below_the_flash():
    # Flash 8 cd s and a dome of 100 lx for 1/128 s on a white petal at 1 m: pi 8 against 100/128 lx s, 5.0
    # stops.
    white = np.ones(3) / pi
    layers = layers_of(layer("flash", "cd s", white), layer("ambient", "lx", white))
    stage = stage_of(("flash", "flash", 25.0, 5600.0), ambient_lx=100.0, ambient_kelvin=5600.0)
    photo = expose_layers(layers, stage, EXPOSURE)
    assert photo.notes["room_light_stops_below_flash"] == pytest.approx(log2(25 / (100 / 128)), abs=1e-4)
    assert photo.notes["room_light_share"] == pytest.approx((100 / 128) / (25 + 100 / 128), rel=1e-4)
    assert sum(photo.notes["petal_mean_by_light"].values()) == pytest.approx(photo.notes["petal_mean"])
    longer = expose_layers(layers, stage, replace(EXPOSURE, shutter_s=1 / 64))
    lost = photo.notes["room_light_stops_below_flash"] - longer.notes["room_light_stops_below_flash"]
    assert lost == pytest.approx(1.0, abs=1e-6)


def test_dark_room():
    layers, stage = flash_only()
    assert expose_layers(layers, stage, EXPOSURE).notes["room_light_stops_below_flash"] == inf


def test_another_light_can_be_the_key():
    white = np.ones(3)
    layers = layers_of(layer("flash", "cd s", white), layer("lamp", "cd", white, glint=0.5))
    stage = stage_of(("flash", "flash", 1.0, 5600.0), ("lamp", "continuous", 100.0, 3200.0))
    assert expose_layers(layers, stage, EXPOSURE).glint.max() == 0
    turned = replace(stage, lights=stage.lights[::-1])
    assert expose_layers(layers, turned, EXPOSURE).glint.max() > 0


def test_meter_reads_an_even_room_as_the_standard_says():
    # A dome on a petal that sends 512 cd/m2: EV 12 at ISO 100 (ISO 2720, K = 12.5).
    luminous = 512.0
    layers = layers_of(layer("flash", "cd s", np.ones(3)), layer("ambient", "lx", np.ones(3)))
    stage = stage_of(("flash", "flash", 50.0, 5600.0), ambient_lx=luminous, n_eff=16.0)
    reading = meter(layers, stage, Exposure(iso=100, shutter_s=1 / 16, white_balance="ambient"))
    assert reading.averaging_ev100 == pytest.approx(12, abs=1e-5)
    assert reading.centre_weighted_ev100 == pytest.approx(12, abs=1e-5)
    # f/16 (effective) for 1/16 s is EV 12: the meter agrees with the settings.
    assert reading.averaging_stops == pytest.approx(0, abs=1e-5)
    # The petal then lies at q K / 10 = 0.81 of the mid-tone (ISO 12232), 0.3 stops down.
    assert reading.petal_stops == pytest.approx(log2(0.6515748 * 12.5 / 10), abs=1e-4)


def test_meter_is_fooled_by_a_dark_frame():
    petal = np.full((60, 90, 3), 0.02, np.float32)
    petal[25:35, 40:50] = 1.0
    layers = layers_of(layer("flash", "cd s", petal), layer("ambient", "lx", petal))
    reading = meter(layers, stage_of(("flash", "flash", 1.0, 5600.0), ambient_lx=500.0), EXPOSURE)
    assert reading.centre_weighted_stops > reading.averaging_stops + 1
    assert meter(layers, stage_of(("flash", "flash", 1.0, 5600.0)), EXPOSURE).averaging_ev100 == -inf


@given(st.integers(1, 80), st.integers(1, 120))
def test_centre_weights_add_up(height, width):
    assert centre_weights((height, width)).sum() == pytest.approx(1.0)
