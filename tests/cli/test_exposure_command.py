"""`lightsim exposure` through click's runner: what it prints, writes and refuses."""

from __future__ import annotations

from math import log2

import numpy as np
import pytest
from PIL import Image

from lightsim.report.theme import petal_colour, theme_for
from lightsim.scene.build import build
from lightsim.scene.file.read import load_scene
from tests.cli.checking import refused, told
from tests.cli.conftest import LENS_SET


def test_f_8_to_f_22_what_power(run, lens_set):
    """Stop arithmetic on exact marks: three stops, 1/128 to 1/16 (common practice, no source)."""
    trade = told(run, "exposure", "lens.toml", "--f-number", "22", "--solve", "power")["trade"]
    assert trade["given_stops"] == pytest.approx({"flash": -3.0, "room": -3.0})
    assert (trade["solved"]["mark"], trade["solved"]["rest_stops"]) == ("1/16", 0.0)
    assert trade["after_stops"]["flash"] == pytest.approx(0.0, abs=1e-9)
    assert trade["after_stops"]["room"] == pytest.approx(-3.0)
    said = run("exposure", "lens.toml", "--f-number", "22", "--solve", "power").stdout
    assert "Flash power 1/16 holds the flash’s part: 3.0 stops more." in said
    assert "It makes the room light’s part 3.0 stops darker." in said


def test_there_and_back_again(run, lens_set):
    """What one trade gives, the opposite one takes."""
    there = told(run, "exposure", "lens.toml", "--power", "1/32", "--solve", "distance")["trade"]
    distance = there["solved"]["distance_mm"]
    assert distance > 390.0
    words = ("--distance", f"{distance:.9f}", "--solve", "power")
    back = told(run, "exposure", "lens.toml", *words)["trade"]
    assert back["solved"]["power"] == pytest.approx(1 / 32)


def test_out_of_the_flash_s_range_says_what_else_would_do(run, lens_set):
    (lens_set / "full.toml").write_text(LENS_SET.replace("1/128", "1/2"))
    words = ("exposure", "full.toml", "--f-number", "22", "--solve", "power")
    trade = told(run, *words)["trade"]
    assert not trade["solved"]["within_reach"]
    assert trade["solved"]["over_stops"] == pytest.approx(2.0)
    said = run(*words).stdout
    assert "Out of reach: over full power by 2.0 stops." in said
    assert "ISO 800" in said
    weak = run("exposure", "lens.toml", "--f-number", "4", "--iso", "200", "--solve", "power").stdout
    assert "Out of reach: under 1/256 by 2.0 stops." in weak
    assert "a neutral density filter of 2.0 stops over the flash" in weak


def test_without_solve_all_ways_are_told(run, lens_set):
    trade = told(run, "exposure", "lens.toml", "--f-number", "11")["trade"]
    marks = {other["change"]: other["mark"] for other in trade["equivalents"]}
    assert (marks["power"], marks["iso"]) == ("1/64", "ISO 200")
    assert set(marks) == {"power", "distance", "iso"}


def test_the_table_marks_the_sharpest_and_the_file_s_own(run, lens_set):
    result = run("exposure", "lens.toml")
    assert result.exit_code == 0
    assert "f/8 •" in result.stdout
    assert "sharpest" in result.stdout
    rows = told(run, "exposure", "lens.toml")["table"]["rows"]
    assert [row["f_number_mark"] for row in rows] == [
        "f/2.8", "f/4", "f/5.6", "f/8", "f/11", "f/16", "f/22", "f/32"
    ]  # fmt: skip
    needed = [row["needed"]["power"] * 128 for row in rows]
    assert needed == pytest.approx([1 / 8, 1 / 4, 1 / 2, 1, 2, 4, 8, 16])
    blur = [row["edge_blur_um"] for row in rows]
    assert [row["sharpest_in_table"] for row in rows] == [each == min(blur) for each in blur]
    assert [row["in_file"] for row in rows].index(True) == 3
    frames = [row["stack_frames"] for row in rows]
    assert frames == sorted(frames, reverse=True)


