"""The camera: a plain body, its lens, the tubes between them, a close-up lens before it.

Lengths along the axis are the lens train's; widths are those of no camera in particular.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from lightsim.report.drawing.grey_card import RGB8
from lightsim.report.setup.solid.part import Part, box, rod

CAMERA = "camera"
MOUNT_TO_SENSOR_MM = (
    40.0  # between the depths of bodies with and without a mirror; common practice, no source
)
SHORTEST_LENS_MM = 30.0
LENS_RADIUS_MM = 33.0
TUBE_RADIUS_MM = 31.0

_BODY: RGB8 = (96, 98, 102)
_GRIP: RGB8 = (74, 76, 80)
_LENS: RGB8 = (122, 125, 130)
_RING: RGB8 = (88, 90, 94)
_GLASS: RGB8 = (54, 62, 78)
_TUBES: tuple[RGB8, ...] = ((186, 188, 192), (158, 160, 165))
_CLOSE_UP: RGB8 = (200, 203, 208)


def camera_parts(
    front_mm: float,
    sensor_mm: float,
    sensor_width_mm: float,
    pupil_radius_mm: float,
    tubes_mm: Sequence[float] = (),
    close_up: bool = False,
) -> list[Part]:
    """All parts, the lens axis along the scene's z.

    front_mm, sensor_mm : places of the lens's front and of the sensor.  tubes_mm : from the lens backward.
    """
    radius = max(LENS_RADIUS_MM, 1.25 * pupil_radius_mm + 6.0)
    tubes = [tube for tube in tubes_mm if tube > 0.0]
    mount = max(sensor_mm - MOUNT_TO_SENSOR_MM, front_mm + SHORTEST_LENS_MM + sum(tubes))
    lens_end = mount - sum(tubes)
    parts = [*_lens(front_mm, lens_end, radius, close_up), *_tubes(lens_end, tubes)]
    return [*parts, *_body(mount, min(max(sensor_width_mm / 36.0, 0.75), 2.0))]


def _barrel(what: str, start: float, end: float, radius: float, colour: RGB8) -> Part:
    return rod(CAMERA, what, np.array([0.0, 0.0, start]), np.array([0.0, 0.0, end]), radius, colour)


def _lens(front: float, end: float, radius: float, close_up: bool) -> Iterator[Part]:
    length = end - front
    yield _barrel("lens", front, end, radius - 2.0, _LENS)
    yield _barrel("ring", front + 0.30 * length, front + 0.62 * length, radius, _RING)
    yield _barrel("ring", front, front + min(6.0, 0.15 * length), radius, _RING)
    yield _barrel("glass", front - 0.4, front + 0.5, 0.72 * radius, _GLASS)
    if close_up:
        yield _barrel("close-up lens", front - 0.2, front + 7.0, radius + 2.0, _CLOSE_UP)


def _tubes(start: float, tubes: Sequence[float]) -> Iterator[Part]:
    for number, tube in enumerate(tubes):
        yield _barrel("tube", start, start + tube, TUBE_RADIUS_MM, _TUBES[number % 2])
        start += tube


def _body(mount: float, size: float) -> Iterator[Part]:
    """Body, hump for the finder, grip at the right hand; `size` 1 fits a sensor 36 mm wide."""

    def piece(what: str, low: tuple, high: tuple, colour: RGB8) -> Part:
        base = np.array([0.0, 0.0, mount])
        return box(CAMERA, what, base + size * np.array(low), base + size * np.array(high), colour)

    yield piece("body", (-66.0, -48.0, 0.0), (66.0, 40.0, 58.0), _BODY)
    yield piece("screen", (-38.0, -36.0, 58.0), (34.0, 16.0, 60.0), _GLASS)
    yield piece("finder", (-26.0, 40.0, 4.0), (26.0, 60.0, 64.0), _GRIP)
    yield piece("grip", (44.0, -48.0, -16.0), (70.0, 34.0, 2.0), _GRIP)
    yield piece("release", (50.0, 40.0, 8.0), (62.0, 44.0, 20.0), _GRIP)


def camera_foot(parts: Sequence[Part]) -> tuple[np.ndarray, np.ndarray]:
    """Where a support is screwed on, under the body (3,), and a point clear below it (3,)."""
    low, high = next(part.bounds for part in parts if part.what == "body")
    seat = np.array([0.0, low[1], 0.5 * (low[2] + high[2])])
    return seat, seat + np.array([0.0, -28.0, 0.0])
