"""The set-up in words."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from lightsim.planning.set_description import check_file, checked_scene
from lightsim.planning.settings_words import (
    ambient_words,
    card_words,
    exposure_words,
    light_words,
    set_up_words,
    settings_words,
)
from lightsim.scene.build import build
from lightsim.scene.records import Ambient, Card, Light

SCENES = Path(__file__).parents[2] / "scenes"


def test_settings_are_told_as_they_are_marked(scene):
    # ISO 516 marks 1/128 s as 1/125, ISO 517 marks 2^(7/2) as f/11.
    assert settings_words(scene) == "f/11, 1/125 s, ISO 100"


def test_the_exposure_of_several_frames_says_what_is_common(scene):
    auto = replace(scene, exposure=replace(scene.exposure, auto=True))
    assert exposure_words(scene, 0.0, own=False) == "one exposure for all: f/11, 1/125 s, ISO 100"
    assert exposure_words(auto, 1.26, own=False) == (
        "one automatic exposure for all, +1.3 stops from f/11, 1/125 s, ISO 100"
    )
    assert exposure_words(auto, 0.0, own=True) == (
        "each frame at its own automatic exposure, in stops from f/11, 1/125 s, ISO 100"
    )


@pytest.mark.parametrize(
    ("light", "moved", "words"),
    [
        (
            Light(guide_number_m=20.0, power=1 / 16),
            (),
            "flash (60 × 40 mm, guide number 20 m at 1/16, 5600 K, 75° off the axis, at 10 o’clock, "
            "250 mm away)",
        ),
        (
            Light(guide_number_m=20.0, power=1 / 16),
            ("angle",),
            "flash (60 × 40 mm, guide number 20 m at 1/16, 5600 K, at 10 o’clock, 250 mm away)",
        ),
        (
            Light(name="lamp", kind="continuous", shape="round", illuminance_lx=1500.0),
            ("distance",),
            "lamp (continuous, 60 mm, round, 1500 lx, 5600 K, 75° off the axis, at 10 o’clock)",
        ),
        (
            Light(name="bare", intensity=12.0, position_mm=(0.0, 200.0, 0.0)),
            ("size",),
            "bare (flash, 12.0 cd s, 5600 K, 90° off the axis, at 12 o’clock, 200 mm away)",
        ),
    ],
)
def test_a_light_in_words(light, moved, words):
    assert light_words(light, moved) == words


def test_the_set_up_in_a_line_names_all_that_stands_there(scene):
    scene = replace(scene, cards=(Card(),), ambient=Ambient(illuminance_lx=0.0))
    words = set_up_words(scene, build(scene), "flash", ("angle",))
    # f/11 is marked for 2^(7/2) = 11.31 (ISO 517): 11.31 (1 + 1.5) = 28.3.
    assert words.startswith(
        "field 24 mm wide (magnification 1.5), f/11, 1/125 s, ISO 100, effective f/28.3; "
    )
    assert (
        card_words(scene.cards[0]) == "white card (100 × 100 mm, 75° off the axis, at 3 o’clock, 120 mm away)"
    )
    assert card_words(scene.cards[0]) in words
    assert ambient_words(scene) == "no ambient light"
    assert "4 drops" in words
    assert "off the axis" not in words.split("; ")[1]


@pytest.mark.parametrize(
    ("varied", "absent"),
    [
        ("drops", "4 drops"),
        ("drop_size", "4 drops"),
        ("room", "ambient"),
        ("card", "white card"),
        ("close_up", "magnification"),
        ("teleconverter", "effective"),
        ("diffuser", "60 × 40 mm"),
    ],
)
def test_what_varies_from_frame_to_frame_is_not_told_of_all(scene, varied, absent):
    scene = replace(scene, cards=(Card(),))
    assert absent in set_up_words(scene, build(scene), scene.lights[0].name)
    assert absent not in set_up_words(scene, build(scene), scene.lights[0].name, (varied,))


def test_a_bare_set_can_be_told_too(scene):
    bare = replace(scene, drops=replace(scene.drops, count=0), lights=())
    told = dict(checked_scene(bare).lines())
    assert told["drops"] == "none"
    assert told["backdrop"] == "none"
    assert "flash" not in told


def test_check_tells_of_every_thing_on_the_demo_set():
    checked = check_file(SCENES / "dewy-petal.toml")
    things = [thing for thing, _ in checked.lines()]
    lights = [light.name for light in checked.scene.lights]
    cards = [card.name for card in checked.scene.cards]
    before = ["petal", "drops", "frame", "lens", "sharpness", "exposure"]
    expected = [*before, *lights, *cards, "ambient", "level", "lighting ratio", "backdrop"]
    assert things == expected
    assert all(words for _, words in checked.lines())
