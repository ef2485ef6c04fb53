"""What a lens train is refused for: the element at fault is named, and what would do does."""

import pytest

from lightsim.errors import SceneError
from lightsim.optics.lens_records import StackedLens
from lightsim.optics.lens_train import LensTrain


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
        ({"close_up_dioptres": (-1,)}, "lens.close_up_dioptres[0]: found -1, allowed 0 or more"),
        ({"pupil_ratio": 0}, "lens.pupil_ratio: found 0, allowed a number over 0"),
        ({"pupil_ratio": float("nan")}, "lens.pupil_ratio: found nan, allowed a number over 0"),
        ({"teleconverter": 0.7}, "lens.teleconverter: found 0.7, allowed 1 (none) or more"),
        (
            {"stacked": StackedLens(focal_length_mm=0)},
            "lens.stacked.focal_length_mm: found 0, allowed a number over 0",
        ),
        ({"sensor_mm": (36, 0)}, "camera.sensor_mm: found [36, 0], allowed two lengths over 0"),
        ({"sensor_px": (6000, -1)}, "camera.sensor_px: found [6000, -1], allowed two whole numbers over 0"),
        (
            {"native_magnification": 0},
            "lens.native_magnification: found 0 without tubes, close-up lens or a second lens, allowed more "
            "than 0",
        ),
        (
            {"reversed": True, "stacked": StackedLens()},
            "lens.stacked: found a second lens with reversed = true, allowed one before a lens the right way "
            "round",
        ),
        (
            {"native_focus_distance_mm": 150, "barrel_length_mm": 116},
            "lens.native_focus_distance_mm: found 150, of which the lens and the camera leave nothing free, "
            "allowed more than 160",
        ),
        # v = 45 + 44 mm to the sensor from the reversed lens of 200 mm: 111 mm short of its focal length.
        (
            {"focal_length_mm": 200, "native_magnification": 0, "reversed": True},
            "lens.extension_tubes_mm: found 0 mm behind the reversed lens, too near the sensor to draw "
            "anything, allowed more than 111.0 mm",
        ),
        # 170 mm from front to principal plane: u = 100 (1 + 1/m) passes it at m = 1.4286, 42.86 mm of tubes.
        (
            {"native_working_distance_mm": 30, "extension_tubes_mm": (100, 100)},
            "lens.extension_tubes_mm: found a length of 200 mm, with which the subject would be inside the "
            "lens, allowed up to 42.8 mm",
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


def test_strong_close_up_lenses_on_long_tubes_are_no_reason_to_refuse():
    for dioptres in (13, 20, 50):
        train = LensTrain(
            native_working_distance_mm=140, extension_tubes_mm=(60,), close_up_dioptres=(dioptres,)
        )
        assert 0 < train.working_distance_mm < 45


def test_what_is_named_would_do():
    LensTrain(native_working_distance_mm=30, extension_tubes_mm=(42.8,))
    LensTrain(focal_length_mm=200, native_magnification=0, reversed=True, extension_tubes_mm=(112,))
