"""A page to draw on in millimetres: text, lines, areas, pictures and panels of curves, all of them vectors.

What has been put down is remembered with the space that it takes, so that layouts can be checked.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from threading import RLock
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lightsim.report.theme import POINT_MM, RGB8, Face, Theme, face_file, hex_colour

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from PIL.ImageFont import FreeTypeFont

ASCENT, DESCENT = 0.73, 0.24  # of a line's em above and below its baseline
LEADING = 1.3  # of a line's em from baseline to baseline
_EM = 200  # units in which text is measured


@lru_cache
def _font(face: Face) -> FreeTypeFont:
    from PIL import ImageFont, features

    # kerning and ligatures as matplotlib sets them
    engine = ImageFont.Layout.RAQM if features.check("raqm") else ImageFont.Layout.BASIC
    return ImageFont.truetype(str(face_file(face)), _EM, layout_engine=engine)


@lru_cache(maxsize=16384)
def _ems(text: str, face: Face) -> float:
    return float(_font(face).getlength(text)) / _EM


def width_mm(text: str, points: float, face: Face = Face.REGULAR) -> float:
    """Width of a line of text, mm."""
    return _ems(text, face) * points * POINT_MM


def line_height_mm(points: float, lines: int = 1) -> float:
    """Height of so many lines of text with their leading, mm."""
    return lines * LEADING * points * POINT_MM


def break_lines(text: str, points: float, room_mm: float, face: Face = Face.REGULAR) -> list[str]:
    """The text in lines no wider than the room, broken at plain spaces; too long a word is cut short."""
    lines: list[str] = []
    for word in filter(None, text.split(" ")):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_mm(longer, points, face) <= room_mm:
            lines[-1] = longer
        else:
            lines.append(fit_line(word, points, room_mm, face))
    return lines


def fit_line(text: str, points: float, room_mm: float, face: Face = Face.REGULAR) -> str:
    """The text, cut with an ellipsis where it is wider than the room."""
    if width_mm(text, points, face) <= room_mm:
        return text
    fitting, cut = 0, len(text)  # so many letters fit, so many do not
    while cut - fitting > 1:
        middle = (fitting + cut) // 2
        if width_mm(text[:middle].rstrip() + "…", points, face) <= room_mm:
            fitting = middle
        else:
            cut = middle
    return text[:fitting].rstrip() + "…"


DPI = 300.0  # of pages as pixels and of pictures on them, where nothing else is said
HAIRLINE_MM = 0.18  # the thin line of ISO 128-20, group 0.35 mm

Box = tuple[float, float, float, float]  # left, top, right, bottom; mm from the page's top left corner
XY = tuple[float, float]

# How pages are drawn and written: type as type, whole fonts' outlines, widths as the fonts give them.
DRAWING: dict[str, Any] = {
    "pdf.fonttype": 42,
    "svg.fonttype": "path",
    "svg.hashsalt": "lightsim",
    "text.hinting": "none",
    "text.parse_math": False,
    "axes.unicode_minus": True,
    "path.simplify": False,
}


@dataclass(frozen=True)
class Lettering:
    """A line of text and the space that it takes."""

    text: str
    box: Box
    points: float
    colour: RGB8


@dataclass
class Sheet:
    """A page in the making. texts, pictures : what has been put down so far, in order.

    title : of the document, as a reader of PDF shows it.  dpi : dots per inch of its pictures.
    """

    figure: Figure
    axes: Axes
    width_mm: float
    height_mm: float
    theme: Theme
    title: str = ""
    dpi: float = DPI
    texts: list[Lettering] = field(default_factory=list)
    pictures: list[Box] = field(default_factory=list)

    @classmethod
    def blank(
        cls, width_mm: float, height_mm: float, theme: Theme, title: str = "", dpi: float = DPI
    ) -> Sheet:
        """An empty page in the theme's paper colour, whole pixels wide and high."""
        from matplotlib.figure import Figure

        size = [(round(side / 25.4 * dpi) + 0.01) / dpi for side in (width_mm, height_mm)]
        figure = Figure(figsize=(size[0], size[1]), facecolor=hex_colour(theme.paper))
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_xlim(0.0, size[0] * 25.4)
        axes.set_ylim(size[1] * 25.4, 0.0)
        axes.set_autoscale_on(False)
        axes.set_axis_off()
        return cls(figure, axes, width_mm, height_mm, theme, title, dpi)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        points: float,
        colour: RGB8 | None = None,
        face: Face = Face.REGULAR,
        anchor: str = "left",
        turn_deg: float = 0.0,
    ) -> Box:
        """One line of text on a baseline at y. colour : ink when None. anchor : left, middle or right.

        turn_deg : about the place that is anchored, counter-clockwise. Returns the space it takes.
        """
        from matplotlib.font_manager import FontProperties

        wide, em = width_mm(text, points, face), points * POINT_MM
        before = wide * {"left": 0.0, "middle": 0.5, "right": 1.0}[anchor]
        turn = np.radians(turn_deg)
        along, up = np.array([np.cos(turn), -np.sin(turn)]), np.array([-np.sin(turn), -np.cos(turn)])
        left, base = np.array([x, y]) - before * along
        colour = self.theme.ink if colour is None else colour
        font = FontProperties(fname=str(face_file(face)), size=points)
        look: dict[str, Any] = {"ha": "left", "va": "baseline", "zorder": 10, "parse_math": False}
        look |= {"rotation": turn_deg, "rotation_mode": "anchor"}
        self.axes.text(left, base, text, fontproperties=font, color=hex_colour(colour), **look)
        ends = np.array([left, base]) + np.array([[0.0], [wide]]) * along
        corners = np.vstack([ends + ASCENT * em * up, ends - DESCENT * em * up])
        box = _bounds(corners)
        self.texts.append(Lettering(text, box, points, colour))
        return box

    def bar(self, box: Box, colour: RGB8, zorder: float = 1.0) -> None:
        """A filled rectangle."""
        left, top, right, bottom = box
        corners = np.array([(left, top), (right, top), (right, bottom), (left, bottom)])
        self.polygon(corners, colour, zorder=zorder)

    def frame(self, box: Box, colour: RGB8 | None = None, width: float = HAIRLINE_MM) -> None:
        """A rectangle's outline."""
        left, top, right, bottom = box
        self.line([(left, top), (right, top), (right, bottom), (left, bottom), (left, top)], colour, width)

    def polygon(
        self,
        points: NDArray,
        fill: RGB8 | None,
        edge: RGB8 | None = None,
        width: float = HAIRLINE_MM,
        clip: Box | None = None,
        zorder: float = 2.0,
    ) -> None:
        """A filled outline, points (n, 2) and width of its edge in mm."""
        from matplotlib.patches import Polygon

        patch = Polygon(
            points,
            closed=True,
            facecolor="none" if fill is None else hex_colour(fill),
            edgecolor="none" if edge is None else hex_colour(edge),
            linewidth=width / POINT_MM if edge is not None else 0.0,
            joinstyle="round",
            zorder=zorder,
        )
        self.axes.add_patch(patch)
        self._clip(patch, clip)

    def line(
        self,
        points: Sequence[XY] | NDArray,
        colour: RGB8 | None = None,
        width: float = HAIRLINE_MM,
        dashes: tuple[float, ...] = (),
        clip: Box | None = None,
        zorder: float = 3.0,
    ) -> None:
        """A line through points, mm; hairline grey when no colour is given. dashes : strokes and gaps, mm."""
        from matplotlib.lines import Line2D

        xs, ys = np.asarray(points, float).T
        colour = self.theme.hairline if colour is None else colour
        look: dict[str, Any] = {"color": hex_colour(colour), "linewidth": width / POINT_MM}
        line = Line2D(xs, ys, zorder=zorder, solid_capstyle="butt", **look)
        if dashes:
            line.set_linestyle((0, tuple(dash / width for dash in dashes)))
        self.axes.add_line(line)
        self._clip(line, clip)

    def disc(
        self,
        centre: XY,
        radius: float,
        fill: RGB8 | None,
        edge: RGB8 | None = None,
        width: float = HAIRLINE_MM,
        zorder: float = 4.0,
    ) -> None:
        """A circle."""
        self.polygon(arc(centre, radius, 0.0, 360.0), fill, edge, width, zorder=zorder)

    def picture(self, picture: NDArray[np.uint8], box: Box, zorder: float = 1.5) -> Box:
        """A picture (h, w, 3) that fills a box, moved to whole pixels; returns the box it takes."""
        left, top, right, bottom = (round(side / 25.4 * self.dpi) for side in box)
        mm = 25.4 / self.dpi
        shown = at_size(picture, max(right - left, 1), max(bottom - top, 1))
        taken = (left * mm, top * mm, right * mm, bottom * mm)
        extent = (taken[0], taken[2], taken[3], taken[1])
        self.axes.imshow(shown, extent=extent, aspect="auto", interpolation="none", zorder=zorder)
        self.pictures.append(taken)
        return taken

    def panel(self, box: Box) -> Axes:
        """Axes for curves in a box of the page."""
        left, top, right, bottom = box
        width, height = (25.4 * side for side in self.figure.get_size_inches())
        place = (left / width, 1.0 - bottom / height, (right - left) / width, (bottom - top) / height)
        panel = self.figure.add_axes(place)
        panel.set_zorder(2.0)
        panel.patch.set_alpha(0.0)
        return panel

    def _clip(self, artist: Any, box: Box | None) -> None:
        if box is not None:
            from matplotlib.patches import Rectangle

            left, top, right, bottom = box
            frame = Rectangle((left, top), right - left, bottom - top, transform=self.axes.transData)
            artist.set_clip_path(frame)


