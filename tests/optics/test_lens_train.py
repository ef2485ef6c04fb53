"""The lens train as a chain of elements, held against a matrix product worked out here, against thin lenses
in closed form (Hecht, Optics, ch. 5 and 6; Ray, Applied Photographic Optics), and against worked examples."""

from dataclasses import astuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.optics.airy import object_aperture
from lightsim.optics.depth import sharpest_effective_f_number
from lightsim.optics.exposure_values import effective_f_number
from lightsim.optics.lens_figures import at_stop, sharpest_f_number, train_figures
from lightsim.optics.lens_records import StackedLens
from lightsim.optics.lens_train import LensTrain

MACRO = {"focal_length_mm": 100.0, "native_magnification": 1.0, "native_working_distance_mm": 140.0}


def thin(f):
    return np.array([[1, 0], [-1 / f, 1]])


def space(d):
    return np.array([[1, d], [0, 1]])


def imaged(*steps):
    """Working distance and magnification of a system, its matrices in the order that light meets them: the
    subject distance is stepped to the place where a point's ray height no longer depends on its slope."""
    whole = np.linalg.multi_dot([*reversed(steps), np.eye(2)])
    low, high = 1e-6, 1e6
    start = np.sign((whole @ space(low))[0, 1])
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if np.sign((whole @ space(middle))[0, 1]) == start else (low, middle)
    return low, -(whole @ space(low))[0, 0]


@pytest.mark.parametrize(
    ("tubes", "dioptres", "m", "s"),
    [
        # m and s from v = 200 + tubes, u = 100 v / (v - 100), s0 = u - 60, 1/s = 1/s0 + D/1000, m = m_t s0/s
        (0, 0, 1.00, 140.0),
        (0, 4, 1.56, 89.7),
        (0, 8, 2.12, 66.0),
        (0, 10, 2.40, 58.3),
        (36, 4, 1.98, 78.1),
        (60, 0, 1.60, 102.5),
        (60, 8, 2.91, 56.3),
        (60, 13, 3.73, 43.9),
        (60, 20, 4.88, 33.6),
    ],
)
def test_a_close_up_lens_stands_before_the_front_not_in_the_principal_plane(tubes, dioptres, m, s):
    # 100 mm at 1:1 with 140 mm free: the front stands 60 mm ahead of the principal plane.
    train = LensTrain(**MACRO, extension_tubes_mm=(tubes,), close_up_dioptres=(dioptres,))
    assert train.magnification == pytest.approx(m, abs=0.005)
    assert train.working_distance_mm == pytest.approx(s, abs=0.05)
    power = [thin(1000 / dioptres)] if dioptres else []
    distance, magnification = imaged(*power, space(60), thin(100), space(200 + tubes))
    assert (train.working_distance_mm, train.magnification) == pytest.approx((distance, magnification))
    # No light is lost to a close-up lens: the cone behind the lens stays as it was.
    assert train.effective_f_number == pytest.approx(train.exact_f_number * (2 + tubes / 100))


def test_a_close_up_lens_alone_on_a_lens_at_infinity():
    # m = f/fc and the subject in the close-up lens's focus, wherever the lens stands behind it.
    train = LensTrain(focal_length_mm=100, native_magnification=0, close_up_dioptres=(5,))
    assert train.magnification == pytest.approx(0.5)
    assert train.working_distance_mm == pytest.approx(200)
    assert train.light_lost_stops == pytest.approx(0, abs=1e-12)


@given(st.floats(20, 200), st.floats(0.05, 3), st.floats(0, 100), st.floats(0.1, 20))
def test_without_separation_powers_add(focal, native, tube, dioptres):
    # Free distance equal to the subject distance: the close-up lens stands in the principal plane. Thin
    # lenses in contact: 1/f = 1/f1 + 1/f2, m = m0 + (1 + m0) f D (Ray, Applied Photographic Optics).
    train = LensTrain(
        focal_length_mm=focal,
        focal_length_close_mm=focal,
        native_magnification=native,
        native_working_distance_mm=focal * (1 + 1 / native),
        extension_tubes_mm=(tube,),
        close_up_dioptres=(dioptres,),
    )
    before = native + tube / focal
    assert train.magnification == pytest.approx(before + (1 + before) * focal * dioptres / 1000)
    assert train.focal_length_in_use_mm == pytest.approx(1 / (1 / focal + dioptres / 1000))
    assert train.working_distance_mm == pytest.approx(
        train.focal_length_in_use_mm * (1 + 1 / train.magnification)
    )


