"""The commands through click's runner: what they write, print and refuse."""

from __future__ import annotations

import csv
import json
import subprocess
import sys

import numpy as np
import pytest
import tifffile
from click.testing import CliRunner
from PIL import Image
from scipy.ndimage import binary_dilation

import lightsim
from lightsim.cli import main
from lightsim.cli.common import QUALITIES
from lightsim.planning.new_scene import demo_file
from lightsim.report.sheet.caption_lines import MEASURES
from lightsim.runs import large_picture as large
from lightsim.runs import limits

ENDINGS = ".png, .pdf, .svg, .jpg, .jpeg"
COMMANDS = (
    "new",
    "check",
    "preview",
    "sweep",
    "compare",
    "lens",
    "exposure",
    "plan",
    "handout",
    "lesson",
    "layers",
    "glossary",
)


def picture(path):
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB"))


def rows(path):
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def refused(result, sentence):
    """One sentence on standard error, exit code 2, nothing on standard output."""
    assert result.stderr == f"lightsim: {sentence}\n"
    assert (result.exit_code, result.stdout) == (2, "")


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
    assert f"lightsim {words[0]} --help tells more" in result.stderr


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
def test_mistakes_in_rig_exposure_and_plan(run, folder, tracer, words, sentence):
    refused(run(words[0], "my-set.toml", *words[1:]), sentence)
    assert [path.name for path in folder.iterdir()] == ["my-set.toml"]


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


def test_preview_writes_the_photograph_and_its_measures(run, folder, tracer):
    result = run("preview", "my-set.toml")
    assert result.exit_code == 0
    assert result.stdout.splitlines()[-1] == "my-set-preview.png"
    assert picture("my-set-preview.png").shape == (80, 120, 3)
    assert "contrast" in result.stdout.lower()
    assert result.stderr == ""


@pytest.mark.parametrize(("name", "kind"), [("a.png", "PNG"), ("a.jpg", "JPEG"), ("a.JPEG", "JPEG")])
def test_preview_s_picture_is_of_the_kind_that_its_name_says(run, folder, tracer, name, kind):
    assert run("preview", "my-set.toml", "-o", name, "--width", "60").exit_code == 0
    with Image.open(name) as image:
        assert (image.format, image.size) == (kind, (60, 40))


def test_preview_writes_linear_layers_for_whoever_computes_on(run, folder, tracer):
    from lightsim.report.files.formats import read_layers_npz

    assert run("preview", "my-set.toml", "-o", "layers.npz").exit_code == 0
    layers = read_layers_npz("layers.npz")
    assert list(layers.by_light) == ["flash", "ambient"]
    assert layers.shape == (80, 120)
    assert run("preview", "my-set.toml", "-o", "layers.exr").exit_code == 0
    # OpenEXR files begin with the magic number 20000630 (OpenEXR file layout, Academy Software Foundation).
    assert int.from_bytes((folder / "layers.exr").read_bytes()[:4], "little") == 20000630


def test_preview_moves_the_light_without_a_change_to_the_file(run, folder, tracer):
    before = (folder / "my-set.toml").read_text()
    words = ("--angle", "20", "--clock", "3", "--distance", "400", "--size", "30", "--light", "flash")
    result = run("preview", "my-set.toml", "--json", *words)
    light = tracer.traced[0].lights[0]
    assert (light.angle_deg, light.clock, light.distance_mm, light.width_mm) == (20, 3, 400, 30)
    told = json.loads(result.stdout)
    assert (told["light_angle_deg"], told["light_clock"], told["light_distance_mm"]) == (20, 3, 400)
    assert told["written"] == ["my-set-preview.png"]
    assert (folder / "my-set.toml").read_text() == before


LENS = """
[lens]
extension_tubes_mm = [25.0]
"""


