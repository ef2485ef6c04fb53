"""Closed forms of a lens that is lengthened: magnification, effective f-number, conjugates.

f is the focal length in use, m the magnification, P the pupil ratio (exit pupil over entrance pupil), N the
f-number as marked for infinity. Ray, Applied Photographic Optics; Conrad, Depth of Field in Depth.
"""

from __future__ import annotations

from math import log2
from typing import NamedTuple


def effective_f_number(f_number: float, magnification: float, pupil_ratio: float = 1.0) -> float:
    """N (1 + m/P): the f-number by which the sensor is lit. ISO 12232 has the case P = 1.

    With a close-up lens give the magnification without it: it shortens the lens and costs no light.
    """
    return f_number * (1 + magnification / pupil_ratio)


def reversed_effective_f_number(f_number: float, magnification: float, pupil_ratio: float = 1.0) -> float:
    """The same for a lens mounted back to front: N (1/P + m)."""
    return f_number * (1 / pupil_ratio + magnification)


def extension_stops(magnification: float, pupil_ratio: float = 1.0) -> float:
    """Light lost to extension, in stops: 2 log2(1 + m/P)."""
    return 2 * log2(1 + magnification / pupil_ratio)


def extended_magnification(native: float, extension_mm: float, focal_length_mm: float) -> float:
    """m0 + extension / f, for a lens whose focal length stays as it is."""
    return native + extension_mm / focal_length_mm


def close_up_focal_length_mm(focal_length_mm: float, dioptres: float) -> float:
    """Powers add: 1 / (1/f + 1/fc) with fc = 1000 / dioptres."""
    return 1 / (1 / focal_length_mm + dioptres / 1000.0)


def close_up_magnification(magnification: float, focal_length_mm: float, dioptres: float) -> float:
    """m + (1 + m) f / fc: the image distance stays, the focal length shrinks."""
    return magnification + (1 + magnification) * focal_length_mm * dioptres / 1000.0


def conjugates_mm(focal_length_mm: float, magnification: float) -> tuple[float, float]:
    """Distances from the principal planes to subject and image: f (1 + 1/m) and f (1 + m)."""
    return focal_length_mm * (1 + 1 / magnification), focal_length_mm * (1 + magnification)


class Geometry(NamedTuple):
    """What a tracer needs to know of the camera; mm, distances from the plane of sharp focus."""

    field_width_mm: float
    aspect: float
    pupil_distance_mm: float
    pupil_radius_mm: float
    working_distance_mm: float
    magnification: float
    effective_f_number: float
