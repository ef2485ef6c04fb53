"""The lens train: a lens, what lengthens it, what is screwed before it, the sensor behind; its pieces
outside.

Its figures come from the chain of its elements at their places (`lens_chain`), multiplied as ray-transfer
matrices (`ray_matrices`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from math import log2
from typing import NamedTuple

from lightsim.errors import SceneError
from lightsim.optics.airy import object_aperture
from lightsim.optics.depth import Depth, circle_of_confusion_mm, depth_of_field
from lightsim.optics.lens_chain import (
    MAIN,
    STACKED,
    Planes,
    chain_of,
    flange_mm,
    planes_of,
    teleconverter_length_mm,
)
from lightsim.optics.lens_records import CameraGeometry, Lens
from lightsim.optics.lens_refusals import problems_of
from lightsim.optics.marks import F_NUMBERS
from lightsim.optics.ray_matrices import Chain

FARTHEST_PUPIL_MM = 2000.0  # beyond it rays through a subject of some mm run side by side to 0.1 %


@dataclass(frozen=True)
class LensTrain(Lens):
    """A lens on its camera, whose figures follow from the elements at their places.

    f_number : as marked (f/11 stands for 11.3, see `marks`).  sensor_mm, sensor_px : width and height.

    Raises
    ------
    SceneError with a sentence for each figure that cannot be.
    """

    f_number: float = 11.0
    sensor_mm: tuple[float, float] = (36.0, 24.0)
    sensor_px: tuple[int, int] = (6000, 4000)

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
    def lens_effective_f_number(self) -> float:
        """By which the lens's own stop would light the sensor, a second lens before it being wide open."""
        return self._effective_by(MAIN)

    @property
    def second_effective_f_number(self) -> float:
        """The same of the second lens's stop; 0 where there is none, or no f-number of it."""
        return 0.0 if self.stacked is None or self.stacked.f_number is None else self._effective_by(STACKED)

    def _effective_by(self, name: str) -> float:
        element = next(each for each in self.chain.elements if each.name == name)
        return self.chain.effective_f_number_by(element)

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

    def geometry(self) -> CameraGeometry:
        """For the tracer. A pupil that is very far, on either side, is taken less far, with the same cone."""
        distance, radius = self.pupil_distance_mm, self.pupil_diameter_mm / 2
        if abs(distance) > FARTHEST_PUPIL_MM:
            distance = FARTHEST_PUPIL_MM
            radius = distance * object_aperture(self.effective_f_number, self.magnification)
        return CameraGeometry(
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


CLOSE_UP, SECOND, LENS, TUBE, TELECONVERTER = "close-up lens", "second lens", "lens", "tube", "teleconverter"
RING_MM = 7.0  # thickness of a close-up lens's ring where they touch; common practice, no source
SHORTEST_MM = 10.0  # of a lens, where the supposed figures would leave less or nothing


class Piece(NamedTuple):
    """One piece of the barrel. what : one of the names above. start_mm, end_mm : from the plane of sharp
    focus."""

    what: str
    start_mm: float
    end_mm: float


def pieces_of(train: LensTrain) -> tuple[Piece, ...]:
    """The pieces, the one next to the subject first; the last ends at the camera's mount."""
    return tuple(_pieces(train))


def _pieces(train: LensTrain) -> Iterator[Piece]:
    at = train.working_distance_mm
    for _ in (each for each in train.close_up_dioptres if each > 0):
        yield Piece(CLOSE_UP, at, at + max(train.close_up_spacing_mm, RING_MM))
        at += train.close_up_spacing_mm
    if train.stacked is not None:
        end = _stacked_end_mm(train)
        yield Piece(SECOND, at, max(end, at + SHORTEST_MM))
        at = end
    behind = list(_behind(train))
    end = train.mount_distance_mm - sum(length for _, length in behind)
    end = max(end, at + SHORTEST_MM) if train.barrel_length_mm is None else at + train.barrel_length_mm
    yield Piece(LENS, at, end)
    for what, length in behind:
        yield Piece(what, end, end + length)
        end += length


def _stacked_end_mm(train: LensTrain) -> float:
    """Where the lens's own front stands, with a second lens before it."""
    lens = next(element for element in train.chain.elements if element.name == MAIN)
    return train.working_distance_mm + lens.place_mm - train.planes.front_mm


def _behind(train: LensTrain) -> Iterator[tuple[str, float]]:
    """What stands between lens and camera, from the lens on, with its length."""
    tubes = [(TUBE, tube) for tube in train.extension_tubes_mm if tube > 0]
    if train.teleconverter == 1.0:
        yield from tubes
        return
    converter = (TELECONVERTER, teleconverter_length_mm(train))
    yield from [converter, *tubes] if train.teleconverter_on == "lens" else [*tubes, converter]