@given(st.floats(0, 100), st.floats(0.5, 2))
def test_no_dioptres_is_the_bare_lens(tube, ratio):
    bare = LensTrain(**MACRO, extension_tubes_mm=(tube,), pupil_ratio=ratio)
    none = LensTrain(**MACRO, extension_tubes_mm=(tube,), pupil_ratio=ratio, close_up_dioptres=(0.0, 0.0))
    assert astuple(none.geometry()) == pytest.approx(astuple(bare.geometry()))


def test_a_vanishing_close_up_lens_leaves_the_bare_lens():
    bare = LensTrain(**MACRO, extension_tubes_mm=(36,))
    weak = LensTrain(**MACRO, extension_tubes_mm=(36,), close_up_dioptres=(1e-9,))
    assert astuple(weak.geometry()) == pytest.approx(astuple(bare.geometry()), rel=1e-6)


def test_two_close_up_lenses_touching_add_and_apart_do_not():
    one = LensTrain(**MACRO, close_up_dioptres=(6,))
    two = LensTrain(**MACRO, close_up_dioptres=(4, 2))
    assert two.magnification == pytest.approx(one.magnification)
    apart = LensTrain(**MACRO, close_up_dioptres=(4, 2), close_up_spacing_mm=8)
    distance, m = imaged(thin(250), space(8), thin(500), space(8 + 60), thin(100), space(200))
    assert (apart.working_distance_mm, apart.magnification) == pytest.approx((distance, m))
    assert apart.working_distance_mm != pytest.approx(two.working_distance_mm, rel=0.01)


def test_extension_tubes_add_up():
    figures = {"focal_length_mm": 50, "focal_length_close_mm": 50, "native_magnification": 0.15}
    one = LensTrain(**figures, extension_tubes_mm=(25.0,))
    three = LensTrain(**figures, extension_tubes_mm=(5.0, 8.0, 12.0))
    assert one.magnification == pytest.approx(0.65)
    assert astuple(three.geometry()) == pytest.approx(astuple(one.geometry()))


@pytest.mark.parametrize(("factor", "length"), [(1.4, 20.0), (2.0, 50.0), (2.0, 38.0)])
def test_a_teleconverter_multiplies_what_the_lens_and_tubes_draw(factor, length):
    # On the camera: m and effective f-number times its factor, the subject where it was. Ray, Applied
    # Photographic Optics.
    without = LensTrain(**MACRO, extension_tubes_mm=(36,))
    train = LensTrain(**MACRO, extension_tubes_mm=(36,), teleconverter=factor, teleconverter_length_mm=length)
    assert train.magnification == pytest.approx(factor * without.magnification)
    assert train.effective_f_number == pytest.approx(factor * without.effective_f_number)
    assert train.working_distance_mm == pytest.approx(without.working_distance_mm)
    assert train.sensor_distance_mm == pytest.approx(without.sensor_distance_mm + length)


def test_tubes_behind_a_teleconverter_count_for_its_own_focal_length():
    # A thin lens of -T L/(T-1)^2 = -100 mm takes over an image at a' and sends it 125 mm on: 1/a' = 1/125 +
    # 1/100, 55.6 mm instead of 50, so the lens draws 1 + 5.56/100 and the teleconverter 125/55.6 of that.
    train = LensTrain(
        **MACRO,
        extension_tubes_mm=(25,),
        teleconverter=2,
        teleconverter_length_mm=50,
        teleconverter_on="lens",
    )
    assert train.magnification == pytest.approx(2.25 * (1 + (500 / 9 - 50) / 100))
    distance, m = imaged(space(60), thin(100), space(150), thin(-100), space(125))
    assert (train.working_distance_mm, train.magnification) == pytest.approx((distance, m))


@pytest.mark.parametrize("ratio", [0.7, 1.0, 1.8])
def test_a_reversed_lens(ratio):
    # N_eff = N (1/P + m), van Walree; its mount stands f - R behind the plane, so R + f/m stay free.
    train = LensTrain(
        focal_length_mm=28,
        f_number=8,
        native_magnification=0,
        reversed=True,
        pupil_ratio=ratio,
        flange_distance_mm=44,
        extension_tubes_mm=(12,),
    )
    m = (45 + 44 + 12) / 28 - 1  # the thread 45 mm ahead of the principal plane, as supposed
    assert train.magnification == pytest.approx(m)
    assert train.effective_f_number == pytest.approx(8 * (1 / ratio + m))
    assert train.working_distance_mm == pytest.approx(44 + 28 / m)
    assert train.sensor_distance_mm == pytest.approx(28 * (2 + m + 1 / m))


