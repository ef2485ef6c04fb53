"""The lens train: a lens, what lengthens it, what is screwed before it, and the sensor behind.

Thin lenses in contact, with pupils. Formulas and sources: `lens_forms`, `depth`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite

from lightsim.errors import SceneError
from lightsim.optics.depth import Depth, circle_of_confusion_mm, depth_of_field
from lightsim.optics.lens_forms import (
    Geometry,
    close_up_focal_length_mm,
    close_up_magnification,
    conjugates_mm,
    effective_f_number,
    extended_magnification,
    extension_stops,
)
from lightsim.optics.marks import F_NUMBERS

LEAST_F_NUMBER = 0.5  # no lens can draw a wider cone: the sine condition
KEY = "lens"
CAMERA_KEYS = ("f_number", "sensor_mm", "sensor_px")  # these are set on the camera


@dataclass(frozen=True)
class LensTrain:
    """Lens, tubes, close-up lens and sensor; SceneError with a sentence for each figure that cannot be.

    focal_length_mm, f_number : as marked (f/11 stands for 11.3, see `marks`).
    native_magnification : what the lens gives by itself where its focus ring stands; 0 at infinity.
    focal_length_close_mm : its focal length there, where known: lenses that focus inside shorten it.
    extension_tubes_mm : lengths that add up.  close_up_dioptres : of the close-up lens; 0 for none.
    pupil_ratio : exit pupil / entrance pupil.
    sensor_mm, sensor_px : width and height.
    native_working_distance_mm : free distance before the bare lens at its native magnification, where known.
    widest_f_number : smallest f-number the lens has, where known.
    circle_mm : circle of confusion at the sensor; None takes the sensor's diagonal / 1500.
    """

    focal_length_mm: float = 100.0
    f_number: float = 11.0
    native_magnification: float = 1.0
    focal_length_close_mm: float | None = None
    extension_tubes_mm: tuple[float, ...] = ()
    close_up_dioptres: float = 0.0
    pupil_ratio: float = 1.0
    sensor_mm: tuple[float, float] = (36.0, 24.0)
    sensor_px: tuple[int, int] = (6000, 4000)
    native_working_distance_mm: float | None = None
    widest_f_number: float | None = None
    circle_mm: float | None = None

    def __post_init__(self) -> None:
        problems = list(_problems(self))
        if problems:
            raise SceneError(problems)

    @property
    def exact_f_number(self) -> float:
        """What the marked f-number stands for."""
        return F_NUMBERS.exact(self.f_number)

    @property
    def focal_length_in_use_mm(self) -> float:
        """Of the lens by itself, as it is focused."""
        close = self.focal_length_close_mm
        return self.focal_length_mm if close is None else close

    @property
    def extension_mm(self) -> float:
        """All tubes together."""
        return float(sum(self.extension_tubes_mm))

    @property
    def magnification_without_close_up(self) -> float:
        """Of lens and tubes."""
        return extended_magnification(
            self.native_magnification, self.extension_mm, self.focal_length_in_use_mm
        )

    @property
    def magnification(self) -> float:
        """Image size over subject size."""
        return close_up_magnification(
            self.magnification_without_close_up, self.focal_length_in_use_mm, self.close_up_dioptres
        )

    @property
    def combined_focal_length_mm(self) -> float:
        """Of lens and close-up lens."""
        return close_up_focal_length_mm(self.focal_length_in_use_mm, self.close_up_dioptres)

    @property
    def effective_f_number(self) -> float:
        """From native extension and tubes; a close-up lens costs no light."""
        return effective_f_number(self.exact_f_number, self.magnification_without_close_up, self.pupil_ratio)

    @property
    def light_lost_stops(self) -> float:
        """Against the same marked f-number at infinity."""
        return extension_stops(self.magnification_without_close_up, self.pupil_ratio)

    @property
    def circle_of_confusion_mm(self) -> float:
        """The one given, or the sensor's usual one."""
        return circle_of_confusion_mm(self.sensor_mm) if self.circle_mm is None else self.circle_mm

    @property
    def _pupil_behind_mm(self) -> float:
        """The bare lens's entrance pupil behind its front principal plane: f (1/P - 1)."""
        return self.focal_length_in_use_mm * (1 / self.pupil_ratio - 1)

    @property
    def _pupil_growth(self) -> float:
        """How much larger, and farther behind, the close-up lens makes the entrance pupil look; under 0 if
        it cannot.

        A thin lens of focal length fc in the principal plane, the pupil s behind it: fc / (fc - s).
        """
        return 1 / (1 - self._pupil_behind_mm * self.close_up_dioptres / 1000.0)

    @property
    def pupil_diameter_mm(self) -> float:
        """The entrance pupil as the subject sees it."""
        return self.focal_length_in_use_mm / self.exact_f_number * self._pupil_growth

    @property
    def pupil_distance_mm(self) -> float:
        """From the plane of sharp focus to the entrance pupil; f (1/m + 1/P) without a close-up lens."""
        return self.subject_distance_mm + self._pupil_behind_mm * self._pupil_growth

    @property
    def subject_distance_mm(self) -> float:
        """From the plane of sharp focus to the front principal plane: f (1 + 1/m)."""
        return conjugates_mm(self.combined_focal_length_mm, self.magnification)[0]

    @property
    def front_depth_mm(self) -> float:
        """From the front glass back to the principal plane; 0 when the working distance of the bare lens
        is not known."""
        if self.native_working_distance_mm is None or self.native_magnification == 0:
            return 0.0
        bare, _ = conjugates_mm(self.focal_length_in_use_mm, self.native_magnification)
        return bare - self.native_working_distance_mm

    @property
    def working_distance_mm(self) -> float:
        """Free distance from the plane of sharp focus to the front of the lens."""
        return self.subject_distance_mm - self.front_depth_mm

    @property
    def depth(self) -> Depth:
        """Exact depth of field."""
        return depth_of_field(
            self.pupil_distance_mm, self.pupil_diameter_mm, self.magnification, self.circle_of_confusion_mm
        )

    def geometry(self) -> Geometry:
        """For the tracer."""
        return Geometry(
            self.sensor_mm[0] / self.magnification,
            self.sensor_mm[0] / self.sensor_mm[1],
            self.pupil_distance_mm,
            self.pupil_diameter_mm / 2,
            self.working_distance_mm,
            self.magnification,
            self.effective_f_number,
        )