def test_preview_changes_settings_without_a_change_to_the_file(run, folder, tracer):
    (folder / "tubes.toml").write_text((folder / "my-set.toml").read_text() + LENS)
    words = ("--f-number", "f/16", "--power", "1/4", "--iso", "200", "--shutter", "1/60", "--extension", "50")
    result = run("preview", "tubes.toml", "--json", *words, "--white-balance", "5000")
    assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    assert (told["f_number"], told["iso"], told["light_power"], told["extension_mm"]) == (16, 200, 0.25, 50)
    # The mark 1/60 stands for 1/64 s (ISO 516); f/16 at 1.5 times life size lets in as much as f/40.
    assert told["shutter_s"] == 1 / 64
    assert told["effective_f_number"] == pytest.approx(40.0)
    assert told["figures"]["lens"]["light_lost_stops"] == pytest.approx(2 * np.log2(2.5))
    assert told["figures"]["meter"]["settings_ev100"] == pytest.approx(np.log2(40**2 * 64 / 2))


def test_preview_says_what_the_picture_was_made_with(run, folder, tracer):
    moving = (folder / "my-set.toml").read_text() + LENS + "[motion]\nspeed_mm_s = 3.0\n"
    (folder / "moving.toml").write_text(moving)
    output = run("preview", "moving.toml", "--auto").stdout
    for words in (
        "effective f/25.5, moved by ",
        "magnification 1.25",
        "stops of light lost",
        "depth of field",
        "stops below the flash, on the petal",
        "the room’s light smears 0.023 mm",
        "centre-weighted",
        "lighting ratio, (key + fill) : fill",
    ):
        assert words in " ".join(output.split()), words


def test_preview_marks_what_is_clipped(run, folder, tracer):
    bright = (folder / "my-set.toml").read_text() + "\n[exposure]\niso = 800\n"
    (folder / "bright.toml").write_text(bright.replace("1/16", "1"))
    run("preview", "bright.toml", "-o", "plain.png")
    run("preview", "bright.toml", "-o", "marked.png", "--show-clipping")
    plain, marked = picture("plain.png"), picture("marked.png")
    height = plain.shape[0]
    assert marked.shape[0] > height  # a key stands below
    changed = np.any(plain != marked[:height], axis=-1)
    assert changed.any()
    near_white = binary_dilation(plain.max(axis=-1) >= 250, iterations=2)
    assert not changed[~near_white].any()


def test_the_help_names_all_measures_of_a_sheet(run):
    said = run("sweep", "--help").stdout
    assert all(name in said for name in MEASURES)


def test_preview_of_sixteen_bits(run, folder, tracer):
    run("preview", "my-set.toml", "-o", "deep.tif")
    run("preview", "my-set.toml", "-o", "plain.png")
    deep = tifffile.imread(folder / "deep.tif")
    assert deep.dtype == np.uint16
    assert np.abs(deep / 257.0 - picture("plain.png")).max() <= 1.0


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--angle", "2000"), "--angle: found 2000, allowed -360 to 720 degrees"),
        (("--light", "moon"), "--light: found 'moon', allowed flash"),
        (("--iso", "0"), "--iso: found 0, allowed 1 to 10000000"),
        (("--power", "2"), '--power: found 2, allowed 0.0005 to 1, as "1/16"'),
        (("--f-number", "0.2"), '--f-number: found 0.2, allowed 0.5 to 1000, as "f/11"'),
        (
            ("--shutter", "fast"),
            "--shutter: found 'fast', allowed 1e-06 to 3600 s, as \"1/125\"",
        ),
        (("--extension", "-3"), "--extension: found -3, allowed 0 to 2000 mm"),
        (("--extension", "20"), "--extension: found 20, allowed with a [lens] section only"),
        (
            ("--white-balance", "moon"),
            'my-set.toml: exposure.white_balance: found "moon", allowed "key", "ambient", "flash" or a '
            "colour temperature from 1000 to 25000 K",
        ),
        (
            ("-o", "a.bmp"),
            "a.bmp: found the ending '.bmp', allowed .png, .jpg, .jpeg, .tif, .tiff, .npz, .exr",
        ),
        (("-o", "none/a.png"), "none: found no such folder, allowed one that exists"),
        (("-o", "a.npz", "--show-clipping"), "--show-clipping: found a.npz, allowed with .png, .jpg, .jpeg"),
    ],
)
def test_preview_refuses_in_one_sentence_and_traces_nothing(run, folder, tracer, words, sentence):
    refused(run("preview", "my-set.toml", *words), sentence)
    assert tracer.views == []


