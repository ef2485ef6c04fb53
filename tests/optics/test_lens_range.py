"""How far a lens train's figures are trusted: the ends of the ranges worked out here by hand."""

import pytest

from lightsim.optics.lens_figures import train_figures
from lightsim.optics.lens_range import open_figures, ranges, suppositions
from lightsim.optics.lens_records import StackedLens
from lightsim.optics.lens_train import LensTrain

MACRO = {"focal_length_mm": 100.0, "native_magnification": 1.0, "native_working_distance_mm": 140.0}


def test_a_bare_lens_at_its_mark_is_settled():
    found = ranges(LensTrain(**MACRO))
    assert found.magnification == pytest.approx((1.0, 1.0))
    assert found.working_distance_mm == pytest.approx((140.0, 140.0))
    # But where the sensor stands is not: 2.5 to 4 focal lengths off (common practice, no source).
    assert found.sensor_distance_mm == pytest.approx((250.0, 400.0))


def test_tubes_weigh_more_on_a_lens_that_has_become_shorter():
    # 60 mm on 100 to 70 mm: 1.6 to 1 + 60/70; 140 - f (1 - 1/m) free: 102.5 to 107.7 mm.
    found = ranges(LensTrain(**MACRO, extension_tubes_mm=(60,)))
    assert found.magnification == pytest.approx((1.6, 1 + 60 / 70))
    assert found.working_distance_mm == pytest.approx((102.5, 140 - 70 * (1 - 1 / (1 + 60 / 70))))


def test_the_closest_focus_narrows_it_and_the_focal_length_settles_it():
    known = {**MACRO, "native_focus_distance_mm": 300.0, "extension_tubes_mm": (36.0,)}
    found = ranges(LensTrain(**known))
    # Principal planes up to 20 mm apart, in either order: f = (300 -+ 20)/4 = 70 to 80 mm.
    assert found.magnification == pytest.approx((1 + 36 / 80, 1 + 36 / 70))
    settled = ranges(LensTrain(**known, focal_length_close_mm=75))
    assert settled.magnification == pytest.approx((1.48, 1.48))
    assert settled.open == ()


def test_a_free_distance_that_is_not_known_is_supposed_and_said():
    train = LensTrain(focal_length_close_mm=100)
    assert train.working_distance_mm == pytest.approx(140)  # the front 0.6 f ahead of the principal plane
    assert ranges(train).working_distance_mm == pytest.approx((110, 170))
    (words,) = suppositions(train)
    assert words.startswith("140 mm are free before the bare lens at 1 : 1")
    assert words.endswith("(lens.native_working_distance_mm)")
    figures = train_figures(train)
    assert figures.supposed == (words,)
    assert any("110 to 170 mm" in sentence for sentence in figures.trust)


def test_a_lens_at_infinity_has_the_focal_length_marked():
    assert list(open_figures(LensTrain(native_magnification=0, extension_tubes_mm=(50,)))) == ["front_share"]


def test_a_reversed_lens_is_open_by_its_thread_and_the_camera_s_depth():
    train = LensTrain(focal_length_mm=28, native_magnification=0, reversed=True)
    found = ranges(train)
    assert found.open == ("thread_mm", "flange_mm")
    # v from 30 + 18 to 60 + 46 mm, m = v/f - 1.
    assert found.magnification == pytest.approx((48 / 28 - 1, 106 / 28 - 1))
    assert ranges(LensTrain(focal_length_mm=28, native_magnification=0, reversed=True, flange_distance_mm=44)
                  ).magnification == pytest.approx((74 / 28 - 1, 104 / 28 - 1))  # fmt: skip


def test_a_stacked_lens_magnifies_the_same_whatever_its_barrel():
    found = ranges(LensTrain(native_magnification=0, stacked=StackedLens(50)))
    assert found.magnification == pytest.approx((2.0, 2.0))
    assert found.working_distance_mm == pytest.approx((18.0, 46.0))


def test_ranges_hold_what_is_told():
    for figures in ({}, {"extension_tubes_mm": (48,), "close_up_dioptres": (4, 2)}, {"teleconverter": 1.4}):
        train = LensTrain(**figures)
        found = ranges(train)
        low, high = found.magnification
        assert low <= train.magnification * (1 + 1e-12) <= high * (1 + 1e-12)
        low, high = found.working_distance_mm
        assert low <= train.working_distance_mm <= high
