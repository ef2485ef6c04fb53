"""A looped animation of a sweep: the light goes round, there and back where it does not come full circle."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.util import find_spec
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from lightsim.errors import OutputError
from lightsim.report.drawing.light_direction import ASPECT, draw_direction
from lightsim.report.drawing.page_files import page_image
from lightsim.report.drawing.sheet_of_paper import Sheet, fit_line
from lightsim.report.frames import SheetFrame, Varied, checked_frames
from lightsim.report.sheet.caption_lines import SEPARATOR, USUAL, measure_parts
from lightsim.report.sheet.mounting import strike_unbuildable
from lightsim.report.theme import SIZES, Face, Theme, theme_for
from lightsim.whole_file import replacing, require_suffix

if TYPE_CHECKING:
    from PIL.Image import Image

ANIMATION_SUFFIXES = (".webp", ".gif", ".mp4")
DEFAULT_WIDTH_PX = 720
DEFAULT_MOST_BYTES = 6_000_000
_FULL_TURN = {"clock": 12.0, "deg": 360.0}
_QUALITIES = (84, 70, 55)  # of WebP, tried in turn until the file is small enough
_SMALLER = 0.75  # after that the pictures shrink by this
_LEAST_WIDTH_PX = 160
_WIDTH_MM = 110.0  # as which the pictures' width is drawn, so that the type suits it
_STRIP_MM = 15.0  # caption and direction of light under the picture
_FILM_LOOPS = 2  # a film does not loop by itself everywhere
_FILM_RATE = 30  # pictures a second


def save_animations(
    paths: Sequence[str | Path],
    frames: Sequence[SheetFrame],
    *,
    frame_ms: int = 170,
    width_px: int = DEFAULT_WIDTH_PX,
    most_bytes: int = DEFAULT_MOST_BYTES,
    theme: Theme | None = None,
) -> list[Path]:
    """Write one animation under several names: a looped WebP or GIF, or a film (MP4) of two rounds.

    paths : the endings say which.  frame_ms : how long each frame stands; the two ends of a sweep that goes
        back stand twice as long.
    width_px : of the pictures, at most; they are never enlarged.
    most_bytes : a WebP or GIF is made again, coarser and then smaller, until it is no larger.
    theme : colours of the strip with the caption; on white paper when None.
    Raises OutputError for another ending, a place that cannot be written, or a film without the packages that
    make it; PictureError without a frame.
    """
    theme = theme_for() if theme is None else theme
    suffixes = [require_suffix(path, ANIMATION_SUFFIXES) for path in paths]
    shown = checked_frames(frames)
    order = play_order([frame.varied[0] if frame.varied else None for frame in shown])
    times = [frame_ms * (2 if _is_end(order, place) else 1) for place in range(len(order))]
    width = min(width_px, max(frame.image.shape[1] for frame in shown))
    pictures = animation_pictures(shown, width, theme)
    for path, suffix in zip(paths, suffixes, strict=True):
        with replacing(path) as part:
            if suffix == ".mp4":
                _write_film(part, pictures, order, times)
            else:
                part.write_bytes(_small_enough(pictures, order, times, suffix, most_bytes, theme))
    return [Path(path) for path in paths]


def films_possible() -> bool:
    """Whether the packages that write films are installed."""
    return find_spec("imageio") is not None and find_spec("imageio_ffmpeg") is not None


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
    pictures: list[Image],
    order: list[int],
    times: list[int],
    suffix: str,
    most_bytes: int,
    theme: Theme,
) -> bytes:
    """The file's content, at most so large unless the pictures would become too small to see."""
    while True:
        for quality in _QUALITIES if suffix == ".webp" else _QUALITIES[:1]:
            content = _encoded([pictures[index] for index in order], times, suffix, quality, theme)
            if len(content) <= most_bytes:
                return content
        size = [round(side * _SMALLER) for side in pictures[0].size]
        if size[0] < _LEAST_WIDTH_PX:
            return content
        pictures = [picture.resize((size[0], size[1])) for picture in pictures]


def animation_pictures(frames: Sequence[SheetFrame], width_px: int, theme: Theme) -> list[Image]:
    """Each frame with a caption and the direction of its light in a strip below, all of one size."""
    aspect = max(frame.image.shape[0] / frame.image.shape[1] for frame in frames)
    dpi = width_px / _WIDTH_MM * 25.4
    height_px = 2 * round((aspect * _WIDTH_MM + _STRIP_MM) / 25.4 * dpi / 2.0)  # films want even sides
    return [_picture(frame, aspect, height_px / dpi * 25.4, dpi, theme) for frame in frames]


