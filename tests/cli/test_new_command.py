"""`lightsim new` through click's runner."""

from __future__ import annotations

from click.testing import CliRunner

import lightsim
from lightsim.cli import main
from lightsim.planning.new_scene import demo_file
from tests.cli.checking import refused


def test_new_writes_a_scene_that_can_be_used_and_never_overwrites(run, folder):
    result = run("new", "fresh.toml")
    assert (result.exit_code, result.output) == (0, "fresh.toml\n")
    assert lightsim.load("fresh.toml").lights
    (folder / "fresh.toml").write_text("# mine")
    refused(
        run("new", "fresh.toml"),
        "fresh.toml: found a file of that name, allowed a new name (or --force to replace it)",
    )
    assert (folder / "fresh.toml").read_text() == "# mine"
    assert run("new", "fresh.toml", "--force").exit_code == 0
    assert "[petal]" in (folder / "fresh.toml").read_text()
    assert sorted(path.name for path in folder.iterdir()) == ["fresh.toml", "my-set.toml"]


def test_new_needs_a_folder_that_is_there(run, folder):
    refused(run("new", "nowhere/a.toml"), "nowhere: found no such folder, allowed one that exists")


def test_new_writes_the_demo_scene(run, folder):
    assert run("new", "demo.toml", "--demo").stdout == "demo.toml\n"
    assert (folder / "demo.toml").read_bytes() == demo_file().read_bytes()
    assert lightsim.load("demo.toml").drops.count > 0
    before = (folder / "demo.toml").read_bytes()
    refused(
        run("new", "demo.toml", "--demo"),
        "demo.toml: found a file of that name, allowed a new name (or --force to replace it)",
    )
    told = "--demo: found it beside --lens, allowed alone: its gear is its own; see lightsim new --help"
    refused(run("new", "other.toml", "--demo", "--lens", "60"), told)
    assert (folder / "demo.toml").read_bytes() == before


def test_new_takes_gear(run, folder):
    result = run(
        "new", "a.toml", "--lens", "100", "--tubes", "36,12", "--close-up", "4", "--diffuser", "60x40"
    )
    assert result.exit_code == 0, result.output
    assert "extension_tubes_mm = [36.0, 12.0]" in (folder / "a.toml").read_text()
    assert run("check", "a.toml").exit_code == 0


def test_new_asks_for_what_is_missing_and_again_after_a_wrong_answer(folder):
    given = ("--lens", "60", "--tubes", "20", "--f-number", "f/8", "--guide-number", "28")
    answers = "\n\n\n\n\n\n60\n60x40\n100\n"  # a diffuser of 60 is none
    words = ["new", "a.toml", *given, "--ask"]
    result = CliRunner().invoke(main, words, input=answers, prog_name="lightsim")
    assert result.exit_code == 0, result.output
    assert "found '60', allowed 60x40" in result.output
    text = (folder / "a.toml").read_text()
    assert "illuminance_lx = 100.0" in text
    assert "focal_length_mm = 60.0" in text
    assert "f_number = 8.0" in text
    assert "\nnative_working_distance_mm" not in text  # 140 is that of the usual lens of 100 mm


def test_asking_with_no_change_gives_the_usual_file(run, folder):
    result = CliRunner().invoke(main, ["new", "asked.toml", "--ask"], input="\n" * 12, prog_name="lightsim")
    assert result.exit_code == 0, result.output
    run("new", "usual.toml")
    assert (folder / "asked.toml").read_text() == (folder / "usual.toml").read_text()
