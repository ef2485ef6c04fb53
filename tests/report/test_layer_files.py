"""Layers of light on disk."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import OpenEXR
import pytest

from lightsim.errors import OutputError
from lightsim.picture import Layers
from lightsim.report.files.formats import write_layers_exr, write_layers_npz

from .samples import layers

PARTS = ("glint", "surface", "water", "petal", "lit")


def test_npz_holds_every_part_exactly(tmp_path: Path) -> None:
    given = layers()
    with np.load(write_layers_npz(tmp_path / "set.npz", given), allow_pickle=False) as archive:
        held = {name: archive[name] for name in archive.files}
    assert held["light_names"].tolist() == list(given.by_light)
    assert held["mm_per_px"] == given.mm_per_px
    for name, layer in given.by_light.items():
        for part in PARTS:
            if getattr(layer, part) is not None:
                np.testing.assert_array_equal(held[f"lights/{name}/{part}"], getattr(layer, part))
    for name in ("petal_cover", "drop_cover", "backdrop_cover", "drop_index", "depth_mm"):
        other = getattr(given.maps, name)
        assert held[f"maps/{name}"].dtype == other.dtype
        np.testing.assert_array_equal(held[f"maps/{name}"], other)
    for name in ("centre_px", "radius_px", "blur_px", "radius_mm"):
        np.testing.assert_array_equal(held[f"drops/{name}"], getattr(given.maps.drops, name))


def test_npz_holds_plain_arrays_only(tmp_path: Path) -> None:
    path = write_layers_npz(tmp_path / "set.npz", layers())
    with np.load(path, allow_pickle=False) as archive:
        assert all(archive[name].dtype != object for name in archive.files)
        assert archive["lights/key no.1/petal"].shape == (80, 120, 3)
        assert archive["light_units"].tolist() == ["cd s", "lx"]


@pytest.fixture
def exr(tmp_path: Path) -> tuple[Layers, dict, dict]:
    """Layers, and the channels and the header that OpenEXR's own library finds in their file."""
    given = layers()
    path = write_layers_exr(tmp_path / "set.exr", given)
    with OpenEXR.File(str(path), separate_channels=True) as file:
        return given, {name: each.pixels for name, each in file.channels().items()}, dict(file.header())


def test_exr_holds_every_part_exactly(exr: tuple[Layers, dict, dict]) -> None:
    given, channels, _ = exr
    key = given.by_light["key no.1"]
    for part in ("surface", "water", "petal"):
        for index, letter in enumerate("RGB"):
            pixels = channels[f"key_no_1.{part}.{letter}"]
            assert pixels.dtype == np.float32
            np.testing.assert_array_equal(pixels, getattr(key, part)[..., index])
    np.testing.assert_array_equal(channels["key_no_1.glint.Y"], key.glint)
    np.testing.assert_array_equal(channels["key_no_1.lit.Y"], key.lit)
    assert "ambient.lit.Y" not in channels
    np.testing.assert_array_equal(channels["maps.drop_index.Y"], given.maps.drop_index)
    np.testing.assert_array_equal(channels["maps.depth_mm.Y"], given.maps.depth_mm)


def test_exr_header_tells_units_and_drops(exr: tuple[Layers, dict, dict]) -> None:
    given, _, header = exr
    told = json.loads(header["lightsim"])
    assert told["mm_per_px"] == given.mm_per_px
    assert told["lights"][0] == {"name": "key no.1", "channels": "key_no_1", "unit": "cd/m2 per cd s"}
    assert told["drops"]["radius_px"] == [12.0, 8.0]


def test_nothing_is_left_after_a_failure(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("no more room")

    monkeypatch.setattr(OpenEXR.File, "write", fail)
    with pytest.raises(OutputError, match="cannot be written"):
        write_layers_exr(tmp_path / "set.exr", layers())
    assert list(tmp_path.iterdir()) == []


def test_wrong_endings_and_folders(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"allowed \.npz"):
        write_layers_npz(tmp_path / "set.zip", layers())
    with pytest.raises(OutputError, match=r"allowed \.exr"):
        write_layers_exr(tmp_path / "set.npz", layers())
    with pytest.raises(OutputError, match="there is no folder"):
        write_layers_exr(tmp_path / "no" / "set.exr", layers())