def test_a_picture_too_large_for_memory_is_refused_with_the_estimate(run, folder, tracer):
    result = run("preview", "my-set.toml", "--width", "200000")
    assert result.exit_code == 2
    assert result.stderr.startswith(
        "lightsim: width: found 200000 pixels, which makes a picture of 200000 x 133333 and needs about "
    )
    assert result.stderr.count("\n") == 1
    assert tracer.views == []


def test_a_large_preview_is_made_strip_by_strip_and_says_how_it_was_measured(
    run, folder, tracer, monkeypatch
):
    at_once = run("preview", "my-set.toml", "-o", "at-once.png")
    monkeypatch.setattr(limits, "STRIPS_FROM_BYTES", 0)
    monkeypatch.setattr(large, "MEASURED_PIXELS", 3_000)
    result = run("preview", "my-set.toml", "-o", "strips.png")
    assert (at_once.exit_code, result.exit_code) == (0, 0), result.output
    assert np.abs(picture("at-once.png").astype(int) - picture("strips.png")).max() <= 1
    words = "on the picture averaged over 2 x 2 pixels, automatic exposure too"
    assert words in result.stdout
    assert words not in at_once.stdout
    told = json.loads(run("preview", "my-set.toml", "--json").stdout)
    assert told["figures"]["measured_averaged_px"] == 2


def test_a_large_preview_that_is_interrupted_leaves_nothing(run, folder, tracer, monkeypatch):
    monkeypatch.setattr(limits, "STRIPS_FROM_BYTES", 0)
    tracer.stop_at = 1
    result = run("preview", "my-set.toml")
    assert (result.exit_code, result.stderr) == (130, "lightsim: stopped; nothing was written\n")
    assert [path.name for path in folder.iterdir()] == ["my-set.toml"]


def test_sweep_writes_sheet_frames_measures_chart_and_animation(run, folder, tracer):
    result = run("sweep", "my-set.toml", "--angles", "0:90:45")
    assert result.exit_code == 0, result.output
    out = folder / "out-my-set"
    written = sorted(path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file())
    pictures = [f"frames/angle-{angle:03}.{kind}" for angle in (0, 45, 90) for kind in ("json", "png")]
    files = ["chart.pdf", "chart.png", "chart.svg", "drops.csv", "measures.csv", "measures.json"]
    files += ["sheet.pdf", "sheet.png", "sweep.mp4", "sweep.webp", "swept-scene.toml"]
    assert written == sorted(pictures + files)
    assert result.stdout.splitlines()[-14:] == [
        *(f"out-my-set/frames/angle-{angle:03}.png" for angle in (0, 45, 90)),
        "out-my-set/sheet.png",
        "out-my-set/sheet.pdf",
        "out-my-set/measures.csv",
        "out-my-set/drops.csv",
        "out-my-set/measures.json",
        "out-my-set/swept-scene.toml",
        "out-my-set/chart.png",
        "out-my-set/chart.pdf",
        "out-my-set/chart.svg",
        "out-my-set/sweep.webp",
        "out-my-set/sweep.mp4",
    ]
    assert min(picture(out / "sheet.png").shape[:2]) > 1000
    assert picture(out / "chart.png").std() > 5
    with Image.open(out / "sweep.webp") as animation:
        assert animation.is_animated
        assert animation.n_frames >= 3


def test_the_measures_are_the_same_in_both_files(run, folder, tracer):
    run("sweep", "my-set.toml", "--angles", "0:90:45", "-o", "out")
    table = rows("out/measures.csv")
    told = json.loads((folder / "out" / "measures.json").read_text())
    assert told["schema_version"] == 2
    assert [frame["light_angle_deg"] for frame in told["frames"]] == [0, 45, 90]
    for row, frame in zip(table, told["frames"], strict=True):
        for key, text in row.items():
            value = frame[key]
            assert (text == "") if value in (None, "") else str(value) == text
    drops = rows("out/drops.csv")
    assert len(drops) == sum(len(frame["drops"]) for frame in told["frames"]) == 12
    assert {"highlight_long_mm", "light_angle_deg"} <= drops[0].keys()
    assert told["measures"]["highlight_long_mm"]["unit"] == "mm"


