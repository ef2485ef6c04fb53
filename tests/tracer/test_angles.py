"""Angles of points in a plane, held against the mathematical library."""

from __future__ import annotations

from math import atan2, pi

import numpy as np
import pytest

from lightsim.tracer.kernels import angles
from tests.tracer.inner import Room

angle_of = Room(angles).angle_of


def test_angles_are_those_of_the_mathematical_library():
    for turn in np.linspace(-pi, pi, 4001):
        for size in (1e-9, 1.0, 1e6):
            x, y = size * np.cos(turn), size * np.sin(turn)
            assert angle_of(y, x) == pytest.approx(atan2(y, x), abs=3e-8)


def test_the_origin_has_an_angle():
    assert angle_of(0.0, 0.0) == 0.0
