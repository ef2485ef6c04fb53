"""A looped animation of a sweep: the light goes round, there and back where it does not come full circle."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from lightsim.report.drawing.canvas import Canvas
from lightsim.report.drawing.font import shortened, text_width_px
from lightsim.report.drawing.grey_card import ACCENT, INK, LABEL, PAGE, PLATE, PLATE_LINE, PLATE_SHAPE
from lightsim.report.drawing.plan_icon import ASPECT
from lightsim.report.files.atomic import replacing, require_suffix
from lightsim.report.frames import SheetFrame, Varied, checked_frames, largest_distance_mm
from lightsim.report.sheet.captions import CONTRAST, Footnotes, contrast_words
from lightsim.report.sheet.cells import draw_plan

if TYPE_CHECKING:
    from PIL.Image import Image

ANIMATION_SUFFIXES = (".webp", ".gif")
DEFAULT_WIDTH_PX = 720
DEFAULT_MOST_BYTES = 6_000_000
_FULL_TURN = {"clock": 12.0, "deg": 360.0}
_QUALITIES = (84, 70, 55)  # of WebP, tried in turn until the file is small enough
_SMALLER = 0.75  # after that the pictures shrink by this
_LEAST_WIDTH_PX = 160


def save_animation(
    path: str | Path,
    frames: Sequence[SheetFrame],
    *,
    frame_ms: int = 170,
    width_px: int = DEFAULT_WIDTH_PX,
    most_bytes: int = DEFAULT_MOST_BYTES,
) -> Path:
    """Write a looped WebP or GIF, by the file's ending.

    frame_ms : how long each frame stands; the two ends of a sweep that goes back stand twice as long.
    width_px : of the pictures, at most; they are never enlarged.
    most_bytes : the file is made again, coarser and then smaller, until it is no larger.
    Raises OutputError for another ending or a place that cannot be written, PictureError without a frame.
    """
    suffix = require_suffix(path, ANIMATION_SUFFIXES)
    shown = checked_frames(frames)
    order = play_order([frame.varied[0] if frame.varied else None for frame in shown])
    times = [frame_ms * (2 if _is_end(order, place) else 1) for place in range(len(order))]
    with replacing(path) as part:
        part.write_bytes(_small_enough(shown, order, times, suffix, width_px, most_bytes))
    return Path(path)


def play_order(varied: Sequence[Varied | None]) -> list[int]:
    """In which order the frames of one loop are shown, by index.

    Forward where the values go full circle in even steps (a clock position over 12 hours, an angle over 360
    degrees); else there and back, without showing the ends twice in a row.
    """
    count = len(varied)
    forward = list(range(count))
    return forward if _is_full_circle(varied) else forward + forward[-2:0:-1]


def _is_full_circle(varied: Sequence[Varied | None]) -> bool:
    if len(varied) < 3:
        return False
    values = [each.value for each in varied if each is not None and not isinstance(each.value, str)]
    turn = _FULL_TURN.get(varied[0].unit) if varied[0] is not None else None
    if turn is None or len(values) != len(varied):
        return False
    steps = [(b - a) % turn for a, b in zip(values, [*values[1:], values[0]], strict=True)]
    return max(steps) - min(steps) < 1e-6 * turn and abs(sum(steps) - turn) < 1e-6 * turn


def _is_end(order: list[int], place: int) -> bool:
    """Whether the light turns back here."""
    turns_back = len(order) > max(order) + 1
    return turns_back and order[place] in (0, max(order))


def _small_enough(
    frames: list[SheetFrame], order: list[int], times: list[int], suffix: str, width_px: int, most_bytes: int
) -> bytes:
    """The file's content, no larger than asked unless the pictures would become too small to see."""
    width = min(width_px, max(frame.image.shape[1] for frame in frames))
    while True:
        pictures = animation_pictures(frames, width)
        for quality in _QUALITIES if suffix == ".webp" else _QUALITIES[:1]:
            content = _encoded([pictures[index] for index in order], times, suffix, quality)
            if len(content) <= most_bytes:
                return content
        if width * _SMALLER < _LEAST_WIDTH_PX:
            return content
        width = round(width * _SMALLER)


def animation_pictures(frames: Sequence[SheetFrame], width_px: int) -> list[Image]:
    """Each frame with a caption and the plan of its light in a strip below, all of one size."""
    height = round(width_px * max(frame.image.shape[0] / frame.image.shape[1] for frame in frames))
    farthest = largest_distance_mm(frames)
    return [_picture(frame, width_px, height, farthest) for frame in frames]


def _picture(frame: SheetFrame, width: int, height: int, farthest_mm: float) -> Image:
    from PIL import Image

    text = max(round(width / 32), 9)
    pad, icon = round(0.5 * text), round(3.2 * text)
    canvas = Canvas.blank(width, height + icon + 2 * pad)
    scale = min(width / frame.image.shape[1], height / frame.image.shape[0])
    size = (round(frame.image.shape[1] * scale), round(frame.image.shape[0] * scale))
    picture = Image.fromarray(frame.image).resize(size, Image.Resampling.LANCZOS)
    canvas.picture(picture, (width - size[0]) // 2, (height - size[1]) // 2)
    draw_plan(canvas, width - pad, height + pad, frame, farthest_mm, icon)
    _draw_caption(canvas, frame, 2 * pad, height + pad, text, width - 4 * pad - round(ASPECT * icon))
    return canvas.image


def _draw_caption(canvas: Canvas, frame: SheetFrame, x: int, y: int, text: int, room: int) -> None:
    """Heading with the light's name, contrast below."""
    large = round(1.5 * text)
    heading = shortened(frame.heading, large, room, bold=True)
    canvas.text(x, y + round(1.4 * text), heading, large, INK, bold=True)
    after = text_width_px(heading + " ", large, bold=True)
    if after + text_width_px(frame.light_name, text) <= room:
        canvas.text(x + after, y + round(1.4 * text), frame.light_name, text, INK)
    if frame.measures.petal_contrast_stops is not None:
        base = y + round(2.85 * text)
        canvas.text(x, base, CONTRAST, text, LABEL)
        words = contrast_words(frame.measures, Footnotes())
        canvas.text(x + text_width_px(CONTRAST + " ", text), base, words, text, INK)


def _encoded(pictures: list[Image], times: list[int], suffix: str, quality: int) -> bytes:
    """The pictures as one looped file."""
    file = BytesIO()
    if suffix == ".webp":
        pictures[0].save(
            file,
            format="WEBP",
            save_all=True,
            append_images=pictures[1:],
            duration=times,
            loop=0,
            quality=quality,
            method=2,
        )
    else:
        indexed = [_indexed(picture) for picture in pictures]
        indexed[0].save(
            file, format="GIF", save_all=True, append_images=indexed[1:], duration=times, loop=0, disposal=1
        )
    return file.getvalue()


def _indexed(picture: Image) -> Image:
    """The picture in 256 colours of its own, those of the plan and the lettering among them."""
    from PIL import Image

    kept = (ACCENT, INK, LABEL, PAGE, PLATE, PLATE_LINE, PLATE_SHAPE)
    own = picture.quantize(256 - len(kept), Image.Quantize.MEDIANCUT)
    palette = (own.getpalette() or [])[: 3 * (256 - len(kept))]
    colours = Image.new("P", (1, 1))
    colours.putpalette([*palette, *(level for colour in kept for level in colour)])
    return picture.quantize(palette=colours, dither=Image.Dither.FLOYDSTEINBERG)