def test_a_sweep_can_print_its_numbers_as_json(run, folder, tracer):
    result = run("sweep", "my-set.toml", "--angles", "0,90", "--json")
    told = json.loads(result.stdout)
    assert [frame["picture"] for frame in told["frames"]] == ["frames/angle-000.png", "frames/angle-090.png"]
    assert "out-my-set/sheet.png" in told["written"]


def test_quiet_prints_paths_alone(run, folder, tracer):
    result = run("sweep", "my-set.toml", "--angles", "0,90", "--quiet")
    assert all((folder / line).is_file() for line in result.stdout.splitlines())
    assert result.stderr == ""


def test_another_quantity_gets_a_folder_of_its_own(run, folder, tracer):
    result = run("sweep", "my-set.toml", "--clock", "9,12,3", "--angles", "60", "--quiet")
    assert "out-my-set-clock/frames/clock-09.png" in result.stdout
    assert [frame["light_clock"] for frame in told_frames("out-my-set-clock")] == [9, 12, 3]


def test_two_lists_make_a_grid_with_one_sheet_and_chart(run, folder, tracer):
    result = run("sweep", "my-set.toml", "--angles", "15,75,135", "--f-number", "8,16")
    assert result.exit_code == 0, result.output
    out = folder / "out-my-set-angle-by-f-number"
    written = sorted(path.relative_to(out).as_posix() for path in out.iterdir() if path.is_file())
    charts = ["chart.pdf", "chart.png", "chart.svg"]
    measures = ["drops.csv", "measures.csv", "measures.json"]
    assert written == [*charts, *measures, "sheet.pdf", "sheet.png", "swept-scene.toml"]
    frames = told_frames(out)
    assert [(each["light_angle_deg"], each["f_number"]) for each in frames] == [
        (angle, number) for number in (8, 16) for angle in (15, 75, 135)
    ]
    assert frames[0]["picture"] == "frames/angle-015_f-08.png"
    assert all((out / each["picture"]).is_file() for each in frames)
    assert "f/16" in result.stdout


def told_frames(out):
    with open(f"{out}/measures.json", encoding="utf-8") as file:
        return json.load(file)["frames"]


def test_after_an_interruption_the_same_command_goes_on(run, folder, tracer):
    command = ("sweep", "my-set.toml", "--angles", "0:90:30", "-o", "out")
    tracer.stop_at = 3
    stopped = run(*command)
    assert stopped.exit_code == 130
    assert stopped.stderr == (
        "lightsim: stopped with 2 of 4 frames kept in out; the same command goes on from there\n"
    )
    assert sorted(path.name for path in (folder / "out").rglob("*.png")) == ["angle-000.png", "angle-030.png"]
    tracer.stop_at = None
    tracer.traced.clear()
    resumed = run(*command)
    assert resumed.exit_code == 0
    assert "2 of 4 frames were kept from before." in resumed.stdout
    assert [scene.lights[0].angle_deg for scene in tracer.traced] == [60, 90]
    assert run(*command[:-1], "fresh").exit_code == 0
    for name in ("sheet.png", "measures.csv", "measures.json", "frames/angle-030.png", "sweep.webp"):
        assert (folder / "out" / name).read_bytes() == (folder / "fresh" / name).read_bytes()


def test_a_sweep_stopped_at_its_first_frame_says_so(run, folder, tracer):
    tracer.stop_at = 1
    result = run("sweep", "my-set.toml", "-o", "out")
    assert (result.exit_code, result.stderr) == (
        130,
        "lightsim: stopped before a frame was done; nothing was written\n",
    )
    assert list((folder / "out").iterdir()) == []


def test_an_interrupted_preview_leaves_nothing(run, folder, tracer):
    tracer.stop_at = 1
    result = run("preview", "my-set.toml")
    assert (result.exit_code, result.stderr) == (130, "lightsim: stopped; nothing was written\n")
    assert [path.name for path in folder.iterdir()] == ["my-set.toml"]


