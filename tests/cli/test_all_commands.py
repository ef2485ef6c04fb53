"""What holds for every command: help, mistaken options, faults; through click's runner."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

import lightsim
from lightsim.cli import main
from lightsim.cli.common import QUALITIES
from tests.cli.checking import refused, told

COMMANDS = (
    "new",
    "check",
    "preview",
    "sweep",
    "compare",
    "lens",
    "exposure",
    "plan",
    "measure",
    "handout",
    "lesson",
    "layers",
    "glossary",
)


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_s_help_holds_an_example(run, command):
    result = run(command, "--help")
    assert result.exit_code == 0
    assert f"  lightsim {command} " in result.output
    assert "Example" in result.output


def test_help_and_version_need_no_heavy_library():
    code = (
        "import sys; from click.testing import CliRunner; from lightsim.cli import main;"
        "assert CliRunner().invoke(main, ['--help']).exit_code == 0;"
        "heavy = {'numpy', 'numba', 'scipy', 'matplotlib', 'PIL', 'trimesh', 'skimage', 'rich'};"
        "print(sorted(heavy & set(sys.modules)))"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


def test_the_version_is_told(run):
    from importlib.metadata import version

    assert version("lightsim") in run("--version").output


def test_the_quality_words_are_the_tracer_s():
    assert tuple(lightsim.tracer.QUALITY) == QUALITIES


def test_an_unknown_option_is_a_usage_error(run):
    assert run("sweep", "x.toml", "--angels", "3").exit_code == 2


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("exposure", "x.toml", "--solve", "foo"), "'foo' is not one of 'power', 'distance'"),
        (("plan", "x.toml", "--quality", "best"), "'best' is not one of 'draft', 'normal', 'final'"),
        (("sweep", "x.toml", "--width", "abc"), "'abc' is not a valid integer"),
        (("lens",), "Missing argument 'SCENE'"),
    ],
)
def test_a_mistaken_option_gets_one_line(run, folder, words, told):
    result = run(*words)
    assert (result.exit_code, result.stdout) == (2, "")
    assert len(result.stderr.splitlines()) == 1
    assert result.stderr.startswith("lightsim: ")
    assert told in result.stderr
    assert f"see lightsim {words[0]} --help" in result.stderr


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        (("preview", "my-set.toml", "--aperture", "8"), "--f-number"),
        (("exposure", "my-set.toml", "--time", "1/60"), "--shutter"),
        (("lens", "my-set.toml", "--tubes", "36"), "--extension"),
        (("preview", "my-set.toml", "--qualty", "draft"), "--quality"),
    ],
)
def test_an_option_by_another_name_is_answered_with_ours(run, folder, words, meant):
    found = f"found the option {words[2]}, which there is not, allowed {meant}"
    refused(run(*words), f"{found}; see lightsim {words[0]} --help")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("exposure", "--iso", "0"), "--iso: found 0, allowed 1 to 10000000"),
        (("exposure", "--shutter", "abc"), "--shutter: found 'abc', allowed 1e-06 to 3600 s, as \"1/125\""),
        (("exposure", "--power", "2"), '--power: found 2, allowed 0.0005 to 1, as "1/16"'),
        (
            ("exposure", "-o", "c.gif"),
            "c.gif: found the ending '.gif', allowed .png, .pdf, .svg, .jpg, .jpeg",
        ),
        (("lens", "--extension", "36"), "--extension: found 36, allowed with a [lens] section only"),
        (("lens", "--f-number", "0.1"), '--f-number: found 0.1, allowed 0.5 to 1000, as "f/11"'),
        (("plan", "-o", "a.jpg"), "a.jpg: found the ending '.jpg', allowed .png, .pdf, .svg"),
    ],
)
def test_mistakes_in_lens_exposure_and_plan(run, folder, tracer, words, sentence):
    refused(run(words[0], "my-set.toml", *words[1:]), sentence)
    assert [path.name for path in folder.iterdir()] == ["my-set.toml"]


@pytest.mark.parametrize(
    "command",
    [
        ("check",),
        ("preview",),
        ("sweep",),
        ("compare", "--angles", "1,2"),
        ("lens",),
        ("exposure",),
        ("plan",),
    ],
)
def test_a_missing_scene_gets_one_sentence(run, folder, tracer, command):
    refused(
        run(command[0], "none.toml", *command[1:]),
        "none.toml: found no such file, allowed a scene file (TOML)",
    )


def test_a_first_run_says_that_it_compiles(run, folder, tracer, monkeypatch):
    monkeypatch.setattr(lightsim.tracer, "compiled", lambda: False)
    result = run("preview", "my-set.toml")
    assert result.stderr == "compiling the renderer, once on this machine; this takes about a minute\n"
    assert run("preview", "my-set.toml", "--quiet").stderr == ""


def test_a_bug_is_not_dressed_up_as_the_user_s_mistake(run, folder, tracer, monkeypatch):
    def broken(*arguments, **options):
        raise ZeroDivisionError

    monkeypatch.setattr(lightsim.tracer, "View", broken)
    result = run("preview", "my-set.toml")
    assert isinstance(result.exception, ZeroDivisionError)


def test_the_package_runs_as_a_module():
    done = subprocess.run([sys.executable, "-m", "lightsim", "--version"], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("lightsim, version ")


def test_the_command_is_installed():
    from importlib.metadata import entry_points

    (entry,) = entry_points(group="console_scripts", name="lightsim")
    assert entry.load() is main


def test_the_glossary_explains_one_term_or_all(run):
    assert "diagonal / 1500" in run("glossary", "circle of confusion").stdout
    assert len(run("glossary").stdout.splitlines()) > 20
    assert run("glossary", "nonsense").exit_code == 2


IN_THE_LENS = """
[lens]
native_working_distance_mm = 100.0
"""


def test_a_flash_in_the_lens_is_said_alike_by_every_command(run, folder, tracer):
    """Its face, 160 mm away and 14 degrees off, stands 39 mm off the axis: its near edge, 24 mm off, is in a
    barrel 33 mm in radius that begins 100 mm away."""
    place = "angle_deg = 14.0\ndistance_mm = 160.0\nwidth_mm = 30.0\nheight_mm = 20.0\n"
    text = (folder / "my-set.toml").read_text() + place + IN_THE_LENS
    (folder / "in.toml").write_text(text)
    (folder / "out.toml").write_text(text.replace("angle_deg = 14.0", "angle_deg = 75.0"))
    (reason,) = told(run, "check", "in.toml")["bodies"]["not_buildable"]
    said = [
        run("check", "in.toml"),
        run("exposure", "in.toml"),
        run("preview", "in.toml"),
        run("compare", "in.toml", "out.toml"),
        run("sweep", "in.toml", "--angles", "14,75", "-o", "swept"),
    ]
    for result in said:
        words = " ".join(result.output.split())
        assert f"annot be built: {reason}; at its" in words.replace("angle 14 (", "")
        assert "flash stands free from " in words
    frames = json.loads((folder / "swept" / "measures.json").read_text())["frames"]
    assert frames[0]["not_buildable"].startswith(f"{reason}; at its distance and clock position flash ")
    assert frames[1]["not_buildable"] is None
    assert f"his cannot be built: {reason}; at its" in json.dumps(told(run, "plan", "in.toml", "-o", "a.svg"))
