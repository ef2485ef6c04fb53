"""Layers as half floats on disk: how much is lost, and that a damaged file is told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from lightsim.photograph.tone import to_srgb8
from lightsim.picture import Layer
from lightsim.runs.layer_encoding import (
    NotALayerFile,
    as_halves,
    decode_maps,
    from_halves,
    maps_arrays,
    read_about,
    read_arrays,
    round_to_halves,
    write_arrays,
)
from lightsim.runs.photographing import photograph
from lightsim.scene.build import build
from tests.runs.fake import draw_layers

ROUNDING = 2.0**-11  # unit roundoff of binary16 (IEEE 754-2019, table 3.5: precision 11)
STOPS_KEPT = 28  # below the greatest value, with all bits


@given(
    arrays(np.float32, 20, elements=st.floats(0.5, 1.0, width=32)),
    st.lists(st.floats(1.0 - STOPS_KEPT, 0.0), min_size=20, max_size=20),
    st.integers(-60, 60),
)
def test_halves_keep_eleven_bits_over_the_range_of_a_layer(shares, stops, brightness):
    values = np.ldexp(shares * 2.0 ** np.array(stops), brightness).astype(np.float32)
    values[0] = np.ldexp(1.0, brightness)  # the brightest
    back = from_halves(*as_halves(values))
    assert np.abs(back - values).max(initial=0.0, where=values > 0) <= ROUNDING * values.max()
    np.testing.assert_allclose(back, values, rtol=ROUNDING)


def test_dark_and_empty_arrays_stay_what_they_are():
    nothing = np.zeros((3, 4), np.float32)
    assert as_halves(nothing)[1] == 0
    np.testing.assert_array_equal(from_halves(*as_halves(nothing)), nothing)
    unseen = np.array([np.nan, 0.25, 1.0], np.float32)
    np.testing.assert_array_equal(from_halves(*as_halves(unseen)), unseen)


def test_a_picture_of_rounded_layers_differs_by_no_more_than_a_step_of_eight_bits(scene):
    layers, stage = draw_layers(scene, 120), build(scene)
    kept = replace(layers, by_light={name: round_to_halves(layer) for name, layer in layers.by_light.items()})
    for stops in (-6, 0, 3):
        pictures = [to_srgb8(photograph(each, scene, stage, gain_stops=stops)) for each in (layers, kept)]
        assert np.abs(pictures[0].astype(int) - pictures[1]).max() <= 1


def test_a_layer_comes_back_from_its_file_as_it_was_rounded(scene, tmp_path):
    layer = draw_layers(scene, 60).by_light["flash"]
    path = tmp_path / "flash.layer"
    write_arrays(path, layer.arrays(), {"what": "flash"}, halves=True)
    back = Layer("flash", "cd s", **read_arrays(path))
    for name, values in round_to_halves(layer).arrays().items():
        np.testing.assert_array_equal(getattr(back, name), values)
    assert read_about(path) == {"what": "flash"}
    dark = round_to_halves(replace(layer, lit=None))
    assert dark.lit is None
    assert "lit" not in dark.arrays()


def test_maps_come_back_exactly(scene, tmp_path):
    maps = draw_layers(scene, 60).maps
    write_arrays(tmp_path / "maps.layer", maps_arrays(maps), {}, halves=False)
    back = decode_maps(read_arrays(tmp_path / "maps.layer"))
    for name, values in maps_arrays(maps).items():
        found = maps_arrays(back)[name]
        np.testing.assert_array_equal(found, values)
        assert found.dtype == values.dtype


@pytest.mark.parametrize("place", [0.02, 0.3, 0.6, 0.9])
def test_a_damaged_file_is_told_by_its_checksum(scene, tmp_path, place):
    path = tmp_path / "flash.layer"
    write_arrays(path, draw_layers(scene, 60).by_light["flash"].arrays(), {}, halves=True)
    data = bytearray(path.read_bytes())
    data[int(place * len(data))] ^= 0x5A
    path.write_bytes(bytes(data))
    with pytest.raises(NotALayerFile):
        read_arrays(path)
    path.write_bytes(bytes(data[: len(data) // 2]))
    with pytest.raises(NotALayerFile):
        read_arrays(path)