def test_a_changed_scene_or_force_makes_all_frames_anew(run, folder, tracer):
    command = ("sweep", "my-set.toml", "--angles", "0,90", "--quiet")
    run(*command)
    assert len(tracer.traced) == 2
    run(*command)
    assert len(tracer.traced) == 2
    run(*command, "--force")
    assert len(tracer.traced) == 4
    text = (folder / "my-set.toml").read_text()
    (folder / "my-set.toml").write_text("# a comment\n" + text)
    run(*command)
    assert len(tracer.traced) == 4
    (folder / "my-set.toml").write_text(text.replace("count = 4", "count = 5"))
    run(*command)
    assert len(tracer.traced) == 6


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--angles", "0:2000:1000"), "--angles: found 1000, allowed -360 to 720 degrees"),
        (
            ("--angles", "0,10", "--clock", "3,9", "--iso", "100,200"),
            "--angles and --clock and --iso: found several values in each, allowed in two of them",
        ),
        (("--columns", "40"), "columns: found 40, allowed 1 to 9 on this paper"),
        (
            ("--measures", "petal,sparkle"),
            "measures: found 'sparkle', allowed petal, highlight, share, place, brightness, level, clipped, "
            "shadow, texture, lighting, caustic",
        ),
        (("-o", "my-set.toml"), "my-set.toml: found a file, allowed a folder that can be written"),
        (
            ("-o", "my-set.toml/x"),
            "my-set.toml: found a file, allowed a folder that can be written",
        ),
    ],
)
def test_sweep_refuses_in_one_sentence_and_traces_nothing(run, folder, tracer, words, sentence):
    refused(run("sweep", "my-set.toml", *words), sentence)
    assert tracer.views == []
    assert [path.name for path in folder.iterdir()] == ["my-set.toml"]


def test_compare_shows_one_scene_at_several_angles(run, folder, tracer):
    result = run("compare", "my-set.toml", "--angles", "15,75,135")
    assert result.exit_code == 0, result.output
    assert result.stdout.splitlines()[-4:] == [
        "compare.png",
        "compare.csv",
        "compare-differences.csv",
        "compare.json",
    ]
    assert min(picture("compare.png").shape[:2]) > 500
    assert [row["picture"] for row in rows("compare.csv")] == ["15°", "75°", "135°"]
    assert len(tracer.views) == 1
    told = json.loads((folder / "compare.json").read_text())
    stated = {(d["picture"], d["measure"]): d["difference"] for d in told["differences"]}
    first, second = told["pictures"][:2]
    assert stated["75°", "petal_linear"] == pytest.approx(
        np.log2(second["petal_linear"] / first["petal_linear"])
    )


def test_compare_shows_each_set_as_set_or_all_as_the_first(run, folder, tracer):
    text = (folder / "my-set.toml").read_text()
    (folder / "faster.toml").write_text(text + "\n[exposure]\niso = 800\n")
    command = ("compare", "my-set.toml", "faster.toml", "-o", "pair.png")
    result = run(*command)
    assert "Exposure: each picture as it is set." in result.output
    means = [float(row["petal_linear"]) for row in rows("pair.csv")]
    assert means[1] == pytest.approx(8.0 * means[0])  # ISO 800 against 100: three stops
    assert [row["picture"] for row in rows("pair.csv")] == ["My set", "Faster"]
    result = run(*command, "--same-exposure")
    assert "Faster: moved by −3.0 stops" in result.output
    means = [float(row["petal_linear"]) for row in rows("pair.csv")]
    assert means[1] == pytest.approx(means[0])
    assert [float(row["flash_moved_stops"]) for row in rows("pair.csv")] == pytest.approx([0.0, -3.0])


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (
            ("my-set.toml",),
            "compare: found 1 picture, allowed 2 to 6 (several scenes, or one scene with several --angles)",
        ),
        (
            ("my-set.toml", "--angles", "0:180:15"),
            "compare: found 13 pictures, allowed 2 to 6 (several scenes, or one scene with several --angles)",
        ),
        (
            ("my-set.toml", "my-set.toml", "-o", "x.npz"),
            "x.npz: found the ending '.npz', allowed .png, .pdf, .svg, .jpg, .jpeg",
        ),
    ],
)
def test_compare_refuses_in_one_sentence(run, folder, tracer, words, sentence):
    refused(run("compare", *words), sentence)
    assert tracer.views == []


