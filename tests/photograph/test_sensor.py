"""The sensor's noise: Poisson's law for the photons, a normal one for the reading (EMVA 1288's linear
model)."""

from math import sqrt

import numpy as np
import pytest

from lightsim.optics.exposure_values import SATURATION
from lightsim.photograph.exposing import expose_layers
from lightsim.photograph.sensor import Sensor, with_noise
from lightsim.scene.records import Exposure
from tests.photograph.synthetic import layer, layers_of, stage_of

SENSOR = Sensor(full_well_e=40_000.0, read_noise_e=4.0)


def even(level, side=300):
    return np.full((side, side, 3), level, np.float32)


@pytest.mark.parametrize("level", [0.002, 0.02, 0.18, 1.0])
@pytest.mark.parametrize("iso", [100.0, 1600.0])
def test_noise_has_the_mean_and_the_spread_of_counted_photons(level, iso):
    noisy = with_noise(even(level), SENSOR, iso, 6.0)
    per_linear = 40_000 * 100 / iso / SATURATION
    spread = sqrt(level * per_linear + 16) / per_linear
    # 270,000 values: the mean is known to spread / 520, the spread itself to 0.14 %; four such errors
    # allowed.
    assert noisy.mean() == pytest.approx(level, abs=4 * spread / sqrt(noisy.size))
    assert noisy.std() == pytest.approx(spread, rel=4 * 0.0014 + 0.002)


def test_full_well_is_the_saturation():
    assert SENSOR.electrons_per_linear(100, 6.0) * SATURATION == pytest.approx(40_000)


def test_a_small_picture_of_a_fine_sensor_is_cleaner():
    fine = Sensor(full_well_e=40_000.0, read_noise_e=4.0, pixel_um=4.0)
    # 24 um of picture pixel gathers 36 of the sensor's: six times less noise.
    ratio = with_noise(even(0.18), SENSOR, 100, 24.0).std() / with_noise(even(0.18), fine, 100, 24.0).std()
    assert ratio == pytest.approx(6.0, rel=0.02)


def test_weak_channel_is_noisier():
    # Balanced for a light with a quarter of the blue: twice the noise there.
    noisy = with_noise(even(0.18), Sensor(read_noise_e=0.0), 100, 6.0, white=(1.0, 1.0, 0.25))
    assert noisy[..., 2].std() / noisy[..., 1].std() == pytest.approx(2.0, rel=0.02)


def test_the_same_seed_gives_the_same_noise():
    first, again = (with_noise(even(0.18, 70), SENSOR, 100, 6.0) for _ in range(2))
    other = with_noise(even(0.18, 70), Sensor(seed=2), 100, 6.0)
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)
    # Noise of one place has nothing to do with that of another.
    assert abs(np.corrcoef(first[:6].ravel(), first[64:70].ravel())[0, 1]) < 0.1


def test_photograph_with_noise():
    layers = layers_of(layer("flash", "cd s", even(0.4)))
    stage = stage_of(("flash", "flash", 5.0, 5600.0))
    plain = expose_layers(layers, stage, Exposure(auto=True))
    noisy = expose_layers(layers, stage, Exposure(auto=True), sensor=SENSOR)
    assert plain.linear.std() == pytest.approx(0, abs=1e-6)
    assert noisy.linear.min() >= 0
    # What automatic exposure gains it gains as a higher speed: fewer electrons for the same level.
    electrons = SENSOR.electrons_per_linear(100 * 2 ** noisy.notes["auto_stops"], 25.0)
    assert noisy.linear[..., 1].std() == pytest.approx(sqrt(0.18 * electrons + 16) / electrons, rel=0.03)
