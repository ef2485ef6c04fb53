"""Half-circle of angles and clock ring."""

from __future__ import annotations

from math import atan2, cos, degrees, hypot, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.report.drawing.light_direction import (
    ASPECT,
    clock_ring_place,
    draw_direction,
    half_circle_place,
)
from lightsim.report.drawing.sheet_of_paper import Sheet
from lightsim.report.theme import GROUNDS, theme_for

from .page_checks import check_legible

CENTRE = (30.0, 40.0)


@pytest.mark.parametrize("angle_deg", [0, 30, 75, 90, 120, 180])
@pytest.mark.parametrize(("clock", "side"), [(10, -1), (3, 1), (12, 1), (6, 1)])
def test_the_light_is_drawn_at_its_angle_on_its_side(angle_deg: float, clock: float, side: int) -> None:
    x, y = half_circle_place(angle_deg, clock, CENTRE, 10.0)
    dx, dy = x - CENTRE[0], y - CENTRE[1]
    # the lens stands below the flower: an angle off the lens axis counts from straight down
    assert hypot(dx, dy) == pytest.approx(10.0)
    assert side * dx > -1e-9
    assert abs(degrees(atan2(side * dx, dy))) == pytest.approx(angle_deg)


@pytest.mark.parametrize("clock", [1, 3, 6, 8.5, 10, 12])
def test_the_hand_points_at_its_hour(clock: float) -> None:
    x, y = clock_ring_place(75.0, clock, CENTRE, 5.0)
    # a clock's hand turns 30 degrees an hour, clockwise from the top
    assert x - CENTRE[0] == pytest.approx(5.0 * sin(radians(30.0 * clock)))
    assert CENTRE[1] - y == pytest.approx(5.0 * cos(radians(30.0 * clock)))


@pytest.mark.parametrize("angle_deg", [0, 180])
def test_on_the_lens_axis_the_hour_has_no_meaning(angle_deg: float) -> None:
    assert clock_ring_place(angle_deg, 10, CENTRE, 5.0) == CENTRE


def test_beyond_180_degrees_the_light_stands_on_the_other_side() -> None:
    assert half_circle_place(285, 3, CENTRE, 5.0) == pytest.approx(half_circle_place(75, 9, CENTRE, 5.0))
    assert clock_ring_place(285, 3, CENTRE, 5.0) == pytest.approx(clock_ring_place(75, 9, CENTRE, 5.0))


@given(st.floats(0, 360), st.floats(0.01, 12), st.sampled_from(GROUNDS))
def test_all_stays_in_its_box_and_is_legible(angle_deg: float, clock: float, ground: str) -> None:
    sheet = Sheet.blank(60.0, 40.0, theme_for(ground))
    draw_direction(sheet, 10.0, 10.0, 12.0, angle_deg, clock)
    for artist in sheet.axes.get_children():
        if hasattr(artist, "get_xy") and not hasattr(artist, "get_width"):
            points = artist.get_xy()
        elif hasattr(artist, "get_xydata"):
            points = artist.get_xydata()
        else:
            continue
        assert points[:, 0].min() >= 10.0 - 0.6
        assert points[:, 0].max() <= 10.0 + ASPECT * 12.0 + 1.0
        assert points[:, 1].min() >= 10.0 - 1.2
        assert points[:, 1].max() <= 22.0 + 1.2
    check_legible(sheet)
