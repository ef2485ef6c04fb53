"""lightsim measure: a photograph of one's own."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from lightsim.measures import measure_photograph, read_photograph
from tests.cli.checking import refused, told


@pytest.fixture
def photograph(folder):
    """A ramp of grey with a bright spot, and a mask of its left half."""
    tones = np.linspace(40, 200, 300).astype(np.uint8)[None, :, None].repeat(200, 0).repeat(3, 2)
    tones[90:96, 196:202] = 250
    Image.fromarray(tones).save("photo.png")
    mask = np.zeros((200, 300), np.uint8)
    mask[:, :150] = 255
    Image.fromarray(mask).save("mask.png")


def test_the_numbers_are_those_from_python(run, photograph):
    drop = ("--drop", "200,100,40", "--clock", "12")
    found = told(run, "measure", "photo.png", *drop, "--mm-per-px", "0.02")
    same = measure_photograph(read_photograph("photo.png", 0.02), drops=[(200, 100, 40)], light_clock=12.0)
    assert found["petal_contrast_stops"] == pytest.approx(same.petal_contrast_stops)
    assert found["drops"][0]["highlight_long_mm"] == pytest.approx(same.drops[0].highlight_long_mm)
    whole = np.ones((200, 300))
    left = told(run, "measure", "photo.png", "--petal", "mask.png")["petal_contrast_stops"]
    assert 0.0 < left < measure_photograph(read_photograph("photo.png"), petal=whole).petal_contrast_stops
    table = run("measure", "photo.png", *drop)
    assert "petal contrast" in table.stdout
    assert "depth of field" not in table.stdout


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("photo.png",), "photo.png: found neither drops nor a petal's mask, allowed one or both"),
        (
            ("photo.png", "--drop", "1,2"),
            "--drop: found '1,2', allowed column,row,radius in pixels such as 1520,980,210",
        ),
        (
            ("none.png", "--drop", "1,2,3"),
            "none.png: there is no such file; a PNG, JPEG or TIFF file is needed",
        ),
    ],
)
def test_mistakes_are_one_sentence(run, photograph, words, sentence):
    refused(run("measure", *words), sentence)
