"""The small plan of where the light stands."""

from __future__ import annotations

from math import atan2, cos, degrees, hypot, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.report.drawing.grey_card import ACCENT
from lightsim.report.drawing.plan_icon import (
    ASPECT,
    CLOCK_CENTRE,
    CLOCK_RADIUS,
    PLAN_CENTRE,
    PLAN_RADIUS,
    clock_place,
    plan_icon,
    plan_place,
)

HEIGHT = 240


def amber_centre(icon: np.ndarray, left: float, right: float) -> tuple[float, float]:
    """Middle of the solid amber disc between two columns, in units of the height.

    Erosion by a square of a fifteenth of the height leaves the disc and takes away hand and beam.
    """
    from scipy.ndimage import binary_opening

    part = icon[:, int(left * HEIGHT) : int(right * HEIGHT)]
    amber = np.all(np.abs(part[..., :3].astype(int) - ACCENT) < 12, axis=-1)
    disc = binary_opening(amber, np.ones((HEIGHT // 12, HEIGHT // 12)))
    rows, columns = np.nonzero(disc)
    return columns.mean() / HEIGHT + left + 0.5 / HEIGHT, rows.mean() / HEIGHT + 0.5 / HEIGHT


@pytest.mark.parametrize("angle_deg", [0, 30, 75, 90, 120, 180])
@pytest.mark.parametrize(("clock", "side"), [(10, -1), (3, 1), (12, 1), (6, 1)])
def test_the_light_is_drawn_at_its_angle_on_its_side(angle_deg: float, clock: float, side: int) -> None:
    icon = np.asarray(plan_icon(angle_deg, clock, HEIGHT))
    x, y = amber_centre(icon, 0.0, 1.0)
    dx, dy = x - PLAN_CENTRE[0], y - PLAN_CENTRE[1]
    # seen from above, the lens below the flower: an angle off the lens axis counts from straight down
    assert hypot(dx, dy) == pytest.approx(PLAN_RADIUS, abs=0.02)
    assert side * dx > -0.01
    assert abs(degrees(atan2(side * dx, dy))) == pytest.approx(angle_deg, abs=2.0)


@pytest.mark.parametrize("clock", [1, 3, 6, 8.5, 10, 12])
def test_the_dot_stands_at_its_hour(clock: float) -> None:
    icon = np.asarray(plan_icon(75, clock, HEIGHT))
    x, y = amber_centre(icon, 0.96, ASPECT)
    dx, dy = x - CLOCK_CENTRE[0], y - CLOCK_CENTRE[1]
    # a clock's hand turns 30 degrees an hour, clockwise from the top
    assert hypot(dx, dy) == pytest.approx(CLOCK_RADIUS, abs=0.02)
    assert dx == pytest.approx(CLOCK_RADIUS * sin(radians(30 * clock)), abs=0.02)
    assert -dy == pytest.approx(CLOCK_RADIUS * cos(radians(30 * clock)), abs=0.02)


@pytest.mark.parametrize("angle_deg", [0, 180])
def test_on_the_lens_axis_the_hour_has_no_meaning(angle_deg: float) -> None:
    assert clock_place(angle_deg, 10) == CLOCK_CENTRE


@given(st.floats(0, 360), st.floats(0.01, 12), st.floats(0.3, 1))
def test_the_light_stays_on_its_circle_and_the_plan_in_its_plate(
    angle_deg: float, clock: float, ring: float
) -> None:
    x, y = plan_place(angle_deg, clock, ring)
    assert hypot(x - PLAN_CENTRE[0], y - PLAN_CENTRE[1]) == pytest.approx(ring * PLAN_RADIUS)
    assert 0.1 < x < 0.9
    assert 0.1 < y < 0.9


def test_beyond_180_degrees_the_light_stands_on_the_other_side() -> None:
    assert plan_place(285, 3) == pytest.approx(plan_place(75, 9))
    assert clock_place(285, 3) == pytest.approx(clock_place(75, 9))


def test_a_nearer_light_is_drawn_nearer() -> None:
    near = amber_centre(np.asarray(plan_icon(90, 3, HEIGHT, ring=0.6)), 0.0, 1.0)
    assert near[0] - PLAN_CENTRE[0] == pytest.approx(0.6 * PLAN_RADIUS, abs=0.02)


def test_size_and_see_through_corners() -> None:
    icon = plan_icon(75, 10, 100)
    assert icon.size == (round(100 * ASPECT), 100)
    assert icon.mode == "RGBA"
    assert icon.getpixel((0, 0))[3] == 0
    assert icon.getpixel((50, 4))[3] == 255