def _bounds(points: NDArray) -> Box:
    """The box about points (n, 2)."""
    (left, top), (right, bottom) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return left, top, right, bottom


def arc(centre: XY, radius: float, start_deg: float, end_deg: float) -> NDArray[np.float64]:
    """Points (n, 2) along a circle, from start to end; 0 points right, 90 down the page."""
    count = max(int(abs(end_deg - start_deg) / 3.0), 2) + 1
    turn = np.radians(np.linspace(start_deg, end_deg, count))
    return np.asarray(centre, float) + radius * np.column_stack([np.cos(turn), np.sin(turn)])


def at_size(picture: NDArray[np.uint8], width: int, height: int) -> NDArray[np.uint8]:
    """A picture at another size in pixels."""
    from PIL import Image

    if picture.shape[:2] == (height, width):
        return picture
    smaller = width < picture.shape[1]
    method = Image.Resampling.LANCZOS if smaller else Image.Resampling.BICUBIC
    return np.asarray(Image.fromarray(picture).resize((width, height), method))


_turn = RLock()


@contextmanager
def drawing() -> Iterator[None]:
    """matplotlib set for pages, whatever else the process has set; by one thread at a time, since what is
    set holds for all of them."""
    from matplotlib import rc_context

    with _turn, rc_context(DRAWING):  # type: ignore[arg-type]
        yield
