"""What is refused before the work starts."""

from __future__ import annotations

import pytest

from lightsim import memory
from lightsim.errors import OutputError, PictureError
from lightsim.report.files import writable
from lightsim.runs import limits


def test_a_picture_too_large_for_memory_is_refused_with_an_estimate(scene, monkeypatch):
    monkeypatch.setattr(memory, "free_bytes", lambda: 4_000_000_000)
    with pytest.raises(PictureError) as error:
        limits.require_memory(scene, 200_000)
    text = str(error.value)
    assert text.startswith(
        "width: found 200000 pixels, which makes a picture of 200000 x 133333 and needs about "
    )
    assert "TB of memory; 4 GB are free, allowed up to about " in text
    fits = int(text.split("allowed up to about ")[1].split()[0])
    limits.require_memory(scene, fits)
    with pytest.raises(PictureError):
        limits.require_memory(scene, fits + 20)


def test_memory_grows_with_the_pixels_and_the_lights(scene, two_lights):
    once = limits.memory_needed_bytes(scene, 1000)
    assert limits.memory_needed_bytes(scene, 2000) == pytest.approx(4 * once, rel=0.01)
    assert limits.memory_needed_bytes(two_lights, 1000) > once


def test_strips_of_24_megapixels_are_told_to_fit_into_2_gb(scene):
    assert memory.strips_bytes(6000, 4000, 16, len(scene.lights)) < 2_000_000_000
    assert memory.strips_bytes(6000, 4000, 16, 1) < 0.1 * limits.memory_needed_bytes(scene, 6000)
    assert memory.strips_bytes(6000, 4000, 64, 3) > memory.strips_bytes(6000, 4000, 16, 1)


def test_strips_too_large_for_memory_are_refused_with_an_estimate(scene, monkeypatch):
    monkeypatch.setattr(memory, "free_bytes", lambda: 4_000_000_000)
    limits.require_memory_for_strips(scene, 6000, 16)
    with pytest.raises(
        PictureError, match=r"width: found 30000 pixels, .* 30000 x 20000 .* about \d+ pixels"
    ):
        limits.require_memory_for_strips(scene, 30_000, 16)


def test_the_free_memory_is_known_here_and_sensible():
    free = memory.free_bytes()
    assert free is None or 10_000_000 < free < 2**50


def test_where_the_system_does_not_say_nothing_is_refused(scene, monkeypatch):
    monkeypatch.setattr(memory, "free_bytes", lambda: None)
    limits.require_memory(scene, 10_000_000)


def test_a_folder_is_made_where_it_is_missing(tmp_path):
    writable.require_folder(tmp_path / "a" / "b")
    assert list((tmp_path / "a" / "b").iterdir()) == []


def test_a_file_where_a_folder_should_be_is_named(tmp_path):
    (tmp_path / "a").write_text("")
    with pytest.raises(OutputError, match=r"a: found a file, allowed a folder that can be written$"):
        writable.require_folder(tmp_path / "a")
    with pytest.raises(OutputError, match=r"a/b: cannot be written \(not a directory\)"):
        writable.require_folder(tmp_path / "a" / "b")


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("x.bmp", "found the ending '.bmp', allowed .png, .npz"),
        ("x", "found no ending, allowed .png, .npz"),
        ("folder.png", "found a folder, allowed a file's name"),
        ("none/x.png", "found no such folder, allowed one that exists"),
    ],
)
def test_a_file_s_place_is_checked_before_it_is_needed(tmp_path, name, sentence):
    (tmp_path / "folder.png").mkdir()
    with pytest.raises(OutputError) as error:
        writable.require_file(tmp_path / name, (".png", ".npz"))
    assert str(error.value).endswith(": " + sentence)


def test_checking_a_place_leaves_nothing_there(tmp_path):
    writable.require_file(tmp_path / "x.png", (".png",))
    assert list(tmp_path.iterdir()) == []
