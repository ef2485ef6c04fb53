"""`lightsim check` through click's runner."""

from __future__ import annotations

import json


def test_all_that_is_wrong_with_a_scene_is_told_one_line_each(run, folder):
    (folder / "bad.toml").write_text(
        "[petal]\ntilt_degs = 3\n[drops]\ncount = -1\n[[light]]\nintensity = 1\n"
    )
    result = run("check", "bad.toml")
    lines = result.stderr.splitlines()
    assert result.exit_code == 2
    assert len(lines) == 2
    assert lines[0].startswith("lightsim: bad.toml: petal.tilt_degs: ")
    assert lines[1].startswith("lightsim: bad.toml: drops.count: found -1, allowed ")


def test_check_says_what_is_on_the_set(run, folder):
    result = run("check", "my-set.toml")
    assert result.exit_code == 0
    assert "flash" in result.output
    assert "75" in result.output
    told = json.loads(run("check", "my-set.toml", "--json").stdout)
    assert told["warnings"] == [] or all(isinstance(text, str) for text in told["warnings"])


def test_marks_of_direction_in_a_description_are_printed_as_escapes(run, folder):
    lines = (folder / "my-set.toml").read_text().splitlines()
    kept = [line for line in lines if not line.startswith("about")]
    turned = ['about = "turned \\u202e round\\nin two lines"', *kept]
    (folder / "turned.toml").write_text("\n".join(turned))
    result = run("check", "turned.toml")
    assert result.exit_code == 0, result.output
    assert "\u202e" not in result.output
    assert "turned \\u202e round" in result.output
    assert "in two lines" in result.output