def test_the_wanted_depth_and_the_f_numbers_can_be_given(run, lens_set):
    found = told(run, "exposure", "lens.toml", "--depth", "3", "--f-number", "8:22")
    assert found["wanted_depth_mm"] == 3.0
    assert [row["f_number_mark"] for row in found["table"]["rows"]] == ["f/8", "f/11", "f/16", "f/22"]
    deeper = found["sharpest"]["f_number"]
    thin = told(run, "exposure", "lens.toml", "--depth", "0.75")["sharpest"]["f_number"]
    assert deeper == pytest.approx(2 * thin)


def test_the_petal_can_be_brought_to_the_mid_tone(run, lens_set):
    found = told(run, "exposure", "lens.toml", "--to-mid-tone", "--f-number", "4,8,16")
    for row in found["table"]["rows"]:
        assert row["petal_stops_from_mid_tone"] == pytest.approx(0.0, abs=1e-9)


def test_a_set_without_a_flash_is_traded_by_the_shutter(run, lens_set):
    window = LENS_SET.replace(
        'guide_number_m = 20.0\npower = "1/128"', 'kind = "continuous"\nilluminance_lx = 900.0'
    )
    (lens_set / "window.toml").write_text(window)
    found = told(run, "exposure", "window.toml", "--f-number", "22", "--solve", "shutter")["trade"]
    assert found["held"] == "room"
    assert found["solved"]["mark"] == "1/15 s"
    assert "below, stops" not in run("exposure", "window.toml").stdout
    assert "below, stops" in run("exposure", "lens.toml").stdout
    result = run("exposure", "window.toml", "--f-number", "22", "--solve", "power")
    refused(result, "--solve: found power, allowed where a flash is on the set")


def test_each_flash_has_its_own_distance(run, lens_set):
    rim = (
        '\n[[light]]\nname = "rim"\nguide_number_m = 20.0\npower = "1/16"\n'
        "angle_deg = 120.0\ndistance_mm = 165.0\n"
    )
    (lens_set / "two.toml").write_text(LENS_SET + rim)
    lines = run("exposure", "two.toml").stdout.splitlines()
    (line,) = (line for line in lines if line.startswith("rim "))
    assert line.rstrip().endswith("at 1/16, 165 mm away")


def test_the_level_can_be_taken_from_a_traced_picture(run, lens_set, tracer):
    found = told(run, "exposure", "lens.toml", "--traced")
    assert found["levels"]["from"] == "traced draft"
    assert len(tracer.views) + len(tracer.traced) > 0


def test_the_chart_is_written(run, lens_set):
    result = run("exposure", "lens.toml", "-o", "chart.png")
    assert result.stdout.splitlines()[-1] == "chart.png"
    with Image.open("chart.png") as image:
        picture = np.asarray(image.convert("RGB"))
    assert min(picture.shape[:2]) > 1000
    accent = theme_for("light", petal_colour(build(load_scene(lens_set / "lens.toml")))).accent
    assert (picture == accent).all(axis=-1).sum() > 2000  # the accent's lines
    assert sorted(path.suffix for path in lens_set.iterdir() if path.name.startswith("chart")) == [".png"]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--power", "2"), '--power: found 2, allowed 0.0005 to 1, as "1/16"'),
        (("--iso", "0"), "--iso: found 0, allowed 1 to 10000000"),
        (("--shutter", "soon"), "--shutter: found 'soon', allowed 1e-06 to 3600 s, as \"1/125\""),
        (("--extension", "-3"), "--extension: found -3, allowed 0 to 2000 mm"),
        (("--distance", "0"), "--distance: found 0, allowed above 0 to 1000000 mm"),
        (("--f-number", "0.2"), '--f-number: found 0.2, allowed 0.5 to 1000, as "f/11"'),
        (("--f-number", "8:16:22"), "--f-number: found '8:16:22', allowed two ends, as 8:22"),
        (("--iso", "400", "--solve", "iso"), "--solve: found iso, which --iso sets, allowed anything else"),
        (("--depth", "no"), "--depth: found 'no', allowed above 0 to 1000 mm"),
        (("--light", "moon"), "--light: found 'moon', allowed flash"),
        (("-o", "chart.txt"), "chart.txt: found the ending '.txt', allowed .png, .pdf, .svg, .jpg, .jpeg"),
        (
            ("--f-number", "22", "--solve", "shutter", "--hold", "flash"),
            "--solve: found shutter, which does not move the flash’s part, "
            "allowed power, distance, iso, f-number",
        ),
        (
            ("--solve", "f-number"),
            "--solve: found f-number for a table of f-numbers, allowed power, distance, iso, shutter",
        ),
    ],
)
def test_exposure_refuses_in_one_sentence_and_writes_nothing(run, lens_set, words, sentence):
    before = sorted(lens_set.iterdir())
    refused(run("exposure", "lens.toml", *words), sentence)
    assert sorted(lens_set.iterdir()) == before


