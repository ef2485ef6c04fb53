"""Numbers as a hand types them, and what is answered where they are nearly right."""

from __future__ import annotations

import doctest

import pytest

from lightsim.errors import SceneError
from lightsim.scene import faces
from lightsim.scene.file import typed_number as module
from lightsim.scene.file.read import load_scene, scene_from_dict
from lightsim.scene.file.typed_number import NotTyped, typed_number


def test_the_examples_of_the_docstrings_hold():
    for one in (module, faces):
        assert doctest.testmod(one).failed == 0


@pytest.mark.parametrize(
    ("text", "unit", "written", "number"),
    [
        ("f/8", "", "f-number", 8.0),
        ("F8", "", "f-number", 8.0),
        ("f/5.6", "", "f-number", 5.6),
        ("1/60s", "s", "shutter", 1 / 64),  # ISO 516: the mark 1/60 stands for 1/64
        ("1/60 s", "s", "shutter", 1 / 64),
        ("200 s", "s", "shutter", 200.0),
        ("60mm", "mm", "", 60.0),
        ("60 mm", "mm", "", 60.0),
        ("6 cm", "mm", "", 60.0),
        ("0.2 m", "mm", "", 200.0),
        ("28 m", "m", "", 28.0),
        ("+8", "dioptres", "", 8.0),
        ("8D", "dioptres", "", 8.0),
        ("+4 dpt", "dioptres", "", 4.0),
        ("25 %", "", "", 0.25),
        ("9:30", "o'clock", "", 9.5),
        ("75°", "degrees", "", 75.0),
        ("-15", "degrees", "", -15.0),
        ("ISO 400", "", "iso", 400.0),
        ("1/16 + 1/3", "", "fraction", 2.0 ** (-4 + 1 / 3)),
        ("1.5:1", "", "magnification", 1.5),
        ("5600 K", "K", "", 5600.0),
        ("½", "", "fraction", 0.5),
    ],
)
def test_numbers_with_their_units(text, unit, written, number):
    assert typed_number(text, unit, written) == pytest.approx(number, rel=1e-9)


@pytest.mark.parametrize("text", ["", "f/", "fast", "1/0", "1e999", "--3", "3-", "1/2/3", "9" * 60, "nan"])
def test_what_is_no_number_is_refused(text):
    with pytest.raises(NotTyped):
        typed_number(text, "mm", "f-number")


@pytest.mark.parametrize(
    ("text", "unit", "meant"),
    [("5,6", "", "5.6, with a point as the decimal sign"), ("60 kg", "mm", "a number in mm or cm or m")],
)
def test_what_is_nearly_right_is_answered_with_what_was_meant(text, unit, meant):
    with pytest.raises(NotTyped) as caught:
        typed_number(text, unit)
    assert caught.value.meant == meant


def loaded(tmp_path, text):
    path = tmp_path / "set.toml"
    path.write_text(text, encoding="utf-8")
    return load_scene(path)


LIGHT = "[[light]]\nguide_number_m = 20\n"


def test_a_file_may_hold_numbers_as_a_hand_writes_them(tmp_path):
    scene = loaded(
        tmp_path,
        '[camera]\nf_number = "f/8"\n[exposure]\niso = "ISO 200"\nshutter_s = "1/60s"\n'
        '[lens]\nfocal_length_mm = "100 mm"\nextension_tubes_mm = 36\n'
        '[petal]\nvein_strength = "25 %"\nreflectance_foot = 0.5\ntransmittance_foot = 0.2\n'
        + LIGHT
        + 'clock = "9:30"\nangle_deg = -15\ndistance_mm = "20 cm"\n',
    )
    assert (scene.camera.f_number, scene.exposure.iso, scene.exposure.shutter_s) == (8.0, 200.0, 1 / 64)
    assert (scene.lens.focal_length_mm, scene.lens.extension_tubes_mm) == (100.0, (36.0,))
    assert scene.petal.vein_strength == 0.25
    assert scene.petal.reflectance_foot == (0.5, 0.5, 0.5)
    light = scene.lights[0]
    assert (light.angle_deg, light.clock, light.distance_mm) == (15.0, 3.5, 200.0)


def test_a_full_turn_and_ten_degrees_are_ten_degrees(tmp_path):
    light = loaded(tmp_path, LIGHT + "angle_deg = 370\nclock = 10\n").lights[0]
    assert (light.angle_deg, light.clock) == (10.0, 10.0)


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("f_number = 5,6", "(meant is f_number = 5.6, with a point as the decimal sign)"),
        ("f_number = “f/8”", '(meant is f_number = "f/8", with straight quotes)'),
        ("f_number = f/8", '(meant is f_number = "f/8", in quotes)'),
    ],
)
def test_a_line_that_is_no_toml_is_answered_with_what_was_meant(tmp_path, line, meant):
    with pytest.raises(SceneError, match="broken TOML") as caught:
        loaded(tmp_path, f"[camera]\n{line}\n")
    assert str(caught.value).endswith(meant)
    assert "line 2" in str(caught.value)


def test_a_shutter_time_longer_than_any_mark_is_asked_back():
    with pytest.raises(SceneError) as caught:
        scene_from_dict({"exposure": {"shutter_s": 200}})
    assert str(caught.value).endswith('(meant is probably "1/200"; "200 s" for so many seconds)')
    assert scene_from_dict({"exposure": {"shutter_s": "200 s"}}).exposure.shutter_s == 200.0


@pytest.mark.parametrize(
    ("section", "key", "nearest"),
    [
        ("camera", "aperture", '"f_number"'),
        ("lens", "tubes", '"extension_tubes_mm"'),
        ("exposure", "time", '"shutter_s"'),
        ("exposure", "aperture", '"f_number" in [camera]'),
    ],
)
def test_what_photographers_call_a_key_finds_it(section, key, nearest):
    with pytest.raises(SceneError) as caught:
        scene_from_dict({section: {key: 8}})
    assert nearest in str(caught.value)
