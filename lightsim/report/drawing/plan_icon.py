"""A small plan of where the light stands: from above in the light's own plane, and as a clock face.

The plan lies in the plane through the lens axis and the light: the flower in the middle, the lens below
it on the axis, the light at its true angle, on the right for clock positions from 12 to 6 and on the left
from 6 to 12. The clock face beside it is the camera's view: its dot says how that plane is turned.
"""

from __future__ import annotations

from math import cos, pi, radians, sin
from typing import TYPE_CHECKING

from lightsim.report.drawing.grey_card import ACCENT, ACCENT_DEEP, PLATE, PLATE_LINE, PLATE_SHAPE, RGB8
from lightsim.report.words import folded_angle

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

XY = tuple[float, float]

ASPECT = 1.62  # width / height of the icon
PLAN_CENTRE: XY = (0.5, 0.5)  # in units of the icon's height
PLAN_RADIUS = 0.385  # of the circle on which the light stands
CLOCK_CENTRE: XY = (1.27, 0.5)
CLOCK_RADIUS = 0.235
_OVERSAMPLING = 4


def plan_place(angle_deg: float, clock: float, ring: float = 1.0) -> XY:
    """The light's place in the plan, in units of the icon's height: x to the right, y downward.

    ring: its distance from the flower as a share of the circle's radius.
    """
    angle = radians(folded_angle(angle_deg))
    side = -1.0 if 6.0 < _seen_clock(angle_deg, clock) < 12.0 else 1.0
    return (
        PLAN_CENTRE[0] + side * ring * PLAN_RADIUS * sin(angle),
        PLAN_CENTRE[1] + ring * PLAN_RADIUS * cos(angle),
    )


def clock_place(angle_deg: float, clock: float) -> XY:
    """The dot's place on the clock face; in its middle where the light stands on the lens axis."""
    if min(folded_angle(angle_deg), 180.0 - folded_angle(angle_deg)) < 0.5:
        return CLOCK_CENTRE
    turn = radians(30.0 * _seen_clock(angle_deg, clock))
    return CLOCK_CENTRE[0] + CLOCK_RADIUS * sin(turn), CLOCK_CENTRE[1] - CLOCK_RADIUS * cos(turn)


def plan_icon(
    angle_deg: float, clock: float, height_px: int, *, ring: float = 1.0, opacity: float = 1.0
) -> Image:
    """The plan and the clock face on a dark plate, RGBA, `ASPECT` times as wide as high.

    ring : where the light stands between flower and circle, 0.5..1.
    opacity : of the plate behind the drawing, 0..1.
    """
    from PIL import Image, ImageDraw

    unit = height_px * _OVERSAMPLING
    size = (round(ASPECT * unit), unit)
    image = Image.new("RGBA", size, (*PLATE, 0))
    draw = ImageDraw.Draw(image)
    draw.rounded_rectangle((0, 0, size[0] - 1, size[1] - 1), 0.12 * unit, fill=(*PLATE, round(255 * opacity)))
    _draw_plan(image, plan_place(angle_deg, clock, min(max(ring, 0.5), 1.0)), unit)
    _draw_clock(ImageDraw.Draw(image), clock_place(angle_deg, clock), unit)
    return image.resize((round(ASPECT * height_px), height_px), Image.Resampling.BOX)


def _seen_clock(angle_deg: float, clock: float) -> float:
    """The clock position from 0 up to 12; an angle beyond 180 stands opposite."""
    turned = 6.0 if (angle_deg % 360.0) > 180.0 else 0.0
    return (clock + turned) % 12.0


def _draw_plan(image: Image, light: XY, unit: int) -> None:
    from PIL import ImageDraw

    _draw_beam(image, light, unit)
    draw = ImageDraw.Draw(image)
    cx, cy = PLAN_CENTRE
    _ring(draw, PLAN_CENTRE, PLAN_RADIUS, 0.012, unit)
    for step in range(9):  # the lens axis, dashed
        y = cy - 0.40 + 0.1 * step
        _line(draw, (cx, y), (cx, y + 0.05), 0.012, unit, PLATE_LINE)
    _draw_flower(draw, unit)
    _draw_lens(draw, unit)
    _draw_light(draw, light, unit)


