"""The lens train: a lens, what lengthens it, what is screwed before it, and the sensor behind.

Its figures come from the chain of its elements at their places (`lens_chain`), multiplied as ray-transfer
matrices (`ray_matrices`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import log2

from lightsim.errors import SceneError
from lightsim.optics.airy import object_aperture
from lightsim.optics.depth import Depth, circle_of_confusion_mm, depth_of_field
from lightsim.optics.lens_chain import Planes, chain_of, flange_mm, planes_of
from lightsim.optics.lens_forms import FARTHEST_PUPIL_MM, Geometry
from lightsim.optics.lens_refusals import problems_of
from lightsim.optics.marks import F_NUMBERS
from lightsim.optics.ray_matrices import Chain


@dataclass(frozen=True)
class StackedLens:
    """A second lens, focused at infinity, screwed back to front before the first.

    f_number : as marked, where it is stopped down; None leaves it so wide that it limits nothing.
    thread_mm : its filter thread ahead of its front principal plane, where known.
    flange_distance_mm : from its mount to the sensor that it was made for; None takes the camera's.
    """

    focal_length_mm: float = 50.0
    f_number: float | None = None
    pupil_ratio: float = 1.0
    thread_mm: float | None = None
    flange_distance_mm: float | None = None


@dataclass(frozen=True)
class LensTrain:
    """Lens, tubes, what is screwed before it, and sensor; SceneError with a sentence for each figure that
    cannot be.

    focal_length_mm, f_number : as marked (f/11 stands for 11.3, see `marks`).
    native_magnification : what the lens gives by itself where its focus ring stands; 0 at infinity.
    focal_length_close_mm : its focal length there, where known: lenses that focus inside shorten it.
    native_focus_distance_mm : from the subject to the sensor there, without anything put on, where known.
    native_working_distance_mm : free distance before the bare lens there, where known.
    flange_distance_mm : from the camera's mount to the sensor, where known.  lens_flange_distance_mm : the
    same of the camera that the lens was made for; None takes this one's.
    barrel_length_mm : of the lens from its mount to its front, as it is focused, where known.
    barrel_diameter_mm : its width, which no figure here rests on.
    pupil_ratio : exit pupil / entrance pupil.  reversed : mounted back to front.
    close_up_dioptres : of the close-up lenses, the one next to the subject first.
    close_up_spacing_mm : from the front of the lens to the first close-up lens, and from one to the next.
    stacked : a second lens, reversed, before the first.
    extension_tubes_mm : lengths that add up.
    teleconverter : its factor, 1 for none.  teleconverter_on : "camera" or "lens", where the tubes end.
    teleconverter_length_mm : by how much it moves the camera back, where known.
    sensor_mm, sensor_px : width and height.
    widest_f_number : smallest f-number the lens has, where known.
    circle_mm : circle of confusion at the sensor; None takes the sensor's diagonal / 1500.
    """

    focal_length_mm: float = 100.0
    f_number: float = 11.0
    native_magnification: float = 1.0
    focal_length_close_mm: float | None = None
    native_focus_distance_mm: float | None = None
    native_working_distance_mm: float | None = None
    flange_distance_mm: float | None = None
    lens_flange_distance_mm: float | None = None
    barrel_length_mm: float | None = None
    barrel_diameter_mm: float | None = None
    pupil_ratio: float = 1.0
    reversed: bool = False
    close_up_dioptres: tuple[float, ...] = ()
    close_up_spacing_mm: float = 0.0
    stacked: StackedLens | None = None
    extension_tubes_mm: tuple[float, ...] = ()
    teleconverter: float = 1.0
    teleconverter_on: str = "camera"
    teleconverter_length_mm: float | None = None
    sensor_mm: tuple[float, float] = (36.0, 24.0)
    sensor_px: tuple[int, int] = (6000, 4000)
    widest_f_number: float | None = None
    circle_mm: float | None = None

    def __post_init__(self) -> None:
        problems = list(problems_of(self))
        if problems:
            raise SceneError(problems)

    @cached_property
    def chain(self) -> Chain:
        """All elements at their places."""
        return chain_of(self)

    @cached_property
    def planes(self) -> Planes:
        """Principal planes of the lens by itself, the right way round."""
        return planes_of(self)

    @property
    def exact_f_number(self) -> float:
        """What the marked f-number stands for."""
        return F_NUMBERS.exact(self.f_number)

    @property
    def extension_mm(self) -> float:
        """All tubes together."""
        return float(sum(self.extension_tubes_mm))

    @property
    def magnification(self) -> float:
        """Image size over subject size."""
        return self.chain.magnification

    @property
    def focal_length_in_use_mm(self) -> float:
        """Of all elements together."""
        return self.chain.focal_length_mm

    @property
    def effective_f_number(self) -> float:
        """By which the sensor is lit."""
        return self.chain.effective_f_number

    @property
    def light_lost_stops(self) -> float:
        """Against the same marked f-number at infinity."""
        return 2 * log2(self.effective_f_number / self.exact_f_number)

    @property
    def circle_of_confusion_mm(self) -> float:
        """The one given, or the sensor's usual one."""
        return circle_of_confusion_mm(self.sensor_mm) if self.circle_mm is None else self.circle_mm

    @property
    def pupil_diameter_mm(self) -> float:
        """The entrance pupil as the subject sees it."""
        return self.chain.pupil.diameter_mm

    @property
    def pupil_distance_mm(self) -> float:
        """From the plane of sharp focus to the entrance pupil; negative where it lies beyond the subject."""
        return self.chain.pupil_distance_mm

    @property
    def working_distance_mm(self) -> float:
        """Free distance from the plane of sharp focus to the foremost thing that is screwed on."""
        return self.chain.working_distance_mm

    @property
    def sensor_distance_mm(self) -> float:
        """From the plane of sharp focus to the sensor."""
        return self.working_distance_mm + self.chain.sensor_mm

    @property
    def mount_distance_mm(self) -> float:
        """From the plane of sharp focus to the camera's mount."""
        return self.sensor_distance_mm - flange_mm(self)

    @property
    def depth(self) -> Depth:
        """Exact depth of field."""
        return depth_of_field(
            self.pupil_distance_mm, self.pupil_diameter_mm, self.magnification, self.circle_of_confusion_mm
        )

    def geometry(self) -> Geometry:
        """For the tracer. A pupil that is very far, on either side, is taken less far, with the same cone."""
        distance, radius = self.pupil_distance_mm, self.pupil_diameter_mm / 2
        if abs(distance) > FARTHEST_PUPIL_MM:
            distance = FARTHEST_PUPIL_MM
            radius = distance * object_aperture(self.effective_f_number, self.magnification)
        return Geometry(
            self.sensor_mm[0] / self.magnification,
            self.sensor_mm[0] / self.sensor_mm[1],
            distance,
            radius,
            self.working_distance_mm,
            self.magnification,
            self.effective_f_number,
            self.mount_distance_mm,
            self.sensor_distance_mm,
        )
