"""Lessons: those that ship, their numbers, and what is wrong in a file."""

from __future__ import annotations

import re

import pytest
from pypdf import PdfReader

from lightsim.errors import LightsimError
from lightsim.report.lesson.lesson_parts import Block, as_blocks, as_html
from lightsim.runs.lesson.lesson import write_lesson
from lightsim.runs.lesson.lesson_file import find_lesson, load_lesson, shipped_lessons

LESSON = """\
title = "Side & front"
about = "A trial."
width_px = 120

[scenes.petal]
[scenes.petal.petal]
form = "flat"
mesh_spacing_mm = 2.0
relief_mm = 0.0
[scenes.petal.drops]
count = 4
diameter_mm = 3.0
diameter_spread = 1.1
[[scenes.petal.light]]
guide_number_m = 10.0
power = "1/16"

[[step]]
heading = "Round the flower"
text = "The contrast is **{petal contrast at 75°}**."
vary = { angle = "15,75" }
question = "Why <b>so</b>?"
answer = "- at 15°: {place at 15°}\\n- at 75°: {place at 75}"

[[step]]
heading = "One picture"
text = "It stands {level} from the mid-tone."
vary = { angle = "40" }
"""


@pytest.fixture
def file(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "trial.toml"
    path.write_text(LESSON)
    return path


def test_page_worksheet_and_slides(tracer, file, tmp_path):
    paths = write_lesson(file, quality="draft")
    assert [path.name for path in paths] == ["lesson.html", "worksheet.pdf", "slides.pdf"]
    html = paths[0].read_text()
    assert "<h2>1. Round the flower</h2>" in html
    assert "<summary>Answer</summary>" in html
    assert "&lt;b&gt;so&lt;/b&gt;" in html  # markup in a text is shown, never obeyed
    worksheet = [page.extract_text() for page in PdfReader(paths[1]).pages]
    assert "Side & front: answers" in worksheet[-1]
    assert not any("of the way to the rim" in page for page in worksheet[:-1])
    slides = PdfReader(paths[2])
    assert len(slides.pages) == 1 + 3 + 1  # the title; text, question, answer; text
    width, height = (float(side) for side in slides.pages[0].mediabox[2:])
    assert width / height == pytest.approx(16 / 9, rel=0.002)


def test_measured_numbers_stand_in_the_words(tracer, file):
    html = write_lesson(file, quality="draft")[0].read_text()
    assert re.search(r"The contrast is <strong>\d\.\d stops</strong>", html)
    places = re.findall(r"at (?:15|75)°: (\d+) % of the way to the rim", html)
    # The drawing tracer puts highlights R sin(t/2) from the centre: 13 % and 61 %.
    assert [int(place) for place in places] == [pytest.approx(13, abs=4), pytest.approx(61, abs=4)]


@pytest.mark.parametrize("name", ["direction-of-light", "hard-and-soft", "flash-and-room"])
def test_the_lessons_that_ship_can_be_made(tracer, name, tmp_path):
    told = load_lesson(find_lesson(name))
    assert all(step.question and step.answer for step in told.steps)
    paths = write_lesson(name, tmp_path / "out", quality="draft")
    assert all(path.stat().st_size > 10_000 for path in paths)
    assert name in shipped_lessons()


@pytest.mark.parametrize(
    ("wrong", "right", "words"),
    [
        ('title = "Side & front"', "titel = 1", 'titel: found an unknown key, allowed "title"'),
        ('title = "Side & front"', "", "title: found nothing, allowed text in quotes"),
        ("{petal contrast at 75°}", "{petal at 75°}", "found {petal at 75°}, allowed petal contrast"),
        ("{petal contrast at 75°}", "{place at 80°}", "found {place at 80°}, allowed a number at 15°, 75°"),
        ('{ angle = "15,75" }', "{ angel = 15 }", 'angel: found an unknown key, allowed "angle"'),
        ('vary = { angle = "15,75" }', 'vary = { angle = "x" }', "step[0].vary: --angles: found 'x'"),
        ('heading = "One', 'scene = "rose"\nheading = "One', "step[1].scene: found rose, allowed petal"),
        ("count = 4", "count = -4", "scenes.petal.drops.count: found -4"),
        ("width_px = 120", "width_px = 12", "width_px: found 12, allowed a whole number from 120 to 1440"),
        ("[[step]]", "[[step", "found broken TOML"),
    ],
)  # fmt: skip
def test_mistakes_get_one_sentence_and_leave_nothing(tracer, file, wrong, right, words):
    assert wrong in LESSON
    file.write_text(LESSON.replace(wrong, right))
    with pytest.raises(LightsimError) as caught:
        write_lesson(file, quality="draft")
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)
    assert not list(file.parent.glob("**/*.pdf"))


def test_a_lesson_that_there_is_not_is_told_those_that_there_are():
    with pytest.raises(LightsimError, match="or one of direction-of-light, flash-and-room"):
        find_lesson("direction")


def test_markdown_as_blocks_and_as_html():
    text = "One *two*\nthree.\n\n1. first\n2. second\n\n- point"
    assert as_blocks(text) == [
        Block("One two three."), Block("first", "1."), Block("second", "2."), Block("point", "•"),
    ]  # fmt: skip
    assert "<script>" not in as_html("<script>alert(1)</script>")
