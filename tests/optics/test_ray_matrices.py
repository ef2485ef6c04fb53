"""Chains of thin elements against worked two-lens examples and the laws of ray-transfer matrices."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.optics.ray_matrices import Chain, Element, Stop


def chain(first, second, apart, image):
    """Two thin lenses and a sensor; mm."""
    return Chain((Element("1", 0.0, first), Element("2", apart, second)), apart + image)


@pytest.mark.parametrize(
    ("first", "second", "apart", "subject", "image", "m"),
    [
        # Hecht, Optics, ch. 5, thin-lens combinations: 30 cm and 50 cm, 20 cm apart, subject at 50 cm: image
        # 26.2 cm behind, -0.72 times (from memory; 1/75 = 1/30 - 1/50, then 1/26.19 = 1/50 + 1/55).
        (300.0, 500.0, 200.0, 500.0, 261.905, 0.714),
        # Serway and Faughn, College Physics, ch. 23, a problem on two lenses: 20 cm and 5 cm, 50 cm apart,
        # subject at 40 cm: 10.0 cm behind the second, +1.00 (upright, hence negative here).
        (200.0, 50.0, 500.0, 400.0, 100.0, -1.00),
        # A school problem, source not known, worked by hand: 20 cm and 10 cm, 10 cm apart, subject at 10 cm:
        # 15 cm behind the second, as large as the subject and upside down.
        (200.0, 100.0, 100.0, 100.0, 150.0, 1.00),
    ],
)
def test_two_lenses_as_textbooks_work_them(first, second, apart, subject, image, m):
    made = chain(first, second, apart, image)
    assert made.working_distance_mm == pytest.approx(subject, abs=0.02)
    assert made.magnification == pytest.approx(m, abs=0.0005)


@given(st.floats(20, 300), st.floats(20, 300), st.floats(0, 100), st.floats(50, 500))
def test_focal_length_of_two_lenses(first, second, apart, image):
    # 1/f = 1/f1 + 1/f2 - d/(f1 f2), Hecht, Optics, ch. 6; and the determinant is 1 in air.
    made = chain(first, second, apart, image)
    power = 1 / first + 1 / second - apart / (first * second)
    if abs(power) > 1e-6:
        assert 1 / made.focal_length_mm == pytest.approx(power, rel=1e-6, abs=1e-12)
    assert np.linalg.det(made.matrix) == pytest.approx(1.0)


@given(st.floats(20, 300), st.floats(-30, 30), st.floats(1.1, 5))
def test_principal_planes_apart_move_the_sensor_alone(focal, apart, share):
    thin = Chain((Element("1", 10.0, focal),), 10.0 + share * focal)
    thick = Chain((Element("1", 10.0, focal, apart),), 10.0 + apart + share * focal)
    assert thick.matrix == pytest.approx(thin.matrix)


def test_a_stop_is_seen_through_the_lens_before_it():
    # A stop half the focal length behind a lens: 1/x = 1/50 - 1/100, 100 mm behind it and twice as large.
    # Hecht, Optics, ch. 5, on entrance pupils.
    made = Chain((Element("1", 0.0, 100.0), Element("2", 50.0, 400.0, stop=Stop(0.0, 10.0))), 200.0)
    assert made.pupil == pytest.approx((100.0, 20.0))
