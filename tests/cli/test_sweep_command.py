"""`lightsim sweep` through click's runner: what it writes, prints and refuses."""

from __future__ import annotations

import json

import pytest
from PIL import Image

from lightsim.report.sheet.caption_lines import MEASURES
from tests.cli.checking import picture, refused, rows


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


def test_the_help_names_all_measures_of_a_sheet(run):
    said = run("sweep", "--help").stdout
    assert all(name in said for name in MEASURES)


def test_the_measures_are_the_same_in_both_files(run, folder, tracer):
    run("sweep", "my-set.toml", "--angles", "0:90:45", "-o", "out")
    table = rows("out/measures.csv")
    told = json.loads((folder / "out" / "measures.json").read_text())
    assert told["schema_version"] == 3
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
        (
            ("--hold", "--auto"),
            "--own-exposure, --auto, --hold: found several, allowed one of them; see lightsim sweep --help",
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


def test_a_full_disk_gets_one_sentence(run, folder, tracer, monkeypatch):
    from lightsim.runs.sweep import save as kept

    def full(*arguments, **options):
        raise OSError(28, "No space left on device", "out/frames/angle-000.png")

    monkeypatch.setattr(kept, "write_image", full)
    refused(run("sweep", "my-set.toml", "--angles", "0"), "out/frames/angle-000.png: no space left on device")


def test_too_little_memory_for_developing_a_frame_gets_one_sentence(run, folder, tracer, monkeypatch):
    def short(*arguments, **options):
        raise MemoryError

    monkeypatch.setattr("lightsim.runs.sweep.sweep.make_frame", short)
    refused(
        run("sweep", "my-set.toml", "--angles", "0,90"),
        "memory: found too little for this, allowed a smaller --width, a coarser mesh, or more memory",
    )
