"""What several commands say of the same set: one figure each, whichever command is asked.

Every demo scene goes through check, exposure, lens, preview, sweep, compare and plan, in small pictures.
Figures that are worked out alike are equal; where one command traces and the other uses closed forms they
agree within the error that the closed form states of itself.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from lightsim.cli import main
from lightsim.runs.setup_plan import setup_plan

SCENES = sorted(Path(__file__).parents[2].joinpath("scenes").glob("*.toml"))
SMALL = ("--width", "120", "--quality", "draft")
EQUAL = 1e-6


def asked(*arguments: object) -> dict:
    """What a command prints with --json."""
    result = CliRunner().invoke(main, [*map(str, arguments), "--json"], catch_exceptions=False)
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


@pytest.fixture(scope="module", params=SCENES, ids=lambda path: path.stem)
def said(request, tmp_path_factory):
    """The answers of all commands for one scene, by the command's name."""
    scene, out = request.param, tmp_path_factory.mktemp("out")
    found = {name: asked(name, scene) for name in ("check", "exposure", "lens")}
    angle = found["check"]["lights"][0]["angle_deg"]
    found["preview"] = asked("preview", scene, *SMALL, "-o", out / "one.png")
    swept = asked("sweep", scene, "--angles", angle, *SMALL, "-o", out / "sweep")
    found["sweep"] = swept["frames"][0]
    compared = asked("compare", scene, scene, *SMALL, "-o", out / "two.png")
    found["compare"] = compared["pictures"][1]
    found["plan"] = setup_plan(scene, with_picture=False).as_dict()  # as `plan --json` prints it
    return found


def alike(*values: float | None) -> bool:
    """Whether all are empty or all the same number."""
    first = values[0]
    if first is None:
        return all(value is None for value in values)
    return all(value is not None and value == pytest.approx(first, rel=EQUAL, abs=EQUAL) for value in values)


def ratio(answer: dict) -> float | None:
    """The lighting ratio as check and exposure have it: none, or a number."""
    return None if answer["lighting_ratio"] is None else answer["lighting_ratio"]["ratio"]


def test_the_lighting_ratio_is_one(said):
    traced = [said[name]["lighting_ratio"] for name in ("preview", "sweep", "compare")]
    assert alike(ratio(said["check"]), ratio(said["exposure"]), *traced)


def test_the_petals_level_is_one(said):
    closed, traced = said["check"]["levels"], said["preview"]
    assert closed == said["exposure"]["levels"]
    key = "petal_stops_from_mid_tone"
    assert alike(traced[key], traced["figures"][key], said["sweep"][key], said["compare"][key])
    assert traced[key] == pytest.approx(closed[key], abs=closed["within_stops"])


def test_room_light_below_flash_is_one(said):
    closed, key = said["check"]["levels"], "room_light_stops_below_flash"
    shown = said["preview"]["figures"][key]
    assert alike(shown, said["preview"].get(key), said["sweep"].get(key), said["compare"].get(key))
    if shown is not None:
        assert shown == pytest.approx(closed[key], abs=closed["within_stops"])


def test_room_light_on_the_petal_is_one(said):
    closed, reading = said["check"]["levels"], said["preview"]["figures"]["meter"]
    key = "room_light_stops_from_mid_tone"
    assert reading["petal_stops"] == pytest.approx(closed[key], abs=closed["within_stops"])


def test_petal_contrast_shadows_and_texture_are_one(said):
    for key in (
        "petal_contrast_stops",
        "shadow_depth_stops",
        "texture_coarse_rms",
        "highlight_long_mm_median",
    ):
        assert alike(*(said[name][key] for name in ("preview", "sweep", "compare")))


@pytest.mark.parametrize("key", ["magnification", "effective_f_number", "f_number"])
def test_the_lenss_figures_are_one(said, key):
    values = [said["check"]["camera"][key], said["preview"][key]]
    values += [said["sweep"][key], said["compare"][key], said["plan"]["camera"][key]]
    if key in said["lens"]:
        values.append(said["lens"][key])
    assert alike(*values)


def test_the_f_number_is_the_marked_one(said):
    values = [said["check"]["camera"]["f_number"], said["plan"]["camera"]["f_number"]]
    values += [said["lens"]["f_number"], said["exposure"]["settings"]["f_number"]]
    assert alike(*values)


@pytest.mark.parametrize("key", ["depth_of_field_mm", "working_distance_mm"])
def test_depth_and_distance_are_one(said, key):
    values = [said["check"]["camera"][key], said["lens"][key]]
    if key in said["plan"]["camera"]:
        values.append(said["plan"]["camera"][key])
    assert alike(*values)
