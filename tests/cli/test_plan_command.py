"""`lightsim plan` as a user runs it."""

from __future__ import annotations

import json
import sys

import pytest


def test_a_page_in_both_kinds_of_file_a_table_and_the_cautions(run, folder, tracer):
    result = run("plan", "my-set.toml")
    assert result.exit_code == 0, result.output
    assert (folder / "my-set-plan.png").is_file()
    assert (folder / "my-set-plan.pdf").is_file()
    assert "250 mm" in result.stdout
    assert "above the table" in result.stdout
    assert "capacitor" in result.stdout
    files = ["my-set-plan.png", "my-set-plan-2.png", "my-set-plan.pdf"]
    assert result.stdout.splitlines()[-3:] == files


def test_only_the_file_that_is_named(run, folder, tracer):
    result = run("plan", "my-set.toml", "-o", "wall.pdf", "--quiet")
    assert result.exit_code == 0, result.output
    assert result.stdout == "wall.pdf\n"
    assert sorted(path.name for path in folder.iterdir()) == ["my-set.toml", "wall.pdf"]


def test_numbers_as_json(run, folder, tracer):
    result = run("plan", "my-set.toml", "-o", "plan.png", "--json")
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    (place,) = found["places"]
    assert place["angle_deg"] == pytest.approx(75.0)
    assert place["clock"] == pytest.approx(10.0)
    assert found["camera"]["front_mm"] == pytest.approx(120.0)
    assert found["view_3d"] is True
    assert found["written"] == ["plan.png", "plan-2.png"]


def test_without_opengl_the_page_comes_all_the_same(run, folder, tracer, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyrender", None)
    result = run("plan", "my-set.toml", "-o", "plan.png", "--quiet")
    assert result.exit_code == 0, result.output
    assert (folder / "plan.png").is_file()
    assert result.stderr.count("\n") == 1
    assert "libegl1 and libgl1-mesa-dri" in result.stderr


def test_a_window_without_a_display_is_one_sentence(run, folder, monkeypatch):
    monkeypatch.delenv("DISPLAY", raising=False)
    result = run("plan", "my-set.toml", "--open")
    assert result.exit_code == 2
    assert result.stderr.startswith("lightsim: --open: found no display")
    assert result.stderr.count("\n") == 1


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("missing.toml",), "missing.toml"),
        (("my-set.toml", "-o", "plan.jpg"), "allowed .png, .pdf"),
        (("my-set.toml", "-o", "none/plan.png"), "none"),
        (("my-set.toml", "-o", "a.png", "-o", "a.png"), "found twice"),
    ],
)
def test_what_is_wrong_is_one_sentence_and_nothing_is_written(run, folder, tracer, words, expected):
    result = run("plan", *words)
    assert result.exit_code == 2
    assert expected in result.stderr
    assert result.stderr.count("\n") == 1
    assert [path.name for path in folder.iterdir()] == ["my-set.toml"]


def test_help_has_an_example(run):
    result = run("plan", "--help")
    assert result.exit_code == 0
    assert "lightsim plan my-set.toml" in result.stdout
