"""The lens train: textbook thin lenses (Ray, Applied Photographic Optics; Hecht, Optics, ch. 5), pupils
by Conrad and van Walree, the light lost to extension by ISO 12232 for a pupil ratio of 1."""

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.errors import SceneError
from lightsim.optics.airy import object_aperture
from lightsim.optics.depth import sharpest_effective_f_number
from lightsim.optics.lens_figures import lens_contrast, sharpest_f_number, train_figures
from lightsim.optics.lens_forms import (
    close_up_focal_length_mm,
    close_up_magnification,
    conjugates_mm,
    effective_f_number,
    extended_magnification,
    extension_stops,
    reversed_effective_f_number,
)
from lightsim.optics.lens_train import LensTrain
from lightsim.scene.records import CameraGeometry


def test_extension():
    assert extended_magnification(0.15, 25, 50) == pytest.approx(0.65, abs=1e-12)


@pytest.mark.parametrize(
    ("f", "m", "u", "v"), [(100, 1, 200, 200), (100, 0.5, 300, 150), (60, 0.25, 300, 75)]
)
def test_conjugates(f, m, u, v):
    assert conjugates_mm(f, m) == pytest.approx((u, v))
    assert 1 / u + 1 / v == pytest.approx(1 / f)


def test_close_up_lens():
    # +5 on 100 mm at infinity: half life size at 200 mm, 66.7 mm combined.
    assert close_up_magnification(0, 100, 5) == pytest.approx(0.5, abs=1e-12)
    assert close_up_focal_length_mm(100, 5) == pytest.approx(66.6666667, abs=1e-6)
    train = LensTrain(focal_length_mm=100, native_magnification=0, close_up_dioptres=5)
    assert train.subject_distance_mm == pytest.approx(200)
    # No light is lost: agreed by all who write about them.
    assert train.effective_f_number == pytest.approx(train.exact_f_number)
    assert train.light_lost_stops == 0


def test_close_up_lens_on_a_focused_lens():
    train = LensTrain(focal_length_mm=50, native_magnification=0.1, close_up_dioptres=4)
    assert train.magnification == pytest.approx(0.32, abs=1e-12)
    assert train.combined_focal_length_mm == pytest.approx(41.6666667, abs=1e-6)
    assert train.subject_distance_mm == pytest.approx(171.875, abs=1e-6)
    assert train.effective_f_number / train.exact_f_number == pytest.approx(1.1, abs=1e-12)


@pytest.mark.parametrize(
    ("n", "m", "ratio", "expected"),
    [(8, 1, 1, 16), (16, 0.5, 1, 24), (16, 1, 0.5, 48), (11, 0.5, 1.4, 14.9285714)],
)
def test_effective_f_number(n, m, ratio, expected):
    assert effective_f_number(n, m, ratio) == pytest.approx(expected, abs=1e-6)


def test_effective_f_number_reversed():
    assert reversed_effective_f_number(8, 2, 0.8) == pytest.approx(26.0, abs=1e-9)


@pytest.mark.parametrize(("m", "ratio", "stops"), [(1, 1, 2.0), (0.5, 1, 1.169925), (1, 0.5, 3.169925)])
def test_light_lost(m, ratio, stops):
    assert extension_stops(m, ratio) == pytest.approx(stops, abs=1e-6)


def test_tubes_add_up():
    one = LensTrain(focal_length_mm=50, native_magnification=0.15, extension_tubes_mm=(25.0,))
    three = LensTrain(focal_length_mm=50, native_magnification=0.15, extension_tubes_mm=(5.0, 8.0, 12.0))
    assert one.magnification == three.magnification == pytest.approx(0.65)


def test_half_life_size_shows_twice_the_sensor():
    geometry = LensTrain(native_magnification=0.5).geometry()
    assert geometry.field_width_mm == pytest.approx(72)
    assert geometry.field_width_mm / geometry.aspect == pytest.approx(48)