def _draw_beam(image: Image, light: XY, unit: int) -> None:
    """The light's cone toward the flower, see-through."""
    from PIL import Image as Images
    from PIL import ImageDraw

    across = _across(light, 0.085)
    near = _across(light, 0.03)
    cx, cy = PLAN_CENTRE
    corners = [
        (light[0] + near[0], light[1] + near[1]),
        (cx + across[0], cy + across[1]),
        (cx - across[0], cy - across[1]),
        (light[0] - near[0], light[1] - near[1]),
    ]
    veil = Images.new("RGBA", image.size, (*ACCENT, 0))
    ImageDraw.Draw(veil).polygon([_px(corner, unit) for corner in corners], fill=(*ACCENT, 120))
    image.alpha_composite(veil)


def _draw_flower(draw: ImageDraw, unit: int) -> None:
    cx, cy = PLAN_CENTRE
    for petal in range(5):
        turn = 2 * pi * petal / 5
        _disc(draw, (cx + 0.058 * sin(turn), cy - 0.058 * cos(turn)), 0.05, unit, PLATE_SHAPE)
    _disc(draw, PLAN_CENTRE, 0.032, unit, ACCENT_DEEP)


def _draw_lens(draw: ImageDraw, unit: int) -> None:
    """A lens barrel below the flower that looks up at it, with the camera's back behind it."""
    cx, cy = PLAN_CENTRE
    barrel = [(-0.062, 0.22), (0.062, 0.22), (0.075, 0.36), (-0.075, 0.36)]
    draw.polygon([_px((cx + x, cy + y), unit) for x, y in barrel], fill=PLATE_SHAPE)
    top_left, bottom_right = _px((cx - 0.13, cy + 0.36), unit), _px((cx + 0.13, cy + 0.455), unit)
    draw.rounded_rectangle((*top_left, *bottom_right), 0.025 * unit, fill=PLATE_SHAPE)


def _draw_light(draw: ImageDraw, light: XY, unit: int) -> None:
    _disc(draw, light, 0.096, unit, PLATE)
    _disc(draw, light, 0.078, unit, ACCENT)


def _draw_clock(draw: ImageDraw, dot: XY, unit: int) -> None:
    _ring(draw, CLOCK_CENTRE, CLOCK_RADIUS, 0.016, unit)
    cx, cy = CLOCK_CENTRE
    for hour in range(12):
        x, y = sin(radians(30 * hour)), -cos(radians(30 * hour))
        start = 0.72 if hour % 3 == 0 else 0.85
        inner = (cx + start * CLOCK_RADIUS * x, cy + start * CLOCK_RADIUS * y)
        outer = (cx + CLOCK_RADIUS * x, cy + CLOCK_RADIUS * y)
        _line(draw, inner, outer, 0.02, unit, PLATE_SHAPE if hour == 0 else PLATE_LINE)
    _line(draw, CLOCK_CENTRE, dot, 0.026, unit, ACCENT)
    _disc(draw, dot, 0.09, unit, PLATE)
    _disc(draw, dot, 0.074, unit, ACCENT)


def _across(light: XY, half: float) -> XY:
    """A vector of length `half` square to the line from the flower to the light."""
    dx, dy = light[0] - PLAN_CENTRE[0], light[1] - PLAN_CENTRE[1]
    length = (dx * dx + dy * dy) ** 0.5 or 1.0
    return -dy / length * half, dx / length * half


def _px(point: XY, unit: int) -> XY:
    return point[0] * unit, point[1] * unit


def _disc(draw: ImageDraw, centre: XY, radius: float, unit: int, fill: RGB8) -> None:
    draw.circle(_px(centre, unit), radius * unit, fill=fill)


def _ring(draw: ImageDraw, centre: XY, radius: float, width: float, unit: int) -> None:
    draw.circle(_px(centre, unit), radius * unit, outline=PLATE_LINE, width=max(round(width * unit), 1))


def _line(draw: ImageDraw, start: XY, end: XY, width: float, unit: int, fill: RGB8) -> None:
    draw.line((*_px(start, unit), *_px(end, unit)), fill=fill, width=max(round(width * unit), 1))
