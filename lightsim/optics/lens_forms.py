"""What a camera is to the tracer, and the effective f-number of a lens by itself.

m is the magnification, P the pupil ratio (exit pupil over entrance pupil), N the f-number as marked for
infinity. Ray, Applied Photographic Optics; Conrad, Depth of Field in Depth.
"""

from __future__ import annotations

from typing import NamedTuple

FARTHEST_PUPIL_MM = 2000.0  # beyond it rays through a subject of some mm run side by side to 0.1 %


def effective_f_number(f_number: float, magnification: float, pupil_ratio: float = 1.0) -> float:
    """N (1 + m/P): the f-number by which a lens by itself lights the sensor. ISO 12232 has the case P = 1."""
    return f_number * (1 + magnification / pupil_ratio)


class Geometry(NamedTuple):
    """What a tracer needs to know of the camera; mm, distances from the plane of sharp focus."""

    field_width_mm: float
    aspect: float
    pupil_distance_mm: float
    pupil_radius_mm: float
    working_distance_mm: float
    magnification: float
    effective_f_number: float
    mount_distance_mm: float
    sensor_distance_mm: float
