"""Contrasts against hand-worked numbers and published definitions."""

from dataclasses import replace

import numpy as np
import pytest

from lightsim.errors import PictureError
from lightsim.measures import measure, measure_photograph
from tests.measures.drawing import coverage, ellipse, wet_petal

SHAPE = (60, 80)


def halves(bright=0.8, dark=0.2):
    light = np.full(SHAPE, bright)
    light[:, 40:] = dark
    return light


def half_lit():
    lit = np.ones(SHAPE)
    lit[:, 40:] = 0.0
    return lit


def test_lit_petal_to_shadow():
    m = measure(wet_petal(SHAPE, [], light=halves(), lit=half_lit()))
    assert m.contrast_ratio == pytest.approx(4.0, rel=1e-6)
    assert m.contrast_stops == pytest.approx(2.0, rel=1e-6)


def test_half_shadow_and_drops_do_not_count():
    light, lit = halves(), half_lit()
    light[:, 35:40], lit[:, 35:40] = 5.0, 0.5
    drop = (18.0, 30.0, 10.0)
    light[coverage(ellipse(drop[:2], (19.0, 19.0)), SHAPE) > 0.0] = 9.0
    m = measure(wet_petal(SHAPE, [drop], light=light, lit=lit, saturation=50.0))
    assert m.contrast_ratio == pytest.approx(4.0, rel=1e-3)


@pytest.mark.parametrize("share", [0.0, 0.1, 0.25, 0.4])
def test_bright_spots_in_the_shadow_do_not_lift_it(share):
    light = halves()
    light[:, 40:][np.random.default_rng(3).random((60, 40)) < share] = 30.0
    m = measure(wet_petal(SHAPE, [], light=light, lit=half_lit(), saturation=1.4))  # the spots clip
    assert m.contrast_ratio == pytest.approx(4.0, rel=1e-6)


@pytest.mark.parametrize("power", [2.0**k for k in range(-6, 1)])
def test_power_alone_moves_no_contrast(power):
    light = power * halves(1.0, 0.1)
    light[5:20, 45:60] = power * 30.0
    light *= np.random.default_rng(1).uniform(0.8, 1.25, SHAPE)
    whole = measure(wet_petal(SHAPE, [], light=light / power, lit=half_lit(), saturation=1.4))
    m = measure(wet_petal(SHAPE, [], light=light, lit=half_lit(), saturation=1.4))
    assert m.contrast_stops == pytest.approx(whole.contrast_stops, abs=1e-5)
    assert m.contrast_stops == pytest.approx(np.log2(10.0), abs=0.1)


def test_a_clipped_side_has_no_contrast_and_says_which():
    bright = measure(wet_petal(SHAPE, [], light=halves(3.0, 0.2), lit=half_lit()))
    assert bright.contrast_ratio is None
    assert bright.missing["contrast_ratio"] == "the petal in the light is clipped; expose less"
    both = measure(wet_petal(SHAPE, [], light=halves(1.39, 3.0), lit=half_lit()))
    assert both.missing["contrast_stops"] == "the petal in shadow is clipped; expose less"


def test_one_clipped_channel_below_the_middle_hides_it():
    photo = wet_petal(SHAPE, [], light=halves(), lit=half_lit())
    linear = photo.linear.copy()
    linear[:20, :40] = (photo.saturation, 0.1, 0.1)  # a red at the limit, its luminance below the others'
    m = measure(replace(photo, linear=linear))
    assert m.missing["contrast_ratio"] == "the petal in the light is clipped; expose less"


def test_a_sliver_of_lit_petal_is_no_lit_side():
    # 40 of 100,000 pixels: less than a two-thousandth, as where light from behind just grazes an edge
    lit = np.zeros((250, 400))
    lit[0, :40] = 1.0
    m = measure(wet_petal((250, 400), [], lit=lit))
    assert m.missing["contrast_ratio"] == "no bare petal lit by the key in the frame"


def test_the_lighting_ratio_does_not_mind_bright_spots_and_tells_of_clipping():
    fill = np.full((*SHAPE, 3), 0.05, np.float32)
    light = np.full(SHAPE, 0.4)
    light[:6] = 9.0
    assert measure(wet_petal(SHAPE, [], light=light), fill_linear=fill).lighting_ratio == pytest.approx(8.0)
    clipped = measure(wet_petal(SHAPE, [], light=20 * light), fill_linear=20 * fill)
    assert clipped.missing["lighting_ratio"] == "the petal in the light is clipped; expose less"


@pytest.mark.parametrize(("lit", "reason"), [(1.0, "shadow"), (0.0, "lit by the key")])
def test_one_side_missing_says_which(lit, reason):
    m = measure(wet_petal(SHAPE, [], lit=np.full(SHAPE, lit)))
    assert m.contrast_ratio is None
    assert m.contrast_stops is None
    assert reason in m.missing["contrast_ratio"]