def test_a_full_disk_gets_one_sentence(run, folder, tracer, monkeypatch):
    from lightsim.runs.sweep import frame_store as kept

    def full(*arguments, **options):
        raise OSError(28, "No space left on device", "out/frames/angle-000.png")

    monkeypatch.setattr(kept, "write_image", full)
    refused(run("sweep", "my-set.toml", "--angles", "0"), "out/frames/angle-000.png: no space left on device")


def test_too_little_memory_in_the_middle_gets_one_sentence(run, folder, tracer, monkeypatch):
    def short(*arguments, **options):
        raise MemoryError

    monkeypatch.setattr(lightsim.tracer, "View", short)
    monkeypatch.setattr(lightsim.tracer, "trace_layers", short)
    told = "memory: found too little for this, allowed a smaller --width, a coarser mesh, or more memory"
    refused(run("preview", "my-set.toml"), told)


def test_too_little_memory_for_developing_a_frame_gets_one_sentence(run, folder, tracer, monkeypatch):
    def short(*arguments, **options):
        raise MemoryError

    monkeypatch.setattr("lightsim.runs.sweep.execution.make_frame", short)
    refused(
        run("sweep", "my-set.toml", "--angles", "0,90"),
        "memory: found too little for this, allowed a smaller --width, a coarser mesh, or more memory",
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


def test_new_writes_the_demo_scene(run, folder):
    assert run("new", "demo.toml", "--demo").stdout == "demo.toml\n"
    assert (folder / "demo.toml").read_bytes() == demo_file().read_bytes()
    assert lightsim.load("demo.toml").drops.count > 0
    before = (folder / "demo.toml").read_bytes()
    refused(
        run("new", "demo.toml", "--demo"),
        "demo.toml: found a file of that name, allowed a new name (or --force to replace it)",
    )
    told = (
        "--demo: found it beside --lens, allowed alone: its gear is its own; lightsim new --help tells more"
    )
    refused(run("new", "other.toml", "--demo", "--lens", "60"), told)
    assert (folder / "demo.toml").read_bytes() == before


def test_the_package_runs_as_a_module():
    done = subprocess.run([sys.executable, "-m", "lightsim", "--version"], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("lightsim, version ")


def test_the_command_is_installed():
    from importlib.metadata import entry_points

    (entry,) = entry_points(group="console_scripts", name="lightsim")
    assert entry.load() is main


def test_an_interruption_while_the_sheet_is_made_keeps_all_frames(run, folder, tracer, monkeypatch):
    def stop(*arguments, **options):
        raise KeyboardInterrupt

    monkeypatch.setattr("lightsim.report.chart.sweep_chart.chart_page", stop)
    result = run("sweep", "my-set.toml", "--angles", "0,90", "-o", "out")
    assert result.exit_code == 130
    assert result.stderr == (
        "lightsim: stopped with 2 of 2 frames kept in out; the same command goes on from there\n"
    )
    assert not (folder / "out" / "chart.png").exists()


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
    refused(run(*words), f"{found}; lightsim {words[0]} --help tells more")


def test_new_takes_gear(run, folder):
    result = run(
        "new", "a.toml", "--lens", "100", "--tubes", "36,12", "--close-up", "4", "--diffuser", "60x40"
    )
    assert result.exit_code == 0, result.output
    assert "extension_tubes_mm = [36.0, 12.0]" in (folder / "a.toml").read_text()
    assert run("check", "a.toml").exit_code == 0


def test_new_asks_for_what_is_missing_and_again_after_a_wrong_answer(folder):
    given = ("--lens", "60", "--tubes", "20", "--f-number", "f/8", "--guide-number", "28")
    answers = "\n\n\n60\n60x40\n100\n"  # a diffuser of 60 is none
    words = ["new", "a.toml", *given, "--ask"]
    result = CliRunner().invoke(main, words, input=answers, prog_name="lightsim")
    assert result.exit_code == 0, result.output
    assert "found '60', allowed 60x40" in result.output
    text = (folder / "a.toml").read_text()
    assert "illuminance_lx = 100.0" in text
    assert "focal_length_mm = 60.0" in text
    assert "f_number = 8.0" in text


def test_the_glossary_explains_one_term_or_all(run):
    assert "diagonal / 1500" in run("glossary", "circle of confusion").stdout
    assert len(run("glossary").stdout.splitlines()) > 20
    assert run("glossary", "nonsense").exit_code == 2
