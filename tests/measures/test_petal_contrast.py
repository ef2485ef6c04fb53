"""Petal contrast and level against hand-worked numbers, on drawn pictures."""

from dataclasses import replace

import numpy as np
import pytest

from lightsim.errors import PictureError
from lightsim.measures import measure_frame, measure_photograph
from lightsim.measures.frame_measures import with_lighting_ratio
from tests.measures.drawing import MM_PER_PX, coverage, ellipse, wet_petal

SHAPE = (120, 160)
DROP = (38.0, 60.0, 20.0)


def halves(bright=0.8, dark=0.2):
    light = np.full(SHAPE, bright)
    light[:, 80:] = dark
    return light


def fold(width_px):
    """A petal 12 mm wide with folds, the same at any number of pixels: luminance from 0.1 to 0.9."""
    x = (np.arange(width_px) + 0.5) * 12.0 / width_px
    y = (np.arange(2 * width_px // 3) + 0.5)[:, None] * 12.0 / width_px
    return 0.5 + 0.4 * np.sin(1.3 * x + 0.4 * y) * np.cos(0.9 * y)


def test_two_halves_and_a_ramp():
    assert measure_frame(wet_petal(SHAPE, [], light=halves())).petal_contrast_ratio == pytest.approx(
        4.0, rel=1e-5
    )
    # An even ramp from 0 to 1 has its 95th and 5th percentile at 0.95 and 0.05: 19:1, 4.248 stops.
    m = measure_frame(wet_petal((60, 4000), [], light=np.linspace(0.0, 1.0, 4000)[None].repeat(60, axis=0)))
    assert m.petal_contrast_ratio == pytest.approx(19.0, rel=3e-3)
    assert m.petal_contrast_stops == pytest.approx(4.248, abs=5e-3)


def test_drops_and_backdrop_do_not_count():
    light = halves()
    light[coverage(ellipse(DROP[:2], (40.0, 40.0)), SHAPE) > 0.0] = 30.0
    photo = wet_petal(SHAPE, [DROP], light=light, saturation=50.0)
    assert measure_frame(photo).petal_contrast_ratio == pytest.approx(4.0, rel=1e-5)
    cover = photo.maps.petal_cover.copy()
    cover[:, 120:] = 0.0
    light[:, 120:] = 1e-6
    behind = wet_petal(SHAPE, [DROP], light=light, saturation=50.0)
    m = measure_frame(replace(behind, maps=replace(behind.maps, petal_cover=cover)))
    assert m.petal_contrast_ratio == pytest.approx(4.0, rel=1e-5)


def test_grain_does_not_count():
    clean = measure_frame(wet_petal((320, 480), [], light=fold(480)))
    grain = np.random.default_rng(2).normal(1.0, 0.3, (320, 480))
    light = fold(480) * np.maximum(grain, 0.0)
    grainy = measure_frame(wet_petal((320, 480), [], light=light, saturation=50.0))
    assert grainy.petal_contrast_stops == pytest.approx(clean.petal_contrast_stops, abs=0.05)
    dark, bright = np.percentile(light, (5.0, 95.0))
    assert np.log2(bright / dark) > clean.petal_contrast_stops + 0.4


@pytest.mark.parametrize("width_px", [480, 960, 1920])
def test_the_pictures_size_does_not_count(width_px):
    # 0.1 stop is allowed of a traced picture; here nothing but the size differs.
    light = fold(width_px)
    photo = replace(wet_petal(light.shape, [], light=light), mm_per_px=12.0 / width_px)
    fine = replace(wet_petal((640, 960), [], light=fold(960)), mm_per_px=12.0 / 960)
    found = measure_frame(photo).petal_contrast_stops
    assert found == pytest.approx(measure_frame(fine).petal_contrast_stops, abs=0.01)


def test_a_real_photograph_gives_the_same():
    light = halves()
    light[coverage(ellipse(DROP[:2], (40.0, 40.0)), SHAPE) > 0.0] = 0.02
    simulated = measure_frame(wet_petal(SHAPE, [DROP], light=light)).petal_contrast_ratio
    mask = np.ones(SHAPE)
    mask[coverage(ellipse(DROP[:2], (44.0, 44.0)), SHAPE) > 0.0] = 0.0
    for told in ({"drops": [DROP]}, {"petal": mask}, {"drops": [DROP], "petal": np.ones(SHAPE)}):
        m = measure_photograph(light, MM_PER_PX, **told)
        assert m.petal_contrast_ratio == pytest.approx(simulated, rel=1e-4)
    unknown_scale = measure_photograph(light, drops=[DROP])
    assert unknown_scale.petal_contrast_ratio == pytest.approx(simulated, rel=0.01)


def test_a_real_photograph_needs_a_mask_or_drops():
    m = measure_photograph(halves(), MM_PER_PX)
    assert m.petal_contrast_ratio is None
    assert m.missing["petal_contrast_stops"] == "which part is petal is not known: give a mask or the drops"
    with pytest.raises(PictureError, match=r"mask of shape \(20, 30\); \(120, 160\), as the picture"):
        measure_photograph(halves(), MM_PER_PX, petal=np.ones((20, 30)))


def test_clipped_petal_is_known_in_a_simulated_picture_and_hidden_in_a_real_one():
    light = halves(3.0, 0.2)
    simulated = measure_frame(wet_petal(SHAPE, [], light=light, saturation=1.4))
    assert simulated.petal_contrast_ratio == pytest.approx(15.0, rel=1e-5)
    assert simulated.petal_linear == pytest.approx(1.6, rel=1e-5)
    assert simulated.petal_stops_from_mid_tone == pytest.approx(np.log2(1.6 / 0.18), abs=1e-5)
    assert simulated.petal_clipped_share == simulated.clipped_share == pytest.approx(0.5)
    real = measure_photograph(np.minimum(light, 1.0), MM_PER_PX, petal=np.ones(SHAPE))
    assert real.missing["petal_contrast_ratio"].endswith("is clipped; expose less")


def test_black_petal_and_none():
    black = measure_frame(wet_petal(SHAPE, [], light=halves(0.8, 0.0)))
    assert black.missing["petal_contrast_ratio"] == "a twentieth of the bare petal is black"
    covered = measure_frame(wet_petal((40, 40), [(20.0, 20.0, 40.0)]))
    assert covered.missing["petal_contrast_ratio"] == "no bare petal in the frame"
    assert covered.missing["petal_linear"] == "no bare petal in the frame"


@pytest.mark.parametrize("power", [2.0**k for k in range(-6, 5)])
def test_power_alone_moves_no_contrast(power):
    photo = wet_petal(SHAPE, [], light=halves(), saturation=1.4)
    m = measure_frame(replace(photo, linear=np.float32(power) * photo.linear))
    assert m.petal_contrast_stops == pytest.approx(2.0, abs=1e-5)
    assert m.petal_linear == pytest.approx(power * 0.5, rel=1e-5)


def test_softer_light_lowers_contrast():
    ratios = []
    for filled_in in (0.02, 0.1, 0.3, 0.6):
        m = measure_frame(wet_petal(SHAPE, [], light=halves(0.6, 0.6 * filled_in)))
        ratios.append(m.petal_contrast_ratio)
    assert ratios == sorted(ratios, reverse=True)
    assert ratios[-1] == pytest.approx(1 / 0.6, rel=1e-5)


def test_grey_equals_rgb():
    grey = np.random.default_rng(5).uniform(0.05, 0.9, (40, 50))
    told = {"drops": [(20.0, 20.0, 8.0)]}
    assert measure_photograph(grey, **told) == measure_photograph(grey[..., None].repeat(3, axis=-1), **told)


def test_a_picture_of_another_size_is_refused():
    with pytest.raises(PictureError, match="30 x 20 pixels; it must be 160 x 120"):
        measure_frame(wet_petal(SHAPE, []), fill_linear=np.zeros((20, 30, 3)))


def test_the_lighting_ratio_is_given_with_the_set():
    m = measure_frame(wet_petal(SHAPE, []))
    assert m.missing["lighting_ratio"] == "the lights of the set are not known"
    given = with_lighting_ratio(m, 8.0, "")
    assert (given.lighting_ratio, given.lighting_stops) == (8.0, 3.0)
    assert "lighting_ratio" not in given.missing
    assert with_lighting_ratio(m, None, "no fill").missing["lighting_stops"] == "no fill"
