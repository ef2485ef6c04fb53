"""A large photograph made strip by strip, with the real tracer on small pictures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from lightsim.errors import PictureError
from lightsim.runs import large_picture as large
from lightsim.runs import limits
from lightsim.runs.preview import preview, preview_to_file
from lightsim.scene.records import Card, Drops, Light, Motion, Noise, PlacedDrop
from lightsim.tracer import path_blocks


@pytest.fixture(autouse=True)
def low_blocks(monkeypatch):
    """Blocks of 16 rows, as in a picture of 24 megapixels."""
    monkeypatch.setattr(path_blocks, "ENDS_AT_ONCE", 1)


@pytest.fixture
def wet(scene):
    """Large drops on a flat petal, a flash too bright, a lamp, a card; 180 x 120 pixels."""
    fill = Light(name="fill", kind="continuous", illuminance_lx=300.0, angle_deg=40.0, clock=3.0)
    flash = replace(scene.lights[0], width_mm=150.0, height_mm=150.0)
    placed = (PlacedDrop(0.0, 0.0, 4.0), PlacedDrop(6.0, 3.0, 4.0))
    return replace(
        scene,
        drops=Drops(count=0, placed=placed),
        lights=(replace(flash, angle_deg=50.0, distance_mm=200.0, power=1.0), fill),
        cards=(Card(angle_deg=70.0, clock=4.0, distance_mm=110.0),),
        camera=replace(scene.camera, width_px=180),
    )


def both(scene, **options):
    """The photograph made at once and strip by strip."""
    options = {"quality": "draft", **options}
    return preview(scene, strips=False, **options), preview(scene, strips=True, **options)


def difference(one, other):
    return np.abs(one.image().astype(int) - other.image().astype(int))


def test_the_picture_is_the_same(wet):
    at_once, strips = both(wet)
    assert difference(at_once, strips).max() <= 1
    assert strips.averaged_px == 1
    numbers = {key: value for key, value in at_once.row().items() if isinstance(value, float)}
    assert len(numbers) > 15
    for key, value in numbers.items():
        assert strips.row()[key] == pytest.approx(value, rel=1e-3), key


def test_movement_and_a_picture_of_odd_height_make_no_seam(wet):
    moving = replace(wet, motion=Motion(speed_mm_s=20.0, clock=11.0))
    at_once, strips = both(moving, width_px=163)
    assert at_once.image().shape == (109, 163, 3)
    assert difference(at_once, strips).max() <= 1


def test_noise_is_the_same(wet):
    at_once, strips = both(replace(wet, noise=Noise()))
    assert np.mean(difference(at_once, strips) > 1) < 0.02


def test_automatic_exposure_of_the_average_is_close(wet, monkeypatch):
    monkeypatch.setattr(large, "MEASURED_PIXELS", 6_000)
    auto = replace(wet, exposure=replace(wet.exposure, auto=True))
    at_once, strips = both(auto)
    assert strips.averaged_px == 2
    assert strips.frame.exposure_stops == pytest.approx(at_once.frame.exposure_stops, abs=0.02)
    assert abs(at_once.frame.exposure_stops) > 0.3
    assert difference(at_once, strips).max() <= 3


def test_measures_of_the_average_speak_of_the_whole_picture(wet, monkeypatch):
    monkeypatch.setattr(large, "MEASURED_PIXELS", 6_000)
    at_once, strips = both(wet, quality="normal")
    assert strips.layers.shape == (60, 90)
    assert strips.frame.mm_per_px == at_once.frame.mm_per_px
    one, other = at_once.frame.measures, strips.frame.measures
    assert other.clipped_share == one.clipped_share > 0.0
    assert other.petal_linear == pytest.approx(one.petal_linear, rel=0.02)
    for whole, averaged in zip(one.drops, other.drops, strict=True):
        assert averaged.centre_px == pytest.approx(whole.centre_px)
        assert averaged.radius_px == pytest.approx(whole.radius_px)
        if None not in (whole.highlight_area_px, averaged.highlight_area_px):
            assert averaged.highlight_area_px == pytest.approx(whole.highlight_area_px, rel=0.5)
    assert strips.frame.drop.radius_px == pytest.approx(at_once.frame.drop.radius_px)
    told, wanted = strips.figures(), at_once.figures()
    assert (told["measured_averaged_px"], wanted["measured_averaged_px"]) == (2, 1)
    assert told["clipped_share"] == wanted["clipped_share"]
    assert told["meter"]["averaging_ev100"] == pytest.approx(wanted["meter"]["averaging_ev100"], abs=0.01)


def test_clipping_is_marked_alike(wet):
    at_once, strips = both(wet)
    one, other = (made.image(show_clipping=True) for made in (at_once, strips))
    assert np.mean(one != at_once.image()) > 0.001
    np.testing.assert_array_equal(one != at_once.image(), other != strips.image())
    assert np.abs(one.astype(int) - other).max() <= 1


def test_averaged_layers_are_not_written_for_the_whole_s(wet, monkeypatch, tmp_path):
    monkeypatch.setattr(large, "MEASURED_PIXELS", 6_000)
    made = preview(wet, quality="draft", strips=True)
    with pytest.raises(PictureError, match=r"found a picture made strip by strip, .* over 2 x 2 pixels"):
        made.save(tmp_path / "x.npz")
    assert list(tmp_path.iterdir()) == []
    monkeypatch.setattr(limits, "STRIPS_FROM_BYTES", 0)
    made, path = preview_to_file(wet, tmp_path / "x.npz", quality="draft")
    assert made.layers.shape == (120, 180)
    assert path.exists()


def test_a_large_picture_goes_in_strips_by_itself(wet, monkeypatch, tmp_path):
    told = []
    assert not limits.goes_in_strips(wet, 960, 16)
    assert limits.goes_in_strips(wet, 1920, 16)
    monkeypatch.setattr(limits, "STRIPS_FROM_BYTES", 0)
    made, path = preview_to_file(
        wet, tmp_path / "x.png", quality="draft", progress=lambda share, words: told.append((share, words))
    )
    assert made.over is not None
    assert [share for share, _ in told] == sorted(share for share, _ in told)
    assert {"tracing the light, strip by strip", "exposing, strip by strip"} <= {words for _, words in told}
    with Image.open(path) as image:
        np.testing.assert_array_equal(np.asarray(image), made.image())


def test_sides_of_the_squares():
    assert large.averaged_side(640, 960) == 1
    assert large.averaged_side(1280, 1920) == 2
    assert large.averaged_side(4000, 6000) == 4
    assert large.averaged_side(60_000, 90_000) == 16
