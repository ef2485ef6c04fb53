"""The camera: a plain body, its lens, the tubes between them, a close-up lens before it.

Its measures are those of the solid things that the tracer has too (`scene.solid_bodies`); what is on them is
drawn only.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from lightsim.optics.lens_pieces import CLOSE_UP, SECOND, TELECONVERTER, TUBE
from lightsim.report.setup.solid.part import Part, box, of_body, rod
from lightsim.report.theme.legible import RGB8
from lightsim.scene.solid_bodies import CAMERA
from lightsim.scene.stage import Body

_BODY: RGB8 = (188, 190, 193)
_GRIP: RGB8 = (168, 170, 174)
_LENS: RGB8 = (206, 208, 211)
_RING: RGB8 = (172, 174, 178)
_GLASS: RGB8 = (128, 138, 154)
_TUBES: tuple[RGB8, ...] = ((230, 231, 233), (214, 216, 219))
_SECOND: RGB8 = (198, 200, 204)
_CLOSE_UP: RGB8 = (236, 237, 239)


def camera_parts(bodies: Sequence[Body]) -> list[Part]:
    """All parts, the lens axis along the scene's z. bodies : of the camera, see `scene.solid_bodies`."""
    lens, body = (next(one for one in bodies if one.what == what) for what in ("lens", "body"))
    tubes = [one for one in bodies if one.what in (TUBE, TELECONVERTER)]
    parts = [of_body(lens, _LENS, thinner=2.0), *_on_lens(lens)]
    parts += [of_body(one, _CLOSE_UP) for one in bodies if one.what == CLOSE_UP]
    for second in (one for one in bodies if one.what == SECOND):
        front, radius = float(second.centre[2]) - second.half_depth_mm, second.half_width_mm
        parts += [of_body(second, _SECOND), _barrel("glass", front - 0.4, front + 0.5, 0.6 * radius, _GLASS)]
    parts += [of_body(tube, _TUBES[number % 2]) for number, tube in enumerate(tubes)]
    return [*parts, of_body(body, _BODY), *_on_camera(body)]


def _barrel(what: str, start: float, end: float, radius: float, colour: RGB8) -> Part:
    return rod(CAMERA, what, np.array([0.0, 0.0, start]), np.array([0.0, 0.0, end]), radius, colour)


def _on_lens(lens: Body) -> Iterator[Part]:
    length, radius = 2.0 * lens.half_depth_mm, lens.half_width_mm
    front = float(lens.centre[2]) - lens.half_depth_mm
    yield _barrel("ring", front + 0.30 * length, front + 0.62 * length, radius, _RING)
    yield _barrel("ring", front, front + min(6.0, 0.15 * length), radius, _RING)
    yield _barrel("glass", front - 0.4, front + 0.5, 0.72 * radius, _GLASS)


def _on_camera(body: Body) -> Iterator[Part]:
    """Hump for the finder, grip at the right hand, screen and release, in proportion to the body."""
    mount, size = float(body.centre[2]) - body.half_depth_mm, body.half_depth_mm / 29.0

    def piece(what: str, low: tuple, high: tuple, colour: RGB8) -> Part:
        base = np.array([0.0, 0.0, mount])
        return box(CAMERA, what, base + size * np.array(low), base + size * np.array(high), colour)

    yield piece("screen", (-38.0, -36.0, 58.0), (34.0, 16.0, 60.0), _GLASS)
    yield piece("finder", (-26.0, 40.0, 4.0), (26.0, 60.0, 64.0), _GRIP)
    yield piece("grip", (44.0, -48.0, -16.0), (70.0, 34.0, 2.0), _GRIP)
    yield piece("release", (50.0, 40.0, 8.0), (62.0, 44.0, 20.0), _GRIP)


def camera_foot(parts: Sequence[Part]) -> tuple[np.ndarray, np.ndarray]:
    """Where a support is screwed on, under the body (3,), and a point clear below it (3,)."""
    low, high = next(part.bounds for part in parts if part.what == "body")
    seat = np.array([0.0, low[1], 0.5 * (low[2] + high[2])])
    return seat, seat + np.array([0.0, -28.0, 0.0])
