"""A direction as an angle off the lens axis and a clock position, however it was given."""

from __future__ import annotations


def same_direction(angle_deg: float, clock: float) -> tuple[float, float]:
    """The same direction with its angle from 0 to 180 degrees and its clock position above 0, up to 12.

    An angle below 0 or above 180 lies at the opposite clock position; whole turns are left out.

    >>> same_direction(-15.0, 10.0), same_direction(370.0, 3.0), same_direction(200.0, 3.0)
    ((15.0, 4.0), (10.0, 3.0), (160.0, 9.0))
    """
    turned = angle_deg % 360.0
    if turned > 180.0:
        turned, clock = 360.0 - turned, clock + 6.0
    return turned, clock % 12.0 or 12.0
