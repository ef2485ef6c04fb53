"""`lightsim preview` through click's runner: what it writes, prints and refuses."""

from __future__ import annotations

import json

import numpy as np
import pytest
import tifffile
from PIL import Image
from scipy.ndimage import binary_dilation

import lightsim
from lightsim.runs import large_picture as large
from lightsim.runs import limits
from tests.cli.checking import picture, refused


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
    assert run("preview", "my-set.toml", "-o", "layers.npz").exit_code == 0
    with np.load("layers.npz", allow_pickle=False) as layers:
        assert layers["light_names"].tolist() == ["flash", "ambient"]
        assert layers["lights/flash/petal"].shape == (80, 120, 3)
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


def test_room_light_brighter_than_the_flash_lies_above_it(run, folder, tracer):
    said = " ".join(run("preview", "my-set.toml", "--shutter", "8 s", "--room", "2000").stdout.split())
    assert "stops above the flash, on the petal" in said
    assert "−" not in said.split("room light")[1].split("on the petal")[0]


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


def test_an_interrupted_preview_leaves_nothing(run, folder, tracer):
    tracer.stop_at = 1
    result = run("preview", "my-set.toml")
    assert (result.exit_code, result.stderr) == (130, "lightsim: stopped; nothing was written\n")
    assert [path.name for path in folder.iterdir()] == ["my-set.toml"]


def test_too_little_memory_in_the_middle_gets_one_sentence(run, folder, tracer, monkeypatch):
    def short(*arguments, **options):
        raise MemoryError

    monkeypatch.setattr(lightsim.tracer, "View", short)
    monkeypatch.setattr(lightsim.tracer, "trace_layers", short)
    told = "memory: found too little for this, allowed a smaller --width, a coarser mesh, or more memory"
    refused(run("preview", "my-set.toml"), told)


def test_preview_takes_tubes_and_close_up_lenses_as_lists(run, folder, tracer):
    (folder / "tubes.toml").write_text((folder / "my-set.toml").read_text() + LENS)
    result = run("preview", "tubes.toml", "--json", "--extension", "36,12", "--close-up", "4,2")
    assert result.exit_code == 0, result.output
    assert tracer.traced[0].lens.extension_tubes_mm == (36.0, 12.0)
    assert tracer.traced[0].lens.close_up_dioptres == (4.0, 2.0)
