"""Gathered light and shadows drawn where they are known to be."""

import numpy as np
import pytest

from lightsim.measures import measure_frame
from lightsim.measures.clock import direction_of
from tests.measures.drawing import GREY_PETAL, MM_PER_PX, coverage, ellipse, wet_petal

SHAPE = (260, 300)
DROP = (140.3, 120.6, 30.0)


def spot(clock, place, peak, sigma):
    """A round bell of light in or beside the drop, that much above the petal at its middle."""
    right, down = direction_of(clock)
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]] + 0.5
    away = (x - DROP[0] - place * DROP[2] * right) ** 2 + (y - DROP[1] - place * DROP[2] * down) ** 2
    return GREY_PETAL + peak * np.exp(-away / (2 * sigma**2))


def shadow(clock, near, far, width):
    """Visibility with an elliptic shadow from `near` to `far` pixels from the drop's centre."""
    right, down = direction_of(clock)
    middle = (DROP[0] + 0.5 * (near + far) * right, DROP[1] + 0.5 * (near + far) * down)
    return 1.0 - coverage(ellipse(middle, (far - near, width), 90.0 - 30.0 * clock), SHAPE, 4)


@pytest.mark.parametrize(("clock", "place"), [(4.0, 0.5), (7.5, 0.7), (12.0, 0.3)])
def test_gathered_light_inside_the_drop(clock, place):
    m = measure_frame(wet_petal(SHAPE, [DROP], light=spot(clock, place, 1.0, 5.0), saturation=9.0)).drops[0]
    assert m.caustic_place_share == pytest.approx(place, abs=0.02)
    assert m.caustic_clock == pytest.approx(clock, abs=0.1)
    # a bell of sigma 5 seen through the measure's own of 1.5: peak lower by 25 / (25 + 2.25)
    peak = GREY_PETAL + 1.0 * 25 / (25 + 2.25)
    assert m.caustic_stops_above_petal == pytest.approx(np.log2(peak / GREY_PETAL), abs=0.03)


def test_gathered_light_in_the_shadow_beside_the_drop():
    light = spot(3.0, 1.25, 1.5, 3.0)
    lit = shadow(3.0, 0.0, 60.0, 50.0)
    photo = wet_petal(SHAPE, [DROP], light=light, lit=lit, saturation=9.0)
    assert measure_frame(photo).drops[0].caustic_place_share == pytest.approx(1.25, abs=0.03)
    assert measure_frame(photo, light_clock=9.5).drops[0].caustic_clock == pytest.approx(3.0, abs=0.1)
    assert measure_frame(photo, light_clock=3.0).drops[0].caustic_clock is None


def test_a_shadow_without_a_bright_spot_is_no_gathered_light():
    lit = shadow(3.0, 0.0, 60.0, 50.0)
    photo = wet_petal(SHAPE, [DROP], light=GREY_PETAL * (0.1 + 0.9 * lit), lit=lit)
    assert measure_frame(photo).drops[0].caustic_place_share is None


def test_the_highlight_is_not_gathered_light():
    glint = 5.0 * coverage(ellipse((DROP[0] - 15.0, DROP[1]), (8.0, 8.0)), SHAPE)
    light = spot(3.0, 0.5, 0.6, 4.0)
    m = measure_frame(wet_petal(SHAPE, [DROP], glint=glint, light=light)).drops[0]
    assert m.caustic_clock == pytest.approx(3.0, abs=0.1)
    assert m.highlight_clock == pytest.approx(9.0, abs=0.05)


def test_another_lights_spot_does_not_pass_for_gathered_light():
    by_key, by_fill = spot(4.0, 0.5, 0.5, 4.0) - GREY_PETAL, spot(10.0, 0.5, 2.0, 4.0) - GREY_PETAL
    photo = wet_petal(SHAPE, [DROP], light=GREY_PETAL + by_key + by_fill, saturation=9.0)
    assert measure_frame(photo).drops[0].caustic_clock == pytest.approx(10.0, abs=0.1)
    fill = (0.25 * GREY_PETAL + by_fill)[..., None].repeat(3, axis=-1)
    told = measure_frame(photo, fill_linear=fill).drops[0]
    assert told.caustic_clock == pytest.approx(4.0, abs=0.1)
    assert told.caustic_stops_above_petal == pytest.approx(np.log2(0.7 / 0.2), abs=0.2)


def test_no_gathered_light_says_so():
    m = measure_frame(wet_petal(SHAPE, [DROP])).drops[0]
    assert m.caustic_place_share is None
    assert "no caustic" in m.missing["caustic_place_share"]


@pytest.mark.parametrize("clock", [1.0, 4.0, 6.5, 9.0, 12.0])
def test_direction_and_length_of_a_shadow(clock):
    lit = shadow(clock, -20.0, 75.0, 52.0)
    m = measure_frame(wet_petal(SHAPE, [DROP], lit=lit)).drops[0]
    apart = (m.shadow_clock - clock + 6.0) % 12.0 - 6.0
    assert apart == pytest.approx(0.0, abs=0.06)
    assert m.shadow_length_mm == pytest.approx((75.0 - DROP[2]) * MM_PER_PX, abs=1.5 * MM_PER_PX)