def test_a_place_where_the_light_cannot_stand_is_told(run, lens_set):
    """Five millimetres from the subject, the flash would stand in the view."""
    found = told(run, "exposure", "lens.toml", "--distance", "5")
    assert any("between the lens and what it sees" in problem for problem in found["trade"]["cannot_stand"])
    assert found["advice"] == []
    assert "As traded this cannot stand: " in run("exposure", "lens.toml", "--distance", "5").stdout


def test_tubes_are_listed_as_in_scene_files(run, lens_set):
    one, several = (
        told(run, "exposure", "lens.toml", "--extension", tubes, "--solve", "power")
        for tubes in ("60", "36,24")
    )
    assert several["trade"] == one["trade"]


STACKED = """
[lens]
focal_length_mm = 200.0
native_magnification = 0.0

[lens.stacked]
focal_length_mm = 50.0
f_number = 5.6
"""


def test_a_second_lens_that_is_the_stop_is_counted_and_said(run, folder):
    """Two lenses focused at infinity, face to face: m = 200/50 = 4, and the second one, stopped to N, sends
    the subject's light to the sensor at m N. The narrower of both cones counts."""
    text = (folder / "my-set.toml").read_text().replace("width_px = 120", "width_px = 120\nf_number = 11")
    (folder / "two.toml").write_text(text + STACKED)
    numbers = "5.6,11,16,45"
    table = told(run, "exposure", "two.toml", "--f-number", numbers)["table"]["rows"]
    second = 4 * 5.6568  # f/5.6 stands for 4 sqrt(2)
    effective = [row["effective_f_number"] for row in table]
    assert effective == pytest.approx([second, second, second, 45.2548], rel=1e-4)
    # the flash makes up for what the sensor loses, and for nothing else
    power = [row["needed"]["power"] for row in table]
    assert [log2(after / power[0]) for after in power] == pytest.approx([0.0, 0.0, 0.0, 2.0], abs=1e-3)
    assert "The second lens, set to f/5.6, is the stop" in " ".join(
        run("exposure", "two.toml").stdout.split()
    )
    tried = run("exposure", "two.toml", "--iso", "50", "--solve", "f-number").stdout
    assert "the second lens is the stop and leaves 1.0 stops less" in " ".join(tried.split())
    assert run("exposure", "two.toml", "--iso", "200", "--solve", "f-number", "--json").exit_code == 0
    wide = (folder / "two.toml").read_text().replace("\nf_number = 5.6\n", "\n")
    (folder / "wide.toml").write_text(wide)
    # at f/11 the cone of the first lens is 11.31 / 4 = 2.83 before the second: f/2.8 as marked
    assert "at f/11 f/2.8 or wider" in " ".join(run("lens", "wide.toml").stdout.split())
