"""Changes of a scene with undo and redo, and saving them into a file that a person wrote."""

import pytest

from lightsim.errors import LightsimError, SceneError
from lightsim.live.scene_draft import SceneDraft, merged_text, save_draft, table_of, with_value
from lightsim.scene.file.read import load_scene

FILE = """\
# A set of mine.
about = "mine"

[exposure]            # the camera
iso = 100.0
shutter_s = "1/125"   # as marked

[[light]]             # the key
name = "flash"
guide_number_m = 20.0 # bare
power = "1/16"
angle_deg = 75.0      # from the side
clock = 10.0
"""


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "set.toml"
    path.write_text(FILE, encoding="utf-8")
    return path


def changed(scene, **values):
    table = table_of(scene)
    for path, value in values.items():
        table = with_value(table, path.replace("__", "."), value)
    return SceneDraft(scene).scene_of(table)


def test_changes_of_one_gesture_are_one_step_of_undo(file):
    draft = SceneDraft(load_scene(file))
    for angle in (70.0, 60.0, 50.0):
        table = with_value(draft.table, "light[0].angle_deg", angle)
        draft.take(draft.scene_of(table), gesture="drag")
    assert draft.scene.lights[0].angle_deg == 50.0
    assert not draft.is_saved
    assert draft.step(back=True)
    assert draft.scene.lights[0].angle_deg == 75.0
    assert draft.is_saved
    assert not draft.can_undo
    assert draft.step(back=False)
    assert draft.scene.lights[0].angle_deg == 50.0


def test_a_value_is_checked_as_in_a_scene_file(file):
    draft = SceneDraft(load_scene(file))
    with pytest.raises(SceneError, match="angle_deg"):
        draft.scene_of(with_value(draft.table, "light[0].angle_deg", "far away"))
    with pytest.raises(SceneError, match="colour"):
        draft.scene_of(with_value(draft.table, "light[0].colour", 3))


@pytest.mark.parametrize("path", ["", "light[x].power", "light[7].power", "exposure.iso.deep", "../file"])
def test_a_place_that_cannot_be_is_refused(file, path):
    with pytest.raises(LightsimError):
        with_value(table_of(load_scene(file)), path, 1.0)


def test_only_what_changed_is_written_and_comments_stay(file):
    scene = changed(load_scene(file), **{"light[0].angle_deg": 40.0, "exposure__shutter_s": 1 / 64})
    text = merged_text(scene, file)
    assert text == FILE.replace("75.0 ", "40.0 ").replace('"1/125"', '"1/60"')


def test_new_sections_and_lights_are_added_and_taken_away(file):
    scene = changed(load_scene(file), **{"light[0].diffuser": {"width_mm": 80.0}, "backdrop": {}})
    save_draft(scene, file, file)
    assert load_scene(file) == scene
    text = file.read_text(encoding="utf-8")
    assert "# from the side" in text
    bare = changed(scene, **{"light[0].diffuser": None, "backdrop": None})
    save_draft(bare, file, file)
    assert load_scene(file) == bare


def test_drops_put_by_hand_are_saved(file):
    drops = [{"x_mm": 1.0, "y_mm": 2.0, "diameter_mm": 1.5}, {"x_mm": -3.0, "y_mm": 0.0, "diameter_mm": 0.8}]
    scene = changed(load_scene(file), drops__placed=drops)
    save_draft(scene, file, file)
    assert load_scene(file).drops.placed == scene.drops.placed
    fewer = changed(scene, **{"drops__placed": drops[1:]})
    save_draft(fewer, file, file)
    assert load_scene(file).drops.placed == fewer.drops.placed


def test_saving_beside_makes_a_file_of_its_own(file):
    scene = changed(load_scene(file), **{"light[0].clock": 2.0})
    other = file.with_name("other.toml")
    save_draft(scene, other, file)
    assert load_scene(other) == scene
    assert file.read_text(encoding="utf-8") == FILE
