"""A photograph exposed strip by strip is the one that is exposed at once; averages keep the light."""

from dataclasses import replace

import numpy as np
import pytest

from lightsim.photograph import strips as dstrips
from lightsim.photograph.diffraction import Diffraction, diffract_layers, pixel_at_sensor_um
from lightsim.photograph.exposing import expose_layers
from lightsim.photograph.movement import Movement
from lightsim.photograph.sensor import Sensor
from lightsim.photograph.strips import ExposureSettings, Mixture, Reduction
from lightsim.picture import Layers
from lightsim.scene.records import Exposure
from tests.photograph.synthetic import layer, layers_of, stage_of

SHAPE = (200, 70)
STRIP = 16
MAPS = ("petal_cover", "drop_cover", "backdrop_cover", "drop_index", "depth_mm")


@pytest.fixture
def layers():
    random = np.random.default_rng(5)
    flash = layer(
        "flash", "cd s", 5.0 + 5.0 * random.random((*SHAPE, 3)), glint=9.0 * (random.random(SHAPE) > 0.99)
    )
    room = layer("ambient", "lx", 0.5 + random.random((*SHAPE, 3)), water=0.1)
    return layers_of(flash, room, drop=random.random(SHAPE) > 0.9)


@pytest.fixture
def stage():
    return stage_of(("flash", "flash", 0.1, 5600.0), ambient_lx=60.0, ambient_kelvin=3200.0)


def rows_of(layers: Layers, rows: slice) -> Layers:
    by_light = {
        name: replace(
            one,
            **{part: getattr(one, part)[rows] for part in ("glint", "surface", "water", "petal")},
            lit=None if one.lit is None else one.lit[rows],
        )
        for name, one in layers.by_light.items()
    }
    maps = replace(layers.maps, **{name: getattr(layers.maps, name)[rows] for name in MAPS})
    return replace(layers, by_light=by_light, maps=maps)


def in_strips(layers, settings, gain_stops=0.0):
    mixture = Mixture(settings, SHAPE)
    for first in range(0, SHAPE[0], STRIP):
        mixture.add(first, rows_of(layers, slice(first, first + STRIP)))
    strips = list(mixture.exposed(gain_stops))
    assert len(strips) > 2
    assert [first for first, _ in strips] == list(range(0, SHAPE[0], strips[0][1].shape[0]))
    return np.concatenate([photo.linear for _, photo in strips])


@pytest.mark.parametrize("movement", [None, Movement(8.0, clock=1.0)])
@pytest.mark.parametrize("spread_n", [None, 22.0])
@pytest.mark.parametrize("gain_stops", [0.0, 1.3])
def test_strips_are_the_whole_s(layers, stage, movement, spread_n, gain_stops, monkeypatch):
    monkeypatch.setattr(dstrips, "STRIP_PIXELS", 1)
    pixel_um = pixel_at_sensor_um(layers.mm_per_px, stage.camera.magnification)
    spread = None if spread_n is None else Diffraction(spread_n, pixel_um)
    exposure = Exposure(shutter_s=1 / 60, iso=200.0)
    drawn = layers if spread is None else diffract_layers(layers, spread)
    at_once = expose_layers(drawn, stage, exposure, gain_stops=gain_stops, movement=movement).linear
    found = in_strips(layers, ExposureSettings(stage, exposure, spread, movement), gain_stops)
    assert found.max() > 0.02
    np.testing.assert_allclose(found, at_once, atol=3e-5 * at_once.max())


def test_noise_is_that_of_the_whole(layers, stage, monkeypatch):
    monkeypatch.setattr(dstrips, "STRIP_PIXELS", 1)
    exposure, sensor = Exposure(iso=400.0), Sensor(seed=3)
    at_once = expose_layers(layers, stage, exposure, sensor=sensor, gain_stops=0.5).linear
    found = in_strips(layers, ExposureSettings(stage, exposure, sensor=sensor), 0.5)
    # rounding may change a pixel's count of photons, and the pixels drawn after it in its rows
    assert np.mean(np.abs(found - at_once) < 1e-5 * at_once.max()) > 0.9
    assert found.std() == pytest.approx(at_once.std(), rel=0.01)


@pytest.mark.parametrize("side", [1, 2, 4, 8])
def test_averages_keep_the_light(layers, side):
    reduction = Reduction(side)
    for first in range(0, SHAPE[0], STRIP):
        reduction.add(rows_of(layers, slice(first, first + STRIP)))
    small = reduction.layers()
    assert small.shape == (-(-SHAPE[0] // side), -(-SHAPE[1] // side))
    assert small.mm_per_px == side * layers.mm_per_px
    for name, one in layers.by_light.items():
        for part in ("glint", "petal", "water"):
            whole, found = getattr(one, part), getattr(small.by_light[name], part)
            assert found.dtype == np.float32
            square = whole[side : 2 * side, 2 * side : 3 * side].mean(axis=(0, 1))
            np.testing.assert_allclose(found[1, 2], square, rtol=1e-5)
            edge = whole[(SHAPE[0] - 1) // side * side :, (SHAPE[1] - 1) // side * side :]
            np.testing.assert_allclose(found[-1, -1], edge.mean(axis=(0, 1)), rtol=1e-5)
    np.testing.assert_allclose(small.maps.petal_cover + small.maps.drop_cover, 1.0, atol=1e-6)


def test_where_the_petal_is_not_seen_its_light_is_not_known(layers):
    lit = np.array([[1.0, np.nan, np.nan, np.nan], [0.5, np.nan, np.nan, np.nan]], np.float32)
    few = rows_of(layers, slice(0, 2))
    one = {
        part: getattr(few.by_light["flash"], part)[:, :4] for part in ("glint", "surface", "water", "petal")
    }
    maps = replace(few.maps, **{name: getattr(few.maps, name)[:, :4] for name in MAPS})
    reduction = Reduction(2)
    reduction.add(Layers({"flash": replace(few.by_light["flash"], **one, lit=lit)}, maps, 1.0))
    np.testing.assert_array_equal(reduction.layers().by_light["flash"].lit, np.array([[0.75, np.nan]]))
