"""Handouts: what the file holds, that it reads without its script, and what is refused."""

from __future__ import annotations

import base64
import json
import re
from dataclasses import replace
from hashlib import sha256

import pytest

import lightsim
from lightsim.errors import LightsimError, OutputError
from lightsim.runs.handout.handout import write_handout
from lightsim.scene.file.write import scene_to_toml


@pytest.fixture
def file(tracer, scene, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "wet-rose.toml"
    path.write_text(scene_to_toml(replace(scene, about="Drops on a flat petal.")))
    return path


def made(file, **options):
    options = {
        "values": {"angle": "15,75,135"},
        "width_px": 120,
        "quality": "draft",
        "with_plan": False,
    } | options
    return write_handout([file], **options).read_text(encoding="utf-8")


def data_of(html):
    return json.loads(re.search(r'id="data">(.*?)</script>', html, re.DOTALL)[1])


def test_one_file_with_everything_and_no_address(file):
    html = made(file)
    assert {path.name for path in file.parent.iterdir()} == {"wet-rose-handout.html", "wet-rose.toml"}
    assert (file.parent / "wet-rose-handout.html").is_file()
    assert "http://" not in html.replace("http://www.w3.org", "")
    assert "https://" not in html
    assert re.findall(r'src="(?!data:)', html) == []


def test_it_reads_without_its_script(file):
    page = re.sub(r"<(script|style).*?</\1>", "", made(file), flags=re.DOTALL)
    picture = '<img loading="lazy" width="120" height="80" src="data:image/jpeg;base64,'
    assert page.count(picture) == 3
    for words in (
        "15° frontal light",
        "75° side light",
        "135° back light",
        "petal contrast",
        "Drops on a flat",
    ):
        assert words in page
    assert "Never open a flash" in page
    assert "<dt>guide number</dt>" in page


def test_the_script_and_the_style_are_the_only_ones_that_may_run(file):
    html = made(file)
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', html)[1]
    for tag, rule in (("script", "script-src"), ("style", "style-src")):
        text = re.search(rf"<{tag}(?: type=\"module\")?>(.*?)</{tag}>", html, re.DOTALL)[1]
        found = base64.b64encode(sha256(text.encode()).digest()).decode()
        assert f"{rule} 'sha256-{found}'" in policy
    assert "default-src 'none'" in policy


def test_equal_layers_are_held_once(file):
    (one,) = data_of(made(file))["sets"]
    assert len(one["frames"]) == 3
    assert len({frame["layers"]["ambient"] for frame in one["frames"]}) == 1
    assert len({frame["layers"]["flash"] for frame in one["frames"]}) == 3
    assert one["layers"].keys() == {key for frame in one["frames"] for key in frame["layers"].values()}
    assert one["axes"] == [{"name": "angle", "key": "angle", "values": ["15°", "75°", "135°"]}]


def test_numbers_are_those_of_the_sweep(file):
    (one,) = data_of(made(file))["sets"]
    swept = lightsim.sweep(file, angles="15,75,135", width_px=120, quality="draft")
    for frame, found in zip(swept, one["frames"], strict=True):
        words = {what: said for _, what, said in found["numbers"]}
        assert words["petal contrast"] == f"{frame.measures.petal_contrast_stops:.1f} stops"


def test_two_lists_make_two_sliders(file):
    (one,) = data_of(made(file, values={"angle": "15,75", "f_number": "8,16"}))["sets"]
    assert [axis["values"] for axis in one["axes"]] == [["15°", "75°"], ["f/8", "f/16"]]
    assert len({frame["effective_f_number"] for frame in one["frames"]}) == 2


def test_a_list_of_powers_is_traced_once_and_each_frame_has_its_own(file, tracer):
    (one,) = data_of(made(file, values={"power": "1/64,1/16"}))["sets"]
    first, second = one["frames"]
    assert second["outputs"]["flash"] == pytest.approx(4.0 * first["outputs"]["flash"])
    assert first["layers"] == second["layers"]
    assert len(tracer.traced) == 1


def test_the_folder_of_a_sweep_gives_the_same(file, tmp_path):
    lightsim.sweep(
        file, angles="15,75,135", width_px=120, quality="draft", folder=tmp_path / "out-rose"
    ).save(tmp_path / "out-rose")
    by_folder = data_of(made(tmp_path / "out-rose", values=None, width_px=None))["sets"]
    by_file = data_of(made(file))["sets"]
    assert by_folder[0]["frames"] == by_file[0]["frames"]
    assert by_folder[0]["title"] == by_file[0]["title"] == "Wet rose"


def test_several_sets_stand_under_headings(file, scene, tmp_path):
    (tmp_path / "b.toml").write_text(scene_to_toml(replace(scene, title="Another & one")))
    values = {"angle": "15,75"}
    sets = [file, tmp_path / "b.toml"]
    path = write_handout(sets, values=values, width_px=120, quality="draft", with_plan=False)
    html = path.read_text()
    assert "<h2>Wet rose</h2>" in html
    assert "<h2>Another &amp; one</h2>" in html
    assert len(data_of(html)["sets"]) == 2


def test_automatic_exposure_is_one_for_all_frames(file, scene):
    auto = replace(scene, exposure=replace(scene.exposure, auto=True))
    file.write_text(scene_to_toml(auto))
    settings = data_of(made(file))["sets"][0]["settings"]
    assert settings["auto"] is False
    assert settings["iso"] != pytest.approx(100.0, rel=0.01)


def test_a_ground_that_there_is_not_is_refused_before_anything_is_traced(file, tracer):
    with pytest.raises(LightsimError, match="ground: found 'pink', allowed light or dark"):
        made(file, ground="pink")
    assert not list(file.parent.glob("*.html"))
    assert tracer.traced == []


def test_the_scene_is_never_overwritten_and_another_ending_is_refused(file, tmp_path):
    before = file.read_text()
    with pytest.raises(OutputError, match=r"found the ending '\.toml', allowed \.html"):
        write_handout([file], file)
    assert file.read_text() == before
    (tmp_path / "empty").mkdir()
    with pytest.raises(LightsimError, match=r"found a folder without a sweep's measures\.json"):
        write_handout([tmp_path / "empty"])
