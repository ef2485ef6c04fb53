"""A chain of thin elements at their places, multiplied as ray-transfer matrices.

A ray is (height, slope), slope counted per mm toward the sensor; a gap d is [[1, d], [0, 1]], a thin lens of
focal length f is [[1, 0], [-1/f, 1]]. Gerrard and Burch, Introduction to Matrix Methods in Optics, ch. II;
Hecht, Optics, ch. 6. Lengths in mm, places counted from the foremost plane of the chain toward the sensor.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, reduce
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Matrix = NDArray[np.float64]

FAR_MM = 1e7  # a pupil that the elements before it throw to infinity stands that far away


def gap(length_mm: float) -> Matrix:
    """Matrix of free space, (2, 2); a negative length goes back."""
    return np.array([[1.0, length_mm], [0.0, 1.0]])


def thin_lens(focal_length_mm: float) -> Matrix:
    """Matrix of a thin lens, (2, 2); a negative focal length spreads the light."""
    return np.array([[1.0, 0.0], [-1.0 / focal_length_mm, 1.0]])


@dataclass(frozen=True)
class Stop:
    """An element's aperture as the space before the element shows it.

    behind_mm : behind the element's front principal plane, negative for before it.
    diameter_mm : inf where it limits nothing.
    """

    behind_mm: float
    diameter_mm: float


@dataclass(frozen=True)
class Element:
    """One lens of a chain.

    place_mm : of its front principal plane.  planes_apart_mm : from there to its rear principal plane.
    """

    name: str
    place_mm: float
    focal_length_mm: float
    planes_apart_mm: float = 0.0
    stop: Stop | None = None

    @property
    def rear_mm(self) -> float:
        """Place of its rear principal plane."""
        return self.place_mm + self.planes_apart_mm


class Pupil(NamedTuple):
    """The entrance pupil: place (behind the foremost plane; before the subject where negative and beyond
    it) and diameter."""

    place_mm: float
    diameter_mm: float


@dataclass(frozen=True)
class Chain:
    """Elements in the order that light from the subject meets them, and the sensor's place."""

    elements: tuple[Element, ...]
    sensor_mm: float

    @cached_property
    def matrix(self) -> Matrix:
        """From the foremost plane to the sensor, (2, 2)."""
        return product(self._steps(len(self.elements), self.sensor_mm))

    def _steps(self, count: int, end_mm: float) -> Iterator[Matrix]:
        """Gaps and lenses in the order that light meets them: `count` elements, then the way to a place."""
        at = 0.0
        for element in self.elements[:count]:
            yield gap(element.place_mm - at)
            yield thin_lens(element.focal_length_mm)
            at = element.rear_mm
        yield gap(end_mm - at)

    @property
    def draws_image(self) -> bool:
        """Whether there is a subject distance, of either sign, from which a real image falls on the
        sensor."""
        return self.magnification > 0.0

    @property
    def magnification(self) -> float:
        """Image size over subject size, positive for the upside-down image of a photograph: -A."""
        return -float(self.matrix[0, 0])

    @property
    def working_distance_mm(self) -> float:
        """From the subject to the foremost plane: -B/A, so that the sharp image falls on the sensor."""
        return -float(self.matrix[0, 1] / self.matrix[0, 0])

    @property
    def focal_length_mm(self) -> float:
        """Of the whole: -1/C."""
        return -1.0 / float(self.matrix[1, 0])

    @cached_property
    def aperture_stop(self) -> Element:
        """Of the elements with a stop, the one that leaves the narrowest cone from the subject."""
        return max((each for each in self.elements if each.stop), key=self._f_number_before)

    def _to_stop(self, element: Element) -> tuple[float, float]:
        """Upper row of the matrix from the foremost plane to an element's stop."""
        assert element.stop is not None
        number = self.elements.index(element)
        a, b = product(self._steps(number, element.place_mm + element.stop.behind_mm))[0].tolist()
        return a, b

    def _f_number_before(self, element: Element) -> float:
        """Height over slope of the ray from the subject to the stop's edge, over its diameter; a ray of slope
        1 arrives a s + b high."""
        assert element.stop is not None
        a, b = self._to_stop(element)
        return abs(a * self.working_distance_mm + b) / element.stop.diameter_mm

    @cached_property
    def pupil(self) -> Pupil:
        """The entrance pupil: the aperture stop's image through what stands before it.

        With [[a, b], [c, d]] from the foremost plane to the stop, the image lies b/a behind that plane and
        is 1/a times as large.
        """
        stop = self.aperture_stop.stop
        assert stop is not None
        a, b = self._to_stop(self.aperture_stop)
        a = a if abs(a * FAR_MM) > abs(b) else float(np.copysign(abs(b) / FAR_MM, a))
        return Pupil(b / a if b else 0.0, stop.diameter_mm / abs(a))

    @property
    def pupil_distance_mm(self) -> float:
        """From the plane of sharp focus to the pupil; negative where it lies beyond the subject."""
        return self.working_distance_mm + self.pupil.place_mm

    @property
    def effective_f_number(self) -> float:
        """m u / D: magnification over the width of the cone that the subject sends in, a tangent."""
        return self.effective_f_number_by(self.aperture_stop)

    def effective_f_number_by(self, element: Element) -> float:
        """The same if this element's stop were the one that limits the cone."""
        return self.magnification * self._f_number_before(element)


def product(steps: Iterator[Matrix]) -> Matrix:
    """Matrices multiplied, the first that light meets standing rightmost; (2, 2)."""
    return reduce(lambda so_far, step: step @ so_far, steps, np.eye(2))
