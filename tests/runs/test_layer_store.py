"""The folder of layers: its limit, what goes first, and files that are not what they should be."""

from __future__ import annotations

import os
from dataclasses import replace

import numpy as np
import pytest

from lightsim.errors import LightsimError
from lightsim.runs.layer_store import LayerStore, layers_folder, limit_bytes, list_layers
from lightsim.runs.preview import preview

ARRAYS = {"petal": np.random.default_rng(1).random((64, 64, 3), np.float32)}  # does not pack well


def fill(store, count, first=0):
    """So many files of one size, each used a second after the one before."""
    for number in range(first, first + count):
        store.save(f"key{number}", ARRAYS, {"scene": "petal", "what": "flash"}, halves=True)
        os.utime(store.folder / f"key{number}.layer", (number, number))


def test_the_files_not_used_for_longest_go_first(tmp_path):
    store = LayerStore(tmp_path / "layers", 10**9)
    fill(store, 4)
    size = store.files()[0].size_bytes
    assert store.load("key0") is not None  # so that it is used last
    smaller = LayerStore(store.folder, 2 * size + 10)
    smaller.trim()
    assert sorted(file.path.stem for file in smaller.files()) == ["key0", "key3"]
    smaller.save("key9", ARRAYS, {}, halves=True)
    assert sum(file.size_bytes for file in smaller.files()) <= smaller.limit


def test_a_damaged_file_is_taken_for_none_and_removed(tmp_path):
    store = LayerStore(tmp_path, 10**9)
    fill(store, 1)
    path = store.files()[0].path
    path.write_bytes(path.read_bytes()[:-30])
    assert store.load("key0") is None
    assert not path.exists()
    assert store.load("never kept") is None


def test_a_place_that_cannot_be_written_keeps_nothing_and_disturbs_nothing(tmp_path):
    (tmp_path / "file").write_text("")
    store = LayerStore(tmp_path / "file" / "layers", 10**9)
    store.save("key", ARRAYS, {}, halves=True)
    assert store.files() == []
    assert store.load("key") is None


def test_nothing_half_written_is_left(tmp_path, monkeypatch):
    def full(*arguments, **options):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("lightsim.runs.layer_store.write_arrays", full)
    LayerStore(tmp_path, 10**9).save("key", ARRAYS, {}, halves=True)
    assert list(tmp_path.iterdir()) == []


def test_emptying_removes_layers_alone(tmp_path):
    (tmp_path / "other.txt").write_text("stays")
    store = LayerStore(tmp_path, 10**9)
    fill(store, 3)
    assert len(store.empty()) == 3
    assert [path.name for path in tmp_path.iterdir()] == ["other.txt"]


def test_the_limit_is_two_gigabytes_or_what_the_environment_says(monkeypatch, tmp_path):
    monkeypatch.delenv("LIGHTSIM_LAYERS_GB")
    assert limit_bytes() == 2_000_000_000
    monkeypatch.setenv("LIGHTSIM_LAYERS_GB", "0.5")
    assert limit_bytes() == 500_000_000
    monkeypatch.setenv("LIGHTSIM_LAYERS_GB", "much")
    with pytest.raises(
        LightsimError, match="LIGHTSIM_LAYERS_GB: found 'much', allowed a number of gigabytes"
    ):
        limit_bytes()
    monkeypatch.setenv("LIGHTSIM_CACHE", str(tmp_path))
    assert layers_folder() == tmp_path / "layers"


def test_what_is_kept_is_listed_by_scene_and_emptied(tracer, two_lights, monkeypatch, tmp_path):
    monkeypatch.setenv("LIGHTSIM_LAYERS_GB", "0.5")
    monkeypatch.setenv("LIGHTSIM_CACHE", str(tmp_path))
    assert list_layers().pictures == ()
    preview(replace(two_lights, path=tmp_path / "dew.toml"), quality="draft", width_px=60)
    (picture,) = list_layers().pictures
    assert (picture.scene, picture.pixels, picture.samples) == ("dew", (60, 40), 4)
    assert picture.lights == 3  # two lamps and the room
    assert list_layers().as_dict()["size_bytes"] == sum(file.size_bytes for file in LayerStore().files())
    assert list_layers().notes()[0].endswith(f" MB of at most 0.5 GB in {tmp_path / 'layers'}.")
    assert list_layers(empty=True).notes()[0].startswith("Removed 4 files of ")
    assert list_layers().files == 0