def test_focal_length_that_shrinks_close_up():
    # 75 mm left of 100 mm at life size: the subject at 2 f, and tubes counted on the shorter length.
    train = LensTrain(focal_length_mm=100, focal_length_close_mm=75, extension_tubes_mm=(25.0,))
    assert train.magnification == pytest.approx(1 + 25 / 75)
    bare = LensTrain(focal_length_mm=100, focal_length_close_mm=75)
    assert bare.subject_distance_mm == pytest.approx(150)
    assert "closest focus given" in train_figures(bare).model


def test_working_distance_from_the_glass():
    # The lens by itself has 140 mm free at life size, 60 mm less than from its principal plane.
    bare = LensTrain(focal_length_mm=100, native_working_distance_mm=140)
    assert bare.working_distance_mm == pytest.approx(140)
    longer = LensTrain(focal_length_mm=100, native_working_distance_mm=140, extension_tubes_mm=(50.0,))
    assert longer.working_distance_mm == pytest.approx(100 * (1 + 1 / 1.5) - 60)


@given(
    st.floats(20, 200),
    st.floats(0.05, 3),
    st.floats(0, 100),
    st.floats(0, 8),
    st.floats(0.6, 2.5),
    st.sampled_from([2.8, 5.6, 11, 22]),
)
def test_the_cones_on_both_sides_of_the_lens_agree(focal, native, tube, dioptres, ratio, f_number):
    # The paraxial invariant: pupil radius / pupil distance at the subject is m / (2 N_eff), whatever stands
    # between.
    train = LensTrain(
        focal_length_mm=focal,
        native_magnification=native,
        extension_tubes_mm=(tube,),
        close_up_dioptres=dioptres,
        pupil_ratio=ratio,
        f_number=f_number,
    )
    geometry = train.geometry()
    cone = object_aperture(train.effective_f_number, train.magnification)
    assert geometry.pupil_radius_mm / geometry.pupil_distance_mm == pytest.approx(cone, rel=1e-9)


@given(st.floats(20, 200), st.floats(0.05, 3), st.floats(0.3, 3))
def test_pupil_distance_without_a_close_up_lens(focal, native, ratio):
    # u = f (1/m + 1/P), van Walree.
    train = LensTrain(focal_length_mm=focal, native_magnification=native, pupil_ratio=ratio)
    assert train.pupil_distance_mm == pytest.approx(focal * (1 / native + 1 / ratio))


@given(st.floats(0.05, 3), st.floats(0, 100), st.floats(0.1, 50))
def test_more_extension_means_larger_nearer_darker(native, tube, more):
    short = LensTrain(native_magnification=native, extension_tubes_mm=(tube,))
    long = LensTrain(native_magnification=native, extension_tubes_mm=(tube, more))
    assert long.magnification > short.magnification
    assert long.subject_distance_mm < short.subject_distance_mm
    assert long.light_lost_stops > short.light_lost_stops
    assert long.depth.total_mm < short.depth.total_mm


def test_figures_of_a_life_size_set():
    # f/16 at life size, 0.03 mm circle: N_eff 32, depth 1.92 mm, Airy disc 42.93 um at 550 nm, cut-off
    # 56.82 per mm.
    figures = train_figures(LensTrain(f_number=16, circle_mm=0.03))
    assert figures.effective_f_number == pytest.approx(32)
    assert figures.depth_of_field_approximate_mm == pytest.approx(1.92, abs=1e-5)
    assert figures.depth_of_field_mm == pytest.approx(1.92, abs=1e-3)
    assert figures.airy_diameter_um == pytest.approx(42.93238, abs=1e-3)
    assert figures.cut_off_per_mm == pytest.approx(56.81818, abs=1e-3)
    assert figures.subject_pixel_um == pytest.approx(6.0)
    assert figures.limited_by == "diffraction"
    assert figures.resolved_detail_um == pytest.approx(42.93238 / 2, abs=1e-3)
    assert figures.trust