def test_a_lens_stacked_in_reverse_magnifies_by_the_ratio_of_focal_lengths():
    # The front lens sends parallel light into the main one, set to infinity: m = f1/f2, the subject as far
    # from its mount as its own sensor would be; no light is lost (common practice; matrices).
    train = LensTrain(
        native_magnification=0, stacked=StackedLens(50, flange_distance_mm=44.0), close_up_dioptres=()
    )
    assert train.magnification == pytest.approx(2.0)
    assert train.working_distance_mm == pytest.approx(44.0)
    assert train.effective_f_number == pytest.approx(train.exact_f_number)


def test_the_narrower_of_two_openings_is_the_stop():
    # 50 mm at f/8 before 100 mm at f/4, which is the wider: a cone of 1/8 at the subject, m/N = 2/16.
    open_front = LensTrain(native_magnification=0, f_number=4, stacked=StackedLens(50))
    stopped = LensTrain(native_magnification=0, f_number=4, stacked=StackedLens(50, f_number=8))
    assert open_front.effective_f_number == pytest.approx(4.0)
    assert stopped.effective_f_number == pytest.approx(16.0)


def test_the_closest_focus_tells_the_focal_length_in_use():
    # 300 mm from subject to sensor at life size: 4 f, so 75 mm are left of 100; 25 mm of tubes add a third.
    train = LensTrain(**MACRO, native_focus_distance_mm=300, extension_tubes_mm=(25.0,))
    assert train.magnification == pytest.approx(1 + 25 / 75)
    bare = LensTrain(**MACRO, native_focus_distance_mm=300)
    assert (bare.working_distance_mm, bare.sensor_distance_mm) == pytest.approx((140, 300))


def test_the_barrel_s_length_stands_in_for_what_is_not_known():
    # 140 mm free, 116 mm of barrel and 44 mm behind the mount are the closest focus of 300 mm; and the other
    # way round. At infinity the sensor stands f behind the principal plane, so 50 + 44 - 70 mm lie before it.
    known = LensTrain(**MACRO, barrel_length_mm=116, flange_distance_mm=44, extension_tubes_mm=(25.0,))
    assert known.magnification == pytest.approx(1 + 25 / 75)
    other = LensTrain(native_focus_distance_mm=300, barrel_length_mm=116, flange_distance_mm=44)
    assert other.working_distance_mm == pytest.approx(140)
    reversed_lens = LensTrain(
        focal_length_mm=70,
        native_magnification=0,
        reversed=True,
        barrel_length_mm=50,
        flange_distance_mm=44,
        extension_tubes_mm=(20,),
    )
    assert reversed_lens.magnification == pytest.approx((24 + 44 + 20) / 70 - 1)


def test_focal_length_that_shrinks_close_up():
    train = LensTrain(focal_length_mm=100, focal_length_close_mm=75, extension_tubes_mm=(25.0,))
    assert train.magnification == pytest.approx(1 + 25 / 75)
    both = LensTrain(**MACRO, focal_length_close_mm=70, native_focus_distance_mm=300)
    assert both.sensor_distance_mm == pytest.approx(300)  # the principal planes take the 20 mm left over
    assert both.working_distance_mm == pytest.approx(140)


@given(
    st.floats(20, 200),
    st.floats(0.05, 3),
    st.floats(0, 100),
    st.floats(0, 20),
    st.floats(0.6, 2.5),
    st.sampled_from([2.8, 5.6, 11, 22]),
)
def test_the_cones_on_both_sides_of_the_train_agree(focal, native, tube, dioptres, ratio, f_number):
    # The paraxial invariant: pupil radius / pupil distance at the subject is m / (2 N_eff), whatever stands
    # between; and N_eff is N (1 + m/P) with m that of lens and tubes (Conrad; van Walree), traced by a
    # marginal ray from the sensor's middle back to the stop.
    train = LensTrain(
        focal_length_mm=focal,
        focal_length_close_mm=focal,
        native_magnification=native,
        native_working_distance_mm=focal * (0.5 + 1 / native),
        extension_tubes_mm=(tube,),
        close_up_dioptres=(dioptres,),
        pupil_ratio=ratio,
        f_number=f_number,
    )
    geometry = train.geometry()
    cone = object_aperture(train.effective_f_number, train.magnification)
    assert geometry.pupil_radius_mm / abs(geometry.pupil_distance_mm) == pytest.approx(cone, rel=1e-9)
    expected = train.exact_f_number * (1 + (native + tube / focal) / ratio)
    assert train.effective_f_number == pytest.approx(expected, rel=1e-6)


