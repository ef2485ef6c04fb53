"""Depth of field, blur away from the focus, focus stacks. Lengths in mm; the circle of confusion is at the
sensor.

Distances along the axis count from the entrance pupil, whose true size is what blurs. Conrad, Depth of
Field in Depth; van Walree, Derivation of the depth of field equations; Ray, Applied Photographic Optics.
"""

from __future__ import annotations

from math import ceil, hypot, inf, sqrt
from typing import NamedTuple

from lightsim.optics.airy import FIRST_DARK_RING, GREEN_NM, airy_diameter_um

# The sensor's diagonal over the circle of confusion; 0.029 mm for 36 x 24 mm. Common practice, no source.
DIAGONAL_OVER_CIRCLE = 1500.0


class Depth(NamedTuple):
    """How far the sharp zone reaches from the focus, mm: toward the lens, and away from it (may be
    infinite)."""

    near_mm: float
    far_mm: float

    @property
    def total_mm(self) -> float:
        """Both together."""
        return self.near_mm + self.far_mm


def circle_of_confusion_mm(sensor_mm: tuple[float, float]) -> float:
    """The usual circle of confusion for a sensor: its diagonal / 1500."""
    return hypot(*sensor_mm) / DIAGONAL_OVER_CIRCLE


def depth_of_field(
    pupil_distance_mm: float, pupil_diameter_mm: float, magnification: float, circle_mm: float
) -> Depth:
    """Exact depth of field of an ideal lens: u b / (D + b) and u b / (D - b), with b = c / m at the
    subject.

    A pupil beyond the subject (u negative) makes the cone narrower, not wider, away from the lens: the same
    with D and b counted against -u.
    """
    blur = circle_mm / magnification
    cone, narrows = pupil_diameter_mm / abs(pupil_distance_mm), blur / pupil_distance_mm
    ends = [blur / slope if slope > 0 else inf for slope in (cone + narrows, cone - narrows)]
    return Depth(*ends)


def close_up_depth_mm(effective_f_number: float, magnification: float, circle_mm: float) -> float:
    """The close-up approximation of the whole depth: 2 N_eff c / m^2. Good while N c is far below m f."""
    return 2 * effective_f_number * circle_mm / magnification**2


def defocus_blur_mm(
    pupil_distance_mm: float, pupil_diameter_mm: float, magnification: float, offset_mm: float
) -> float:
    """Diameter at the sensor of the disc that a point becomes, `offset_mm` nearer to the lens than the focus.

    The cone from the pupil through the point meets the plane of focus in a disc D |z| / (u - z), drawn m
    times as large. The pupil may lie beyond the subject, u negative.
    """
    return magnification * pupil_diameter_mm * abs(offset_mm) / abs(pupil_distance_mm - offset_mm)


def total_blur_mm(defocus_mm: float, effective_f_number: float) -> float:
    """Defocus disc and Airy disc at the sensor, added as squares (common practice; Conrad, Depth of Field
    in Depth)."""
    return hypot(defocus_mm, float(airy_diameter_um(effective_f_number)) / 1000.0)


def sharpest_effective_f_number(depth_mm: float, magnification: float) -> float:
    """The effective f-number with the least `total_blur_mm` at both ends of a wanted depth, focused on its
    middle.

    The disc there is m^2 z / N_eff with z half the depth, the Airy disc k N_eff with k = 2.44 lambda; the
    sum of their squares is least at N_eff = m sqrt(z / k).
    """
    airy_per_f_number_mm = 2 * FIRST_DARK_RING * GREEN_NM * 1e-6
    return magnification * sqrt(depth_mm / 2 / airy_per_f_number_mm)


class Stack(NamedTuple):
    """A focus stack: how many frames, and how far the focus moves between two."""

    frames: int
    step_mm: float


def focus_stack(depth_mm: float, frame_depth_mm: float, overlap: float = 0.2) -> Stack:
    """Frames that cover a depth, neighbours sharing `overlap` of their own: ceil((T - d) / (d (1 -
    overlap))) + 1."""
    step = frame_depth_mm * (1 - overlap)
    if depth_mm <= frame_depth_mm:
        return Stack(1, step)
    return Stack(ceil((depth_mm - frame_depth_mm) / step - 1e-9) + 1, step)
