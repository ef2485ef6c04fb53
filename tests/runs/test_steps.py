"""Python's front door: a few lines from a scene to a sheet, objects that show themselves."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import lightsim
import lightsim.errors
from lightsim.report.words import power_words
from lightsim.runs.picture_notes import picture_lines
from lightsim.scene.file.write import scene_to_toml
from lightsim.scene.records import Ambient, Scene


def shown(thing):
    with Image.open(io.BytesIO(thing._repr_png_())) as image:
        assert image.format == "PNG"
        return image.size


def test_from_a_file_to_a_sheet_in_five_lines(tracer, scene, tmp_path):
    (tmp_path / "set.toml").write_text(scene_to_toml(scene))
    loaded = lightsim.load(tmp_path / "set.toml")
    layers = lightsim.trace(loaded)
    photo = lightsim.expose(layers, loaded)
    assert lightsim.measure(photo).highlight_clock_median == pytest.approx(10.0, abs=0.3)
    lightsim.sweep(loaded, angles="0:90:45").sheet().save(tmp_path / "sheet.png")
    with Image.open(tmp_path / "sheet.png") as sheet:
        assert min(sheet.size) > 1000


def test_no_room_bears_the_name_of_a_function():
    rooms = {path.name.removesuffix(".py") for path in Path(lightsim.__file__).parent.iterdir()}
    assert rooms.isdisjoint(lightsim.__all__)
    assert dir(lightsim) == sorted(lightsim.__all__)


def test_every_name_of_the_front_door_opens():
    for name in lightsim.__all__:
        assert getattr(lightsim, name) is not None
        assert name in dir(lightsim)
    with pytest.raises(AttributeError, match="has no attribute 'sweeep'"):
        _ = lightsim.sweeep


def test_one_more_stop_of_iso_needs_no_tracing(tracer, scene):
    layers = lightsim.trace(scene)
    faster = replace(scene, exposure=replace(scene.exposure, iso=200.0))
    once, twice = (lightsim.expose(layers, each).linear for each in (scene, faster))
    dim = twice < 1.4
    np.testing.assert_allclose(twice[dim], 2.0 * once[dim], rtol=1e-5)
    assert len(tracer.traced) == 1


def test_the_lighting_ratio_needs_the_layers(tracer, two_lights):
    layers = lightsim.trace(two_lights)
    photo = lightsim.expose(layers, two_lights)
    assert lightsim.measure(photo).lighting_ratio is None
    ratio = lightsim.measure(photo, layers, two_lights).lighting_ratio
    assert ratio == lightsim.exposure(two_lights).plan.ratio.ratio


def test_photographs_previews_frames_sweeps_and_comparisons_show_themselves(tracer, scene):
    done = lightsim.sweep(scene, angles="10,80")
    assert shown(done[0]) == (120, 80)
    assert shown(lightsim.preview(scene)) == (120, 80)
    assert shown(lightsim.expose(lightsim.trace(scene), scene)) == (120, 80)
    assert min(shown(done)) > 500
    assert min(shown(lightsim.compare([scene], angles="10,80"))) > 500


def test_lens_exposure_and_plan_in_a_line_each(tracer, scene, tmp_path):
    # f/22 from f/11 is two stops (marks stand for powers of the root of 2, ISO 517): 1/16 becomes 1/4.
    stopped = lightsim.exposure(scene, f_number=22, solve="power")
    assert stopped.trade.after.power == pytest.approx(1 / 4, rel=1e-6)
    assert lightsim.exposure(scene, {"f-number": "f/22"}, solve="power").as_dict() == stopped.as_dict()
    assert lightsim.lens(scene, f_number=22).figures.exact_f_number == pytest.approx(2**4.5)
    page = lightsim.setup_plan(scene, quality="draft")
    page.save(tmp_path / "plan.pdf")
    assert (tmp_path / "plan.pdf").read_bytes().startswith(b"%PDF")
    with pytest.raises(lightsim.errors.OutputError, match=r"found the ending '\.jpg', allowed \.png"):
        page.save(tmp_path / "plan.jpg")
    assert [path.name for path in tmp_path.iterdir()] == ["plan.pdf"]


def test_figures_and_plans_show_themselves(tracer, scene):
    for thing, word in ((lightsim.lens(scene), "magnification"), (lightsim.exposure(scene), "f-number")):
        assert thing._repr_html_().startswith("<pre")
        assert word in thing._repr_html_()
    assert min(shown(lightsim.setup_plan(scene, quality="draft"))) > 500


def test_a_setting_of_another_name_is_told_those_that_there_are(scene):
    with pytest.raises(lightsim.errors.LightsimError, match="'f-nummer', allowed f-number, extension"):
        lightsim.lens(scene, f_nummer=8)


def test_a_sweep_made_in_memory_can_be_saved_later(tracer, scene, tmp_path):
    made = lightsim.sweep(scene, angles="10,80")
    paths = made.save(tmp_path)
    assert all(path.is_file() for path in paths)
    tracer.traced.clear()
    assert lightsim.sweep(scene, angles="10,80", folder=tmp_path).reused == 2
    assert tracer.traced == []


def test_a_preview_says_which_setting_gives_the_automatic_brightness(tracer, scene):
    """A factor in power is the same factor in light: at the power that is named nothing is left to move."""
    auto = replace(scene, exposure=replace(scene.exposure, auto=True))
    dark = replace(
        auto, lights=(replace(scene.lights[0], power=1 / 128),), ambient=Ambient(illuminance_lx=0.0)
    )
    made = lightsim.preview(dark)
    words = dict(picture_lines(dark, made.figures(), made.frame))["exposure"]
    stops = made.frame.exposure_stops
    assert f"as flash power {power_words(2.0**stops / 128)} would" in words
    set_so = replace(dark, lights=(replace(scene.lights[0], power=2.0**stops / 128),))
    assert lightsim.preview(set_so).frame.exposure_stops == pytest.approx(0.0, abs=1e-6)
    no_flash = replace(auto, lights=())
    made = lightsim.preview(no_flash)
    assert " s would)" in dict(picture_lines(no_flash, made.figures(), made.frame))["exposure"]


def test_a_title_heads_the_pages_or_the_name_of_the_file():
    assert Scene(title="Rose, rain").shown_title == "Rose, rain"
    assert Scene(path=Path("sets/wet-rose_2.toml")).shown_title == "Wet rose 2"
    assert Scene().shown_title == "A set without a name"


def test_results_say_what_they_are_in_a_line(scene, tracer):
    shown = [
        repr(lightsim.preview(scene, width_px=60)),
        repr(lightsim.sweep(scene, angles="15,75", width_px=60)),
        repr(lightsim.compare([scene], angles="15,75", width_px=60)),
        repr(lightsim.setup_plan(scene, with_picture=False)),
    ]
    assert [text.split()[0] for text in shown] == ["<Preview", "<Sweep", "<Comparison", "<Setup"]
    assert all("\n" not in text and len(text) < 200 for text in shown), shown