@given(st.floats(20, 200), st.floats(0.05, 3), st.floats(0.3, 3))
def test_pupil_distance_without_a_close_up_lens(focal, native, ratio):
    # u = f (1/m + 1/P), van Walree.
    train = LensTrain(focal_length_mm=focal, native_magnification=native, pupil_ratio=ratio)
    assert train.pupil_distance_mm == pytest.approx(focal * (1 / native + 1 / ratio))
    assert train.pupil_diameter_mm == pytest.approx(focal / train.exact_f_number)


def test_a_close_up_lens_before_the_pupil_shows_it_farther_and_larger():
    # The pupil 60 mm behind +10 D: 1/x = 1/60 - 1/100, so 150 mm behind it and 150/60 as large.
    train = LensTrain(**MACRO, close_up_dioptres=(10,))
    assert train.pupil_distance_mm - train.working_distance_mm == pytest.approx(150)
    assert train.pupil_diameter_mm == pytest.approx(100 / train.exact_f_number * 2.5)


def test_a_strong_close_up_lens_throws_the_pupil_beyond_the_subject():
    # +20 D, 50 mm, nearer than the pupil: 1/x = 1/60 - 1/50, 300 mm before it and so behind the subject.
    train = LensTrain(**MACRO, extension_tubes_mm=(60,), close_up_dioptres=(20,))
    assert train.pupil_distance_mm == pytest.approx(train.working_distance_mm - 300)
    geometry = train.geometry()
    cone = object_aperture(train.effective_f_number, train.magnification)
    assert geometry.pupil_distance_mm == train.pupil_distance_mm
    assert geometry.pupil_radius_mm / -geometry.pupil_distance_mm == pytest.approx(cone, rel=1e-9)
    # Depth from the same cone: nearly 2 N_eff c / m^2.
    near_formula = 2 * train.effective_f_number * train.circle_of_confusion_mm / train.magnification**2
    assert train.depth.total_mm == pytest.approx(near_formula, rel=1e-3)


def test_a_pupil_in_the_close_up_lens_s_focus_is_drawn_from_afar():
    train = LensTrain(**MACRO, close_up_dioptres=(1000 / 60,))
    cone = object_aperture(train.effective_f_number, train.magnification)
    geometry = train.geometry()
    assert train.effective_f_number == pytest.approx(2 * train.exact_f_number)
    assert geometry.pupil_radius_mm / abs(geometry.pupil_distance_mm) == pytest.approx(cone, rel=1e-6)


@given(st.floats(0.05, 3), st.floats(0, 100), st.floats(0.1, 50))
def test_more_extension_means_larger_nearer_darker(native, tube, more):
    short = LensTrain(native_magnification=native, extension_tubes_mm=(tube,))
    long = LensTrain(native_magnification=native, extension_tubes_mm=(tube, more))
    assert long.magnification > short.magnification
    assert long.working_distance_mm < short.working_distance_mm
    assert long.light_lost_stops > short.light_lost_stops
    assert long.depth.total_mm < short.depth.total_mm


def test_half_life_size_shows_twice_the_sensor():
    geometry = LensTrain(native_magnification=0.5).geometry()
    assert geometry.field_width_mm == pytest.approx(72)
    assert geometry.field_width_mm / geometry.aspect == pytest.approx(48)


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


def test_pixels_limit_a_wide_aperture():
    figures = train_figures(LensTrain(f_number=2.8, native_magnification=0.1))
    assert figures.limited_by == "pixels"
    assert figures.resolved_detail_um == pytest.approx(2 * figures.subject_pixel_um)


@given(st.floats(0.2, 8), st.floats(0.3, 3))
def test_sharpest_f_number_for_a_depth(depth_mm, native):
    lens = LensTrain(native_magnification=native)
    best = sharpest_f_number(lens, depth_mm)
    assert effective_f_number(best, native) == pytest.approx(sharpest_effective_f_number(depth_mm, native))


def test_stopping_down_the_lens_does_nothing_while_the_second_lens_is_narrower():
    # 50 mm at f/8 takes in a cone of m/N = 2/16 whatever wider opening stands behind it.
    train = LensTrain(native_magnification=0, f_number=4, stacked=StackedLens(50, f_number=8))
    assert [at_stop(train, n, 1.0).effective_f_number for n in (4.0, 8.0, 16.0, 22.0)] == pytest.approx(
        [16.0, 16.0, 16.0, 22.0]
    )


@given(st.floats(2, 32))
def test_another_stop_changes_the_pupil_alone(f_number):
    train = LensTrain(**MACRO, extension_tubes_mm=(36,), close_up_dioptres=(4,))
    found = at_stop(train, f_number, 1.0)
    assert found.effective_f_number == pytest.approx(f_number * 2.36)
    assert found.depth_of_field_mm > 0
