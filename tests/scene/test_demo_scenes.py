"""The scenes that come with the project load, build, say what they show, and are as described."""

from pathlib import Path

import numpy as np
import pytest
import trimesh

from lightsim.scene.build import build
from lightsim.scene.describe import describe, warnings
from lightsim.scene.file.read import load_scene
from tests.scene.flower import flower

SCENES = Path(__file__).parents[2] / "scenes"
FILES = sorted(SCENES.rglob("*.toml"))


def test_the_scenes_are_there():
    assert {path.stem for path in FILES} >= {
        "back-light",
        "dewy-petal",
        "furnace",
        "one-drop",
        "own-mesh",
        "window-light",
    }


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_scene_builds_and_says_what_it_shows(path):
    scene = load_scene(path)
    stage = build(scene)
    assert len(scene.about) > 40
    assert len(stage.drops) == stage.drops.wanted
    assert warnings(scene, stage) == []
    assert describe(scene, stage)["drops"]["in_frame"] > 0


def test_the_petal_fills_the_frame_where_the_light_on_it_is_the_subject():
    for name in ("dewy-petal", "one-drop", "back-light", "window-light"):
        scene = load_scene(SCENES / f"{name}.toml")
        assert describe(scene, build(scene))["petal"]["frame_share"] > 0.95, name


def test_the_flowers_file_is_the_one_its_function_draws():
    kept = trimesh.load_mesh(SCENES / "five-petals.ply", process=False)
    drawn = flower()
    np.testing.assert_allclose(kept.vertices, drawn.vertices, atol=1e-6)
    np.testing.assert_array_equal(kept.faces, drawn.faces)
    np.testing.assert_array_equal(kept.visual.vertex_colors, drawn.visual.vertex_colors)
    assert (SCENES / "five-petals.ply").stat().st_size < 300_000


def test_the_furnace_absorbs_nothing():
    stage = build(load_scene(SCENES / "checks" / "furnace.toml"))
    assert (stage.petal.reflectance == 1.0).all()
    assert (stage.petal.transmittance == 0.0).all()
    assert stage.petal.gloss == 0.0
    assert stage.lights == ()
    assert stage.ambient_illuminance_lx == pytest.approx(1000.0 * np.pi)
    assert stage.ambient_gradient == 0.0
