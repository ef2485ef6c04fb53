"""Pages made of kept pictures, written beside the scene and over nothing."""

from dataclasses import replace

import pytest

from lightsim.errors import LightsimError
from lightsim.live.pages_made import angles_of, make_page
from lightsim.scene.file.read import load_scene
from lightsim.scene.settings.change_scene import change_scene


@pytest.fixture
def kept(scene_file):
    """A small set with its key at two angles, each at an exposure of its own."""
    scene = load_scene(scene_file)
    scene = replace(scene, camera=replace(scene.camera, width_px=96), path=scene_file)
    bright = replace(scene, exposure=replace(scene.exposure, iso=200.0))
    return [change_scene(one, {"angle": angle}, "flash") for one, angle in ((bright, 80.0), (scene, 30.0))]


def test_the_angles_of_pictures_that_differ_in_the_angle_alone(kept):
    assert angles_of(kept) == "30,80"
    with pytest.raises(LightsimError, match="differ in more"):
        angles_of([kept[0], change_scene(kept[1], {"clock": 2.0}, "flash")])
    with pytest.raises(LightsimError, match="one angle"):
        angles_of([kept[0], kept[0]])


@pytest.mark.parametrize(("what", "ending"), [("contact sheet", "sheet.png"), ("comparison", ".png")])
def test_a_page_is_written_beside_the_scene_and_a_second_one_beside_the_first(kept, scene_file, what, ending):
    before = scene_file.read_bytes()
    first = make_page(what, kept[0], kept, scene_file.parent, "small")
    assert any(path.name.endswith(ending) for path in first)
    assert all(path.exists() and scene_file.parent in path.parents for path in first)
    second = make_page(what, kept[0], kept, scene_file.parent, "small")
    assert not set(first) & set(second)
    assert scene_file.read_bytes() == before


def test_a_handout_leaves_no_other_file_behind(kept, scene_file):
    (page,) = make_page("handout", kept[0], kept, scene_file.parent, "small")
    assert page.suffix == ".html"
    assert sorted(path.name for path in scene_file.parent.iterdir()) == [page.name, scene_file.name]


@pytest.mark.parametrize("what", ["poster", "comparison"])
def test_what_cannot_be_made_is_said(kept, scene_file, what):
    with pytest.raises(LightsimError, match="allowed"):
        make_page(what, kept[0], kept[:1], scene_file.parent, "small")