def test_black_shadow_has_no_ratio():
    m = measure(wet_petal(SHAPE, [], light=halves(0.8, 0.0), lit=half_lit()))
    assert m.missing["contrast_ratio"] == "the petal in shadow is black"
    assert m.missing["percentile_ratio"] == "the darkest twentieth of the picture is black"


def test_rms_contrast_of_two_levels():
    # E. Peli, J. Opt. Soc. Am. A 7 (1990) 2032: population standard deviation of levels scaled to 0..1;
    # 0.8 and 0.2 in equal parts: 0.3. In stops half their distance: log2(4)/2 = 1.
    m = measure_photograph(halves())
    assert m.rms_contrast == pytest.approx(0.3, abs=1e-6)
    assert m.rms_contrast_stops == pytest.approx(1.0, abs=1e-6)


def test_rms_contrast_of_a_sine_grating():
    # A grating of Michelson contrast C has RMS / mean = C / sqrt(2): 0.424264 for 0.6.
    x = (np.arange(400) + 0.5) * 2 * np.pi / 40
    m = measure_photograph(np.tile(0.5 * (1 + 0.6 * np.sin(x)), (20, 1)))
    assert m.rms_contrast / 0.5 == pytest.approx(0.424264, abs=1e-4)


def test_percentiles_of_an_even_ramp():
    # An even ramp from 0 to 1 has its 95th and 5th percentile at 0.95 and 0.05: 19:1, 4.248 stops.
    m = measure_photograph(np.linspace(0.0, 1.0, 10001)[None, :].repeat(3, axis=0))
    assert m.percentile_ratio == pytest.approx(19.0, rel=1e-3)
    assert m.percentile_stops == pytest.approx(4.248, abs=1e-3)


def test_scaling_by_saturation():
    photo = wet_petal(SHAPE, [], light=halves(), saturation=2.0)
    assert measure(photo).rms_contrast == pytest.approx(0.15, abs=1e-6)


@pytest.mark.parametrize(("key_stops_over_fill", "ratio"), [(0.0, 2.0), (1.0, 3.0), (2.0, 5.0), (3.0, 9.0)])
def test_lighting_ratio_is_that_of_metered_sides(key_stops_over_fill, ratio):
    # Metered sides: (key + fill) : fill = 2^d + 1 for lamps d stops apart (common practice, no source).
    fill = 0.05
    light = np.where(half_lit() > 0.5, fill * (1 + 2**key_stops_over_fill), fill)
    photo = wet_petal(SHAPE, [], light=light, lit=half_lit())
    m = measure(photo, fill_linear=np.full((*SHAPE, 3), fill, np.float32))
    assert m.lighting_ratio == pytest.approx(ratio, rel=1e-5)
    assert m.lighting_stops == pytest.approx(np.log2(ratio), rel=1e-5)


def test_lighting_ratio_needs_the_picture_without_the_key():
    m = measure(wet_petal(SHAPE, []))
    assert m.missing["lighting_ratio"] == "no picture without the key to compare with"
    dark = measure(wet_petal(SHAPE, []), fill_linear=np.zeros((*SHAPE, 3)))
    assert dark.missing["lighting_ratio"] == "nothing but the key lights the petal"


def test_a_picture_of_another_size_is_refused():
    with pytest.raises(PictureError, match="30 x 20 pixels; it must be 80 x 60"):
        measure(wet_petal(SHAPE, []), fill_linear=np.zeros((20, 30, 3)))


def test_levels_and_clipping():
    m = measure(wet_petal(SHAPE, [], light=halves(3.0, 0.2), saturation=1.0))
    assert m.clipped_share == pytest.approx(0.5)
    assert m.petal_mean == pytest.approx(0.6, rel=1e-5)


def test_grey_equals_rgb():
    grey = np.random.default_rng(5).uniform(0.05, 0.9, (40, 50))
    assert measure_photograph(grey) == measure_photograph(grey[..., None].repeat(3, axis=-1))


def test_one_stop_more_exposure_moves_no_ratio():
    photo = wet_petal(SHAPE, [], light=halves(0.4, 0.05), lit=half_lit())
    brighter = replace(photo, linear=2 * photo.linear)
    first, second = measure(photo), measure(brighter)
    for key in ("contrast_ratio", "percentile_ratio", "rms_contrast_stops"):
        assert getattr(second, key) == pytest.approx(getattr(first, key), rel=1e-5)
    assert second.petal_mean == pytest.approx(2 * first.petal_mean, rel=1e-5)
    assert second.rms_contrast == pytest.approx(2 * first.rms_contrast, rel=1e-5)


def test_softer_light_lowers_contrast():
    ratios, spreads = [], []
    for filled_in in (0.02, 0.1, 0.3, 0.6):
        light = 0.6 * (half_lit() * (1 - filled_in) + filled_in)
        m = measure(wet_petal(SHAPE, [], light=light, lit=half_lit()))
        ratios.append(m.contrast_ratio)
        spreads.append(m.rms_contrast)
    assert ratios == sorted(ratios, reverse=True)
    assert spreads == sorted(spreads, reverse=True)
    assert ratios[-1] == pytest.approx(1 / 0.6, rel=1e-5)
