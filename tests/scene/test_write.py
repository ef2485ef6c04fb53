"""Scenes written as TOML: marks, escapes, the commented template, whole files or none."""

import itertools
import os
import tomllib

import pytest

from lightsim.errors import OutputError
from lightsim.scene.file.layout import sections, slots
from lightsim.scene.file.read import load_scene, scene_from_dict
from lightsim.scene.file.write import save_scene, scene_to_toml, template_scene, template_text
from lightsim.scene.records import Exposure, Light, Petal, Scene


def test_marks_are_written_as_they_stand_on_the_dial():
    scene = Scene(exposure=Exposure(shutter_s=1 / 128), lights=(Light(guide_number_m=9.0, power=1 / 16),))
    text = scene_to_toml(scene)
    assert 'shutter_s = "1/125"' in text
    assert 'power = "1/16"' in text
    odd = Scene(exposure=Exposure(shutter_s=0.0123), lights=(Light(guide_number_m=9.0, power=0.3),))
    assert "shutter_s = 0.0123\n" in scene_to_toml(odd)
    assert "power = 0.3\n" in scene_to_toml(odd)


@pytest.mark.parametrize("about", ['a "b" \\ c', "line\nline\ttab", "\x00\x1f\x7f", "dröp 💧", ""])
def test_any_text_comes_back(about):
    assert tomllib.loads(scene_to_toml(Scene(about=about)))["about"] == about


def test_the_template_loads_and_shows_every_key():
    text = template_text()
    assert scene_from_dict(tomllib.loads(text)) == template_scene()
    lines = text.splitlines()
    for section in sections():
        if section.heading:
            assert section.shown in lines or f"# {section.shown}" in lines
        for slot in slots(section.record).values():
            if slot.record is None:
                assert any(line.removeprefix("# ").startswith(f"{slot.key} = ") for line in lines), slot.key


def test_what_matters_stands_above_and_the_rest_below_as_comments():
    above, _, below = template_text().partition("# All else that a scene can say")
    assert "focal_length_mm = 100.0\n" in above
    assert "close_up_dioptres = []\n" in above  # as usual, but it matters
    assert "pupil_ratio" not in above
    assert not [line for line in below.splitlines()[1:] if line and not line.startswith("#")]


def test_all_that_stands_below_loads_once_it_is_copied_up():
    below = template_text().partition("# All else")[2].splitlines()
    lines = [
        line.removeprefix("# ") for line in below if line.startswith(("# [", "# ")) and " = ..." not in line
    ]
    text = "\n".join(line for line in lines if line.startswith("[") or (" = " in line and line[0] != "#"))
    found = tomllib.loads(text)
    assert found["motion"] == {"speed_mm_s": 1.0, "clock": 3.0}
    del found["noise"], found["drops"]["placed"]
    found["light"][0]["guide_number_m"] = 20.0
    assert scene_from_dict(found).camera.looks_down_deg == 30.0


def test_every_key_of_the_template_has_its_comment_above():
    lines = template_text().partition("# All else")[0].splitlines()
    for above, line in itertools.pairwise(lines):
        if " = " in line and not line.startswith("#"):
            assert above.startswith("# "), line


def test_a_saved_scene_loads(tmp_path):
    path = save_scene(template_scene(), tmp_path / "a.toml")
    assert load_scene(path) == template_scene()
    assert os.listdir(tmp_path) == ["a.toml"]


def test_a_saved_scene_names_its_mesh_file_as_seen_from_there(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "sets").mkdir()
    (tmp_path / "a.toml").write_text('[petal]\nform = "mesh"\nfile = "meshes/rose.ply"\n')
    scene = load_scene("a.toml")
    save_scene(scene, "sets/b.toml")
    assert tomllib.loads((tmp_path / "sets/b.toml").read_text())["petal"]["file"] == "../meshes/rose.ply"
    again = load_scene("sets/b.toml")
    assert again.petal.file.resolve() == scene.petal.file.resolve()


def test_an_absolute_mesh_file_stays(tmp_path):
    scene = Scene(petal=Petal(form="mesh", file=tmp_path / "rose.ply"))
    save_scene(scene, tmp_path / "a.toml")
    assert load_scene(tmp_path / "a.toml").petal.file == tmp_path / "rose.ply"


def test_a_file_is_not_overwritten_unasked(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text("mine")
    with pytest.raises(OutputError, match=r"a\.toml: found a file there already, allowed a new name"):
        save_scene(Scene(), path)
    assert path.read_text() == "mine"
    save_scene(Scene(), path, force=True)
    assert load_scene(path) == Scene()


def test_places_that_cannot_be_written(tmp_path):
    with pytest.raises(OutputError, match="found a folder, allowed the name of a file"):
        save_scene(Scene(), tmp_path)
    with pytest.raises(OutputError, match="there is no folder"):
        save_scene(Scene(), tmp_path / "no" / "a.toml")
    assert os.listdir(tmp_path) == []
