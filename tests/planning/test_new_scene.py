"""A scene file made with someone's own gear."""

from __future__ import annotations

import pytest

from lightsim.errors import LightsimError, OutputError
from lightsim.optics.marks import FLASH_POWERS
from lightsim.planning.exposure.exposure import exposure
from lightsim.planning.new_scene import gear_of, gear_value, write_template
from lightsim.scene.file.read import load_scene
from lightsim.scene.file.write import Gear

GEAR = {"lens": "100mm", "tubes": "36,12", "close-up": "+4", "guide-number": "28 m", "diffuser": "60x40"}


def test_the_gear_stands_in_the_file(tmp_path):
    scene = load_scene(write_template(tmp_path / "my.toml", gear_of(GEAR)))
    assert (scene.lens.focal_length_mm, scene.lens.extension_tubes_mm) == (100.0, (36.0, 12.0))
    assert scene.lens.native_working_distance_mm is None  # that of the usual lens is not that of this one
    (light,) = scene.lights
    assert light.guide_number_m == 28.0
    assert (light.diffuser.width_mm, light.diffuser.height_mm) == (60.0, 40.0)


@pytest.mark.parametrize("gear", [None, gear_of(GEAR), gear_of({"guide-number": "60", "room": "300 lx"})])
def test_the_flash_brings_the_petal_to_the_mid_tone(tmp_path, gear):
    scene = load_scene(write_template(tmp_path / "my.toml", gear))
    level = exposure(scene).as_dict()["levels"]["petal_stops_from_mid_tone"]
    assert abs(level) <= 1 / 6 + 0.02  # a dial in thirds of a stop is never more than a sixth off
    assert FLASH_POWERS.nearest(scene.lights[0].power).rest_stops == 0.0


@pytest.mark.parametrize("option", ["tubes", "diffuser", "close-up", "free-distance"])
def test_none_is_an_answer(option):
    assert gear_value(option, "none") in ((), None, 0.0)


def test_no_diffuser_is_a_bare_flash(tmp_path):
    scene = load_scene(write_template(tmp_path / "my.toml", gear_of({"diffuser": "none"})))
    assert scene.lights[0].diffuser is None


@pytest.mark.parametrize(
    ("option", "text", "words"),
    [
        ("lens", "0", "--lens: found '0', allowed 1 to 5000 mm"),
        ("guide-number", "0", "--guide-number: found '0', allowed above 0 to 1000 m"),
        ("tubes", "3,x", "--tubes: found '3,x', allowed 36,12"),
        ("diffuser", "60", "--diffuser: found '60', allowed 60x40"),
        ("f-number", "5,6", "--f-number: found '5,6', allowed 0.5 to 1000 (meant is 5.6, with a point"),
    ],
)
def test_a_wrong_piece_is_refused_in_one_sentence(option, text, words):
    with pytest.raises(LightsimError) as caught:
        gear_value(option, text)
    assert str(caught.value).startswith(words)


def test_gear_that_cannot_be_leaves_no_file(tmp_path):
    with pytest.raises(LightsimError, match="found"):
        write_template(tmp_path / "my.toml", Gear(magnification=0.0, tubes_mm=()))
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_there_stays(tmp_path):
    (tmp_path / "my.toml").write_text("mine")
    with pytest.raises(OutputError, match="allowed a new name"):
        write_template(tmp_path / "my.toml")


def test_what_turns_or_lengthens_the_lens_stands_in_the_file(tmp_path):
    gear = {"lens": "200", "magnification": "0", "tubes": "none", "second-lens": "50", "teleconverter": "1.4"}
    lens = load_scene(write_template(tmp_path / "two.toml", gear_of(gear))).lens
    assert lens.stacked is not None
    assert (lens.stacked.focal_length_mm, lens.teleconverter, lens.reversed) == (50.0, 1.4, False)
    turned = {"lens": "50", "magnification": "0", "reversed": "on", "tubes": "120"}
    assert load_scene(write_template(tmp_path / "turned.toml", gear_of(turned))).lens.reversed
    with pytest.raises(LightsimError, match=r"--reversed: found 'yes', allowed on, off"):
        gear_of({"reversed": "yes"})
    with pytest.raises(LightsimError, match=r"--second-lens: found '0', allowed 1 to 5000 mm"):
        gear_of({"second-lens": "0"})
