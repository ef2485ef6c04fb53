"""The plan gathered from a scene: numbers, settings in words, files whole or not at all."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from lightsim.errors import OutputError, SceneError
from lightsim.report.files.formats import plain_value
from lightsim.runs.setup_plan import plan_to_files, setup_plan
from lightsim.scene.records import Camera, Lens

TUBES = Lens(extension_tubes_mm=(12.0, 20.0, 36.0), close_up_dioptres=(2.0,))


def test_numbers_are_plain_and_agree_with_the_lens_train(scene):
    made = setup_plan(replace(scene, lens=TUBES), with_picture=False)
    found = json.loads(json.dumps(plain_value(made.as_dict())))
    # m = 1 + 68 / 100; the front is supposed 60 mm ahead of the principal plane, so 100 + 100 / m - 60 mm are
    # free, of which a close-up lens of 2 dioptres leaves 1 / (1 / free + 1 / 500) and magnifies by the rest
    free = 40.0 + 100.0 / 1.68
    magnification = 1.68 * (1.0 + free / 500.0)
    assert found["camera"]["magnification"] == pytest.approx(magnification)
    assert found["camera"]["field_width_mm"] == pytest.approx(36.0 / magnification)
    # f/11 stands for 2^3.5; the tubes cost light, the close-up lens does not
    assert found["camera"]["effective_f_number"] == pytest.approx(2**3.5 * 2.68)
    (place,) = found["places"]
    assert place["distance_mm"] == pytest.approx(250.0)
    assert place["cautions"] == [1, 2, 3]
    keys = [each["key"] for each in found["cautions"]]
    assert keys[3:] == ["lens on tubes", "exposure", "ghost"]  # dangers first, then what the exposure minds


def test_settings_say_what_is_to_be_set(scene):
    said = dict(setup_plan(replace(scene, lens=TUBES), with_picture=False).plan.settings)
    assert said["lens"] == (
        "100 mm, by itself at 1, tubes 12 + 20 + 36 = 68 mm, a close-up lens of +2; "
        "working distance 83 mm (61 to 107)"
    )
    assert said["exposure"].startswith("f/11, 1/125 s, ISO 100; effective f/30.3")
    assert said["flash"] == "guide number 10 m at 1/16, 5600 K"
    assert said["white balance"] == "for the flash"
    assert said["sharp"].startswith("middle of the petal; depth of field ")


def test_depth_of_field_without_a_lens_is_that_of_the_true_pupil(scene):
    # Conrad, Depth of Field in Depth: u b / (D - b) + u b / (D + b), b = c / m; here m = 1.5, u = 120 mm
    found = setup_plan(replace(scene, camera=Camera(width_px=120)), with_picture=False).as_dict()["camera"]
    pupil = 120.0 * 1.5 / (2**3.5 * 2.5)
    blur = np.hypot(36.0, 24.0) / 1500.0 / 1.5
    assert found["depth_of_field_mm"] == pytest.approx(
        120.0 * blur * (1 / (pupil - blur) + 1 / (pupil + blur))
    )


def test_both_files_are_written_beside_the_scene_s_name(scene, tracer, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    made, paths, missing = plan_to_files(replace(scene, path=tmp_path / "my-set.toml"))
    assert [path.name for path in paths] == ["my-set-plan.png", "my-set-plan-2.png", "my-set-plan.pdf"]
    assert missing is None
    assert made.picture.shape == (480, 720, 3)
    with Image.open("my-set-plan.png") as picture:
        assert picture.width == 2480
    assert {path.name for path in tmp_path.iterdir()} == {path.name for path in paths}


def test_when_one_file_fails_neither_is_there(scene, tracer, tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("lightsim.report.drawing.page_files.write_pdf", full)
    with pytest.raises(OutputError, match="the disk is full"):
        plan_to_files(scene, [tmp_path / "a.png", tmp_path / "a.pdf"])
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["plan", "plan.jpg", "plan.toml", "nowhere/plan.png"])
def test_a_place_that_cannot_be_is_refused_before_anything_is_traced(scene, tracer, tmp_path, name):
    with pytest.raises(OutputError):
        plan_to_files(scene, [tmp_path / "good.png", tmp_path / name])
    assert tracer.traced == []
    assert list(tmp_path.iterdir()) == []


def test_a_set_that_cannot_be_is_refused(scene, tracer, tmp_path):
    inside = replace(scene.lights[0], angle_deg=0.0, distance_mm=60.0)
    with pytest.raises(SceneError, match="between the lens and what it sees"):
        plan_to_files(replace(scene, lights=(inside,)), [tmp_path / "a.png"])
    assert list(tmp_path.iterdir()) == []
