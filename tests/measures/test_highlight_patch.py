"""The highlight of a distant round light in a sphere, against closed forms.

Sources: a mirror's normal halves the angle between light and eye (law of reflection; Hecht, Optics, ch. 4),
so the highlight lies R sin(t/2) from the drop's centre. Moving the light by dt in the plane of incidence
moves it by R/2 cos(t/2) dt; moving it across turns the plane by da/sin t: widths R a/2 cos(t/2) and
R a/2 / cos(t/2), aspect 1/cos^2(t/2). Area R^2 Omega/4 at every angle, Omega = 2 pi (1 - cos(a/2)). All but
the law of reflection is our own derivation; the drawing counts reflected rays and knows none of it.
"""

from itertools import pairwise

import numpy as np
import pytest

from lightsim.measures import measure_frame, measure_photograph
from lightsim.measures.patch_shape import RECTANGLE, ROUND
from tests.measures.drawing import GREY_PETAL, MM_PER_PX, coverage, ellipse, fresnel, sphere_glint, wet_petal

RADIUS = 200.0
SIDE = 470
CENTRE = (SIDE / 2 + 0.37, SIDE / 2 - 0.21)
DIAMETER_DEG = 10.0
BRIGHT = 20.0


def one_drop(angle_deg, clock=10.0, diameter_deg=DIAMETER_DEG, radius=RADIUS, **kinds):
    side = int(2.35 * radius)
    centre = (side / 2 + 0.37, side / 2 - 0.21)
    glint = BRIGHT * sphere_glint((side, side), centre, radius, angle_deg, clock, diameter_deg, 4)
    photo = wet_petal((side, side), [(*centre, radius)], glint=glint, **kinds)
    outline = RECTANGLE if isinstance(diameter_deg, tuple) else ROUND
    return measure_frame(photo, light_clock=clock, light_angle_deg=angle_deg, light_outline=outline).drops[0]


@pytest.fixture(scope="module", params=[20.0, 60.0, 90.0, 120.0])
def at_angle(request):
    return request.param, one_drop(request.param)


def test_place(at_angle):
    angle_deg, drop = at_angle
    assert drop.highlight_place_share == pytest.approx(np.sin(np.radians(angle_deg) / 2), abs=0.01)
    assert drop.highlight_clock == pytest.approx(10.0, abs=0.02)


def test_long_and_short_axis(at_angle):
    angle_deg, drop = at_angle
    half = np.cos(np.radians(angle_deg) / 2)
    small = RADIUS * MM_PER_PX * np.radians(DIAMETER_DEG) / 2
    assert drop.highlight_short_mm == pytest.approx(small * half, rel=0.03)
    assert drop.highlight_long_mm == pytest.approx(small / half, rel=0.03)


def test_aspect_and_direction(at_angle):
    angle_deg, drop = at_angle
    assert drop.highlight_aspect == pytest.approx(1 / np.cos(np.radians(angle_deg) / 2) ** 2, rel=0.01)
    if angle_deg >= 60.0:  # across the way to the light, which stands at 10 o'clock: 60 degrees
        assert drop.highlight_orientation_deg == pytest.approx(60.0, abs=0.5)
    else:
        assert drop.missing["highlight_orientation_deg"] == "the highlight is round"


def test_area_is_the_same_at_every_angle(at_angle):
    _, drop = at_angle
    omega = 2 * np.pi * (1 - np.cos(np.radians(DIAMETER_DEG / 2)))
    area = RADIUS**2 * omega / 4
    assert drop.highlight_area_px == pytest.approx(area, rel=0.01)
    assert drop.highlight_area_mm2 == pytest.approx(area * MM_PER_PX**2, rel=0.01)
    assert drop.highlight_disc_share == pytest.approx(omega / (4 * np.pi), rel=0.01)


def test_stops_above_the_petal_follow_fresnel(at_angle):
    # Hecht, Optics, ch. 4: reflectance at incidence t/2: 0.0204 in front, 0.0597 at 120 degrees. 4 %: the
    # reflectance rises over the highlight, and its brighter side counts.
    angle_deg, drop = at_angle
    mirrored = BRIGHT * fresnel(np.cos(np.radians(angle_deg) / 2))
    expected = np.log2((GREY_PETAL + mirrored) / GREY_PETAL)
    assert drop.highlight_stops_above_petal == pytest.approx(expected, abs=0.2)


@pytest.mark.parametrize("clock", [1.0, 3.0, 4.5, 6.0, 9.0, 12.0])
def test_the_highlight_stands_toward_the_light(clock):
    drop = one_drop(60.0, clock, radius=40.0)
    apart = (drop.highlight_clock - clock + 6.0) % 12.0 - 6.0
    assert apart == pytest.approx(0.0, abs=0.02)


def test_light_from_the_lens_leaves_clock_and_direction_empty():
    drop = one_drop(0.0, radius=60.0)
    assert drop.highlight_clock is None
    assert drop.missing["highlight_clock"] == "the highlight is in the middle of the drop"
    assert drop.highlight_place_share == pytest.approx(0.0, abs=0.01)
    assert drop.highlight_aspect == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("angle_deg", [20.0, 60.0, 90.0, 120.0])