def _problems(lens: LensTrain) -> Iterator[str]:
    """One sentence for each figure that cannot be; the last ones only when each figure by itself is sound."""
    wrong = [*_wrong_numbers(lens), *_wrong_sensor(lens)]
    yield from wrong or _wrong_together(lens)


def _wrong(key: str, found: object, allowed: str) -> str:
    section = "camera" if key in CAMERA_KEYS else KEY
    return f"{section}.{key}: found {found}, allowed {allowed}"


def _wrong_numbers(lens: LensTrain) -> Iterator[str]:
    above_zero = ("focal_length_mm", "pupil_ratio", "focal_length_close_mm", "circle_mm")
    for key in (*above_zero, "native_working_distance_mm"):
        value = getattr(lens, key)
        if value is not None and not (isfinite(value) and value > 0):
            yield _wrong(key, value, "a number over 0")
    for key in ("f_number", "widest_f_number"):
        value = getattr(lens, key)
        if value is not None and not (isfinite(value) and value >= LEAST_F_NUMBER):
            yield _wrong(key, value, f"{LEAST_F_NUMBER} or more")
    for key in ("native_magnification", "close_up_dioptres"):
        value = getattr(lens, key)
        if not (isfinite(value) and value >= 0):
            yield _wrong(key, value, "0 or more")
    for place, tube in enumerate(lens.extension_tubes_mm):
        if not (isfinite(tube) and tube >= 0):
            yield _wrong(f"extension_tubes_mm[{place}]", tube, "0 or more")


def _wrong_sensor(lens: LensTrain) -> Iterator[str]:
    for key, kind in (("sensor_mm", "two lengths over 0"), ("sensor_px", "two whole numbers over 0")):
        pair = getattr(lens, key)
        if len(pair) != 2 or not all(isfinite(side) and side > 0 for side in pair):
            yield _wrong(key, list(pair), kind)


def _wrong_together(lens: LensTrain) -> Iterator[str]:
    widest = lens.widest_f_number
    if widest is not None and lens.exact_f_number < F_NUMBERS.exact(widest) * 0.999:
        yield _wrong("f_number", f"{lens.f_number:g}", f"{widest:g} (the widest) or more")
    if lens.magnification == 0:
        yield _wrong("native_magnification", "0 without tubes or close-up lens", "more than 0")
    elif lens._pupil_behind_mm * lens.close_up_dioptres >= 1000.0:
        yield _wrong("close_up_dioptres", f"{lens.close_up_dioptres:g}", _least_dioptres(lens))
    elif lens.working_distance_mm <= 0:
        yield _wrong(
            "extension_tubes_mm",
            f"a length of {lens.extension_mm:g} mm, with which the subject would be inside the lens",
            "less",
        )


def _least_dioptres(lens: LensTrain) -> str:
    return f"less than {1000.0 / lens._pupil_behind_mm:.1f} with this focal length and pupil ratio"