def test_a_soft_shadow_ends_where_half_of_the_light_is_back():
    right = np.arange(SHAPE[1])[None, :] + 0.5 - DROP[0]
    across = np.abs(np.arange(SHAPE[0])[:, None] + 0.5 - DROP[1])
    lit = np.where(across < 26.0, np.clip((right - 40.0) / 40.0, 0.0, 1.0), 1.0)
    lit = np.where(right > 0.0, lit, 1.0)
    m = measure_frame(wet_petal(SHAPE, [DROP], lit=lit)).drops[0]
    assert m.shadow_length_mm == pytest.approx((60.0 - DROP[2]) * MM_PER_PX, abs=MM_PER_PX)
    assert m.shadow_clock == pytest.approx(3.0, abs=0.05)


def test_a_longer_shadow_measures_longer():
    lengths = [
        measure_frame(wet_petal(SHAPE, [DROP], lit=shadow(5.0, -20.0, far, 52.0))).drops[0].shadow_length_mm
        for far in (45.0, 60.0, 80.0, 110.0)
    ]
    assert lengths == sorted(lengths)
    assert lengths[0] < 0.5 * lengths[-1]


@pytest.mark.parametrize(
    ("lit", "reason"),
    [
        (np.ones(SHAPE), "no shadow beside the drop"),
        (np.zeros(SHAPE), "the drop stands in shade"),
    ],
)
def test_no_shadow_and_all_shade(lit, reason):
    m = measure_frame(wet_petal(SHAPE, [DROP], lit=lit)).drops[0]
    assert m.shadow_clock is None
    assert m.missing["shadow_length_mm"] == reason


def test_a_shadow_that_does_not_end_in_sight_has_a_direction_alone():
    out = measure_frame(wet_petal(SHAPE, [DROP], lit=shadow(3.0, -20.0, 400.0, 52.0))).drops[0]
    assert out.shadow_clock == pytest.approx(3.0, abs=0.1)
    assert out.missing["shadow_length_mm"] == "the shadow runs out of the frame"
    other = (DROP[0] + 75.0, DROP[1], 25.0)
    into = measure_frame(wet_petal(SHAPE, [DROP, other], lit=shadow(3.0, -20.0, 90.0, 52.0))).drops[0]
    assert into.missing["shadow_length_mm"] == "the shadow runs into another drop or off the petal"


def test_of_two_shadows_the_one_opposite_to_the_light_is_its_own():
    lit = np.minimum(shadow(9.0, 20.0, 60.0, 50.0), shadow(3.0, 10.0, 45.0, 40.0))
    photo = wet_petal(SHAPE, [DROP], lit=lit)
    assert measure_frame(photo, light_clock=9.0).drops[0].shadow_clock == pytest.approx(3.0, abs=0.1)
    assert measure_frame(photo, light_clock=3.0).drops[0].shadow_clock == pytest.approx(9.0, abs=0.1)


def test_a_shadow_under_the_next_drop_is_not_guessed():
    neighbour = (DROP[0] + 58.0, DROP[1], 28.0)
    photo = wet_petal(SHAPE, [DROP, neighbour], lit=shadow(3.0, -20.0, 75.0, 52.0))
    told = measure_frame(photo, light_clock=9.0).drops[0]
    assert told.shadow_clock is None
    assert told.missing["shadow_clock"] == "no bare petal where the shadow would fall"


def test_a_petal_that_hides_part_of_a_large_light_still_shows_the_shadow():
    lit = 0.4 * shadow(4.0, -20.0, 75.0, 52.0)
    m = measure_frame(wet_petal(SHAPE, [DROP], lit=lit), light_clock=10.0).drops[0]
    assert m.shadow_clock == pytest.approx(4.0, abs=0.06)
    assert m.shadow_length_mm == pytest.approx((75.0 - DROP[2]) * MM_PER_PX, abs=1.5 * MM_PER_PX)


def test_a_lit_strip_between_rim_and_shadow_does_not_end_the_shadow():
    right = np.arange(SHAPE[1])[None, :] + 0.5 - DROP[0]
    across = np.abs(np.arange(SHAPE[0])[:, None] + 0.5 - DROP[1])
    lit = np.where((right > 0.0) & (right < 70.0) & (across < 26.0), 0.0, 1.0)
    lit = np.where((across < 12.0) & (right < DROP[2] + 5.0), 1.0, lit)
    m = measure_frame(wet_petal(SHAPE, [DROP], lit=lit), light_clock=9.0).drops[0]
    assert m.shadow_clock == pytest.approx(3.0, abs=0.05)
    assert m.shadow_length_mm == pytest.approx((70.0 - DROP[2]) * MM_PER_PX, abs=MM_PER_PX)


def test_a_shadow_with_a_lit_middle_has_no_length_rather_than_one_of_nothing():
    right = np.arange(SHAPE[1])[None, :] + 0.5 - DROP[0]
    down = np.arange(SHAPE[0])[:, None] + 0.5 - DROP[1]
    away, turn = np.hypot(right, down), np.abs(np.degrees(np.arctan2(down, right)))
    lobes = (turn > 35.0) & (turn < 75.0) & (away < 48.0)
    lit = np.where(lobes | ((turn >= 75.0) & (away < 33.0)), 0.0, 1.0)  # two lobes, joined round the back
    m = measure_frame(wet_petal(SHAPE, [DROP], lit=lit)).drops[0]
    assert m.shadow_clock == pytest.approx(3.0, abs=0.1)
    assert m.shadow_length_mm is None
    assert "no shadow along the line" in m.missing["shadow_length_mm"]
