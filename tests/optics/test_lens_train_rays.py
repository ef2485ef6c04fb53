"""Rays traced one by one through lens trains of every kind meet where the train says that the image is."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from lightsim.errors import SceneError
from lightsim.optics.lens_records import StackedLens
from lightsim.optics.lens_train import LensTrain

stacked = st.builds(StackedLens, st.floats(24, 135), st.sampled_from([None, 2.0, 8.0]), st.floats(0.6, 1.8))
trains = st.fixed_dictionaries(
    {
        "focal_length_mm": st.floats(20, 200),
        "f_number": st.sampled_from([2.8, 5.6, 11.0, 22.0]),
        "native_magnification": st.just(0.0) | st.floats(0.02, 2.0),
        "focal_length_close_mm": st.none() | st.floats(20, 200),
        "pupil_ratio": st.floats(0.6, 2.5),
        "close_up_dioptres": st.lists(st.floats(0.5, 25), max_size=3).map(tuple),
        "close_up_spacing_mm": st.floats(0, 10),
        "extension_tubes_mm": st.lists(st.floats(1, 80), max_size=2).map(tuple),
        "teleconverter": st.sampled_from([1.0, 1.0, 1.4, 2.0]),
        "teleconverter_on": st.sampled_from(["camera", "lens"]),
        "reversed": st.booleans(),
        "stacked": st.none() | stacked,
    }
)


def made(figures):
    """A train of those figures, if there is one."""
    try:
        return LensTrain(**figures)
    except SceneError:
        assume(False)
        raise


def traced(train, height, slope):
    """Height and slope at the sensor of a ray from the plane of sharp focus, lens by lens: straight through
    free space, bent by height over focal length (Hecht, Optics, ch. 6)."""
    at = -train.working_distance_mm
    for element in train.chain.elements:
        height += slope * (element.place_mm - at)
        slope -= height / element.focal_length_mm
        at = element.place_mm + element.planes_apart_mm
    return height + slope * (train.chain.sensor_mm - at), slope


@given(trains)
def test_rays_from_a_point_meet_on_the_sensor_as_far_out_as_the_magnification_says(figures):
    train = made(figures)
    size = 1.0 + abs(train.chain.sensor_mm) + train.working_distance_mm
    for slope in (-0.2, 0.0, 0.2):
        assert traced(train, 0.0, slope)[0] == pytest.approx(0.0, abs=1e-7 * size * (1 + train.magnification))
        assert traced(train, 1.0, slope)[0] == pytest.approx(
            -train.magnification, abs=1e-7 * size * (1 + train.magnification)
        )


@given(trains)
def test_the_cone_on_the_sensor_is_the_effective_f_number(figures):
    # The ray to the pupil's edge arrives with a slope of 1 / (2 N_eff): the same cone, counted from behind.
    train = made(figures)
    slope = train.magnification / (2 * train.effective_f_number)
    assert abs(traced(train, 0.0, slope)[1]) == pytest.approx(1 / (2 * train.effective_f_number), rel=1e-6)


@given(trains)
def test_the_ray_through_the_pupil_s_middle_goes_through_the_stop_s(figures):
    train = made(figures)
    distance = train.pupil_distance_mm
    assume(abs(distance) < 1e5)
    stop = train.chain.aperture_stop
    height, slope, at = 1.0, -1.0 / distance, -train.working_distance_mm
    for element in train.chain.elements:
        height += slope * (element.place_mm - at)
        at = element.place_mm
        if element is stop:
            break
        slope -= height / element.focal_length_mm
        at = element.place_mm + element.planes_apart_mm
    assert height + slope * stop.stop.behind_mm == pytest.approx(0.0, abs=1e-6 * (1 + abs(height)) * 100)