def _picture(frame: SheetFrame, aspect: float, height_mm: float, dpi: float, theme: Theme) -> Image:
    sheet = Sheet.blank(_WIDTH_MM, height_mm, theme, dpi=dpi)
    high, wide = frame.image.shape[:2]
    scale = min(_WIDTH_MM / wide, aspect * _WIDTH_MM / high)
    left, top = 0.5 * (_WIDTH_MM - wide * scale), 0.5 * (aspect * _WIDTH_MM - high * scale)
    taken = sheet.picture(frame.image, (left, top, left + wide * scale, top + high * scale))
    strike_unbuildable(sheet, frame, taken)
    y = aspect * _WIDTH_MM
    room = _WIDTH_MM - 8.0
    if frame.angle_deg is not None:
        size = _STRIP_MM - 4.0
        room -= ASPECT * size + 2.0
        right = _WIDTH_MM - 4.0 - ASPECT * size
        draw_direction(sheet, right, y + 2.0, size, frame.angle_deg, frame.clock)
    _draw_caption(sheet, frame, 4.0, y, room)
    return page_image(sheet)


def _draw_caption(sheet: Sheet, frame: SheetFrame, x: float, y: float, room: float) -> None:
    """Heading with the light's name, measures below."""
    heading, text = 1.25 * SIZES["heading"], SIZES["text"]
    box = sheet.text(
        x, y + 6.6, fit_line(frame.heading, heading, room, Face.SEMIBOLD), heading, None, Face.SEMIBOLD
    )
    name = fit_line(frame.light_name, text, max(room - (box[2] - x) - 2.0, 1.0))
    sheet.text(box[2] + 1.6, y + 6.6, name if len(name) > 1 else "", text, sheet.theme.quiet)
    words = SEPARATOR.join(measure_parts(frame, USUAL))
    colour = sheet.theme.warning if frame.not_buildable else None
    sheet.text(x, y + 11.6, fit_line(words, text, room), text, colour)


def _write_film(path: Path, pictures: list[Image], order: list[int], times: list[int]) -> None:
    """H.264 in an MP4 file, each picture as long as its time, the whole twice."""
    import numpy as np

    if not films_possible():
        raise OutputError(f"{path.suffix}: films need more packages; install lightsim[video]")
    import imageio.v2 as imageio

    side = [edge - edge % 2 for edge in pictures[0].size]  # the coding wants even sides
    arrays = [np.asarray(picture.crop((0, 0, side[0], side[1]))) for picture in pictures]
    shortest = min(times)
    options = {
        "fps": 1000.0 / shortest,  # of what is handed over; the encoder repeats it
        "codec": "libx264",
        "quality": 8,
        "pixelformat": "yuv420p",
        "output_params": ["-r", str(_FILM_RATE), "-preset", "veryfast"],
    }
    with imageio.get_writer(path, format="FFMPEG", macro_block_size=2, **options) as film:  # type: ignore[arg-type]
        for index, time in [*zip(order, times, strict=True)] * _FILM_LOOPS:
            for _ in range(round(time / shortest)):
                film.append_data(arrays[index])  # type: ignore[attr-defined]


def _encoded(pictures: list[Image], times: list[int], suffix: str, quality: int, theme: Theme) -> bytes:
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
        indexed = [_indexed(picture, theme) for picture in pictures]
        indexed[0].save(
            file, format="GIF", save_all=True, append_images=indexed[1:], duration=times, loop=0, disposal=1
        )
    return file.getvalue()


def _indexed(picture: Image, theme: Theme) -> Image:
    """The picture in 256 colours of its own, the theme's among them."""
    from PIL import Image

    kept = tuple(theme.colours().values())
    own = picture.quantize(256 - len(kept), Image.Quantize.MEDIANCUT)
    palette = (own.getpalette() or [])[: 3 * (256 - len(kept))]
    colours = Image.new("P", (1, 1))
    colours.putpalette([*palette, *(level for colour in kept for level in colour)])
    return picture.quantize(palette=colours, dither=Image.Dither.FLOYDSTEINBERG)