def test_pixels_limit_a_wide_aperture():
    figures = train_figures(LensTrain(f_number=2.8, native_magnification=0.1))
    assert figures.limited_by == "pixels"
    assert figures.resolved_detail_um == pytest.approx(2 * figures.subject_pixel_um)


def test_contrast_of_a_lens():
    lens = LensTrain(f_number=16, sensor_px=(6000, 4000))
    # In focus: diffraction at half the cut-off, 0.391 (Goodman), times the 6 um pixel's sinc.
    half = train_figures(lens).cut_off_per_mm / 2
    assert lens_contrast(lens, half) == pytest.approx(0.3910022 * np.sinc(half * 0.006), abs=1e-6)
    # At the end of the depth of field the disc is the circle of confusion: no contrast at 1.22 / circle
    # (Hecht, ch. 10).
    edge = lens.depth.near_mm
    assert lens_contrast(lens, 1.2196699 / lens.circle_of_confusion_mm, edge) == pytest.approx(0, abs=1e-6)
    assert lens_contrast(lens, 20, edge) < lens_contrast(lens, 20)


@given(st.floats(0.2, 8), st.floats(0.3, 3))
def test_sharpest_f_number_for_a_depth(depth_mm, native):
    lens = LensTrain(native_magnification=native)
    best = sharpest_f_number(lens, depth_mm)
    assert effective_f_number(best, native) == pytest.approx(sharpest_effective_f_number(depth_mm, native))


def test_geometry_has_what_the_scene_needs():
    geometry = LensTrain().geometry()
    assert geometry._fields == tuple(field.name for field in fields(CameraGeometry))
    assert CameraGeometry(*geometry).field_width_mm == 36.0


@pytest.mark.parametrize(
    ("figures", "sentence"),
    [
        ({"focal_length_mm": -5}, "lens.focal_length_mm: found -5, allowed a number over 0"),
        ({"f_number": 0.3}, "camera.f_number: found 0.3, allowed 0.5 or more"),
        (
            {"f_number": 2, "widest_f_number": 2.8},
            "camera.f_number: found 2, allowed 2.8 (the widest) or more",
        ),
        ({"extension_tubes_mm": (12, -3)}, "lens.extension_tubes_mm[1]: found -3, allowed 0 or more"),
        ({"close_up_dioptres": -1}, "lens.close_up_dioptres: found -1, allowed 0 or more"),
        ({"pupil_ratio": 0}, "lens.pupil_ratio: found 0, allowed a number over 0"),
        ({"pupil_ratio": float("nan")}, "lens.pupil_ratio: found nan, allowed a number over 0"),
        ({"sensor_mm": (36, 0)}, "camera.sensor_mm: found [36, 0], allowed two lengths over 0"),
        ({"sensor_px": (6000, -1)}, "camera.sensor_px: found [6000, -1], allowed two whole numbers over 0"),
        (
            {"native_magnification": 0},
            "lens.native_magnification: found 0 without tubes or close-up lens, allowed more than 0",
        ),
        (
            {"native_working_distance_mm": 30, "extension_tubes_mm": (100, 100)},
            "lens.extension_tubes_mm: found a length of 200 mm, with which the subject would be inside the "
            "lens, allowed less",
        ),
        (
            {"pupil_ratio": 0.3, "close_up_dioptres": 8},
            "lens.close_up_dioptres: found 8, allowed less than 4.3 with this focal length and pupil ratio",
        ),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(figures, sentence):
    with pytest.raises(SceneError) as caught:
        LensTrain(**figures)
    assert caught.value.problems == [sentence]


def test_all_that_is_wrong_is_said_at_once():
    with pytest.raises(SceneError) as caught:
        LensTrain(focal_length_mm=0, f_number=0.1, extension_tubes_mm=(-1,))
    assert len(caught.value.problems) == 3
