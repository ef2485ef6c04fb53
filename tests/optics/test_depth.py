"""Depth of field: Conrad, Depth of Field in Depth; van Walree, Derivation of the depth of field equations."""

from math import hypot, inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.optics.airy import airy_diameter_um
from lightsim.optics.depth import (
    circle_of_confusion_mm,
    close_up_depth_mm,
    defocus_blur_mm,
    depth_of_field,
    focus_stack,
    sharpest_effective_f_number,
    total_blur_mm,
)
from lightsim.optics.exposure_values import effective_f_number


# 2 N c (1 + m/P) / m^2, mm.
@pytest.mark.parametrize(
    ("n", "circle", "m", "ratio", "total"),
    [
        (8, 0.03, 1, 1, 0.96),
        (16, 0.03, 1, 1, 1.92),
        (22, 0.03, 0.5, 1, 7.92),
        (11, 0.02, 0.5, 1.4, 2.388571),
        (16, 0.03, 2, 1, 0.72),
        (16, 0.03, 1, 0.5, 2.88),
    ],
)
def test_close_up_form(n, circle, m, ratio, total):
    assert close_up_depth_mm(effective_f_number(n, m, ratio), m, circle) == pytest.approx(total, abs=1e-5)
    # The exact form comes to the same, u = f (1/m + 1/P), D = f / N, f = 100 mm.
    exact = depth_of_field(100 * (1 / m + 1 / ratio), 100 / n, m, circle)
    assert exact.total_mm == pytest.approx(total, rel=2e-3)


def test_exact_form():
    near_far = depth_of_field(300, 100 / 22, 0.5, 0.03)
    assert near_far == pytest.approx((3.908409, 4.012971), abs=1e-5)
    # Where the approximation fails by 1.8 %: f = 50 mm, f/22, m = 0.1.
    assert depth_of_field(550, 50 / 22, 0.1, 0.03).total_mm == pytest.approx(147.774829, abs=1e-5)
    assert close_up_depth_mm(22 * 1.1, 0.1, 0.03) == pytest.approx(145.2)


def test_far_end_at_infinity():
    assert depth_of_field(1050, 50 / 22, 0.01, 0.03).far_mm == inf


@given(st.floats(50, 500), st.floats(1, 30), st.floats(0.2, 5), st.floats(0.005, 0.05))
def test_a_point_at_either_end_is_blurred_to_the_circle(distance, diameter, m, circle):
    ends = depth_of_field(distance, diameter, m, circle)
    assert defocus_blur_mm(distance, diameter, m, ends.near_mm) == pytest.approx(circle)
    if ends.far_mm != inf:
        assert defocus_blur_mm(distance, diameter, m, -ends.far_mm) == pytest.approx(circle)


@given(st.floats(0.1, 10), st.floats(0.3, 5))
def test_sharpest_f_number_is_the_least_blurred(depth_mm, m):
    def blur(n_eff: float) -> float:
        return total_blur_mm(m**2 * depth_mm / 2 / n_eff, n_eff)

    best = sharpest_effective_f_number(depth_mm, m)
    assert blur(best) <= min(blur(best * 0.97), blur(best * 1.03))
    # There both discs are equally large.
    assert blur(best) == pytest.approx(hypot(1, 1) * float(airy_diameter_um(best)) / 1000)


# ceil((T - d) / (d (1 - overlap))) + 1, counted.
@pytest.mark.parametrize(
    ("depth", "frame", "overlap", "frames"), [(5, 0.64, 0.2, 10), (3, 0.168, 0.25, 24), (0.5, 0.64, 0.2, 1)]
)
def test_focus_stack(depth, frame, overlap, frames):
    stack = focus_stack(depth, frame, overlap)
    assert stack.frames == frames
    assert frame + (stack.frames - 1) * stack.step_mm >= depth - 1e-9
    assert stack.frames == 1 or frame + (stack.frames - 2) * stack.step_mm < depth


# Diagonals of common sensor sizes; circle = diagonal / 1500 is common practice, no source.
@pytest.mark.parametrize(
    ("sensor", "diagonal"), [((36, 24), 43.26662), ((17.3, 13.0), 21.64001), ((13.2, 8.8), 15.86443)]
)
def test_circle_of_confusion(sensor, diagonal):
    assert circle_of_confusion_mm(sensor) * 1500 == pytest.approx(diagonal, abs=1e-3)