def test_small_drops_keep_place_and_lose_size_gently(angle_deg):
    drop = one_drop(angle_deg, radius=40.0)
    half = np.cos(np.radians(angle_deg) / 2)
    small = 40.0 * MM_PER_PX * np.radians(DIAMETER_DEG) / 2
    assert drop.highlight_place_share == pytest.approx(np.sin(np.radians(angle_deg) / 2), abs=0.01)
    assert drop.highlight_short_mm == pytest.approx(small * half, rel=0.06)
    assert drop.highlight_long_mm == pytest.approx(small / half, rel=0.06)


@pytest.mark.parametrize(("radius", "allowed"), [(200.0, 0.01), (40.0, 0.03)])
@pytest.mark.parametrize("angle_deg", [20.0, 75.0, 120.0])
def test_a_rectangular_light_has_its_full_widths(angle_deg, radius, allowed):
    # The mirror's widths, R a/2 cos(t/2) and R b/2 / cos(t/2), hold of the sides of a rectangle too. Axes by
    # second moments, 4 standard deviations, would be 2/sqrt(3) = 1.155 times as long.
    drop = one_drop(angle_deg, diameter_deg=(8.0, 12.0), radius=radius)
    half = np.cos(np.radians(angle_deg) / 2)
    size = radius * MM_PER_PX * np.radians([8.0 * half, 12.0 / half]) / 2
    assert drop.highlight_short_mm == pytest.approx(size[0], rel=allowed)
    assert drop.highlight_long_mm == pytest.approx(size[1], rel=allowed)
    assert drop.highlight_area_px == pytest.approx(size.prod() / MM_PER_PX**2, rel=2 * allowed)


@pytest.mark.parametrize("diameter_deg", [10.0, (8.0, 12.0)])
def test_a_real_photograph_tells_the_form_by_the_area(diameter_deg):
    side = 470
    glint = BRIGHT * sphere_glint((side, side), CENTRE, RADIUS, 60.0, 10.0, diameter_deg, 4)
    seen = measure_photograph(0.2 + glint, MM_PER_PX, [(*CENTRE, RADIUS)], light_clock=10.0).drops[0]
    known = one_drop(60.0, diameter_deg=diameter_deg)
    assert seen.highlight_long_mm == pytest.approx(known.highlight_long_mm, rel=0.05)
    assert seen.highlight_short_mm == pytest.approx(known.highlight_short_mm, rel=0.05)


def test_a_wide_light_bends_the_highlight_as_a_ray_count_says():
    # alpha 60 deg at 120 deg: the small-light form gives 4; the aspect counted over reflected rays is 3.76.
    drop = one_drop(120.0, diameter_deg=60.0)
    assert drop.highlight_aspect == pytest.approx(3.76, abs=0.04)
    area = RADIUS**2 * 2 * np.pi * (1 - np.cos(np.radians(30.0))) / 4
    assert drop.highlight_area_px == pytest.approx(area, rel=0.01)


def test_a_larger_light_grows_the_highlight():
    sizes = [one_drop(60.0, diameter_deg=d, radius=60.0) for d in (6.0, 12.0, 24.0, 48.0)]
    for small, large in pairwise(sizes):
        assert large.highlight_area_mm2 > 3.5 * small.highlight_area_mm2
        assert large.highlight_long_mm > 1.8 * small.highlight_long_mm


def test_the_picture_at_twice_the_size_gives_the_same_shares():
    small, large = one_drop(75.0, radius=80.0), one_drop(75.0, radius=160.0)
    for key in ("highlight_disc_share", "highlight_aspect", "highlight_place_share"):
        assert getattr(large, key) == pytest.approx(getattr(small, key), rel=0.02)
    assert large.highlight_long_mm == pytest.approx(2 * small.highlight_long_mm, rel=0.02)


def test_clipping_changes_its_share_and_nothing_else():
    free, clipped = one_drop(60.0, radius=60.0, saturation=100.0), one_drop(60.0, radius=60.0, saturation=0.3)
    assert free.highlight_clipped_share == 0.0
    assert clipped.highlight_clipped_share == pytest.approx(1.0, abs=0.05)
    assert clipped.highlight_long_mm == free.highlight_long_mm
    assert clipped.highlight_area_px == free.highlight_area_px


def test_a_drop_without_an_image_of_the_key_says_so():
    photo = wet_petal((100, 100), [(50.0, 50.0, 20.0)])
    drop = measure_frame(photo).drops[0]
    assert drop.highlight_long_mm is None
    assert drop.missing["highlight_long_mm"] == "no image of the key in this drop"
    behind = measure_frame(photo, light_angle_deg=150.0).drops[0]
    assert behind.missing["highlight_area_px"].endswith("it stands behind the subject")


def test_a_neighbours_highlight_is_not_taken():
    glint = 0.5 * coverage(ellipse((75.0, 50.0), (8.0, 8.0)), (100, 140))
    photo = wet_petal((100, 140), [(40.0, 50.0, 20.0), (81.0, 50.0, 20.0)], glint=glint)
    first, second = measure_frame(photo).drops
    assert first.highlight_area_px is None
    assert second.highlight_area_px == pytest.approx(np.pi * 16, rel=0.05)
    assert second.highlight_clock == pytest.approx(9.0, abs=0.01)
