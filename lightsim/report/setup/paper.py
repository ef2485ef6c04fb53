"""An A4 page to draw on in millimetres, which comes out as PNG and as PDF with real lettering."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.font import font_path, text_width_px, wrapped
from lightsim.report.drawing.grey_card import A4_LONG_MM, A4_RATIO, INK, PAGE, POINT_MM, RGB8, hex_colour

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_MM = A4_LONG_MM / A4_RATIO
DPI = 300.0
ASCENT, DESCENT = 0.78, 0.22  # of a line's em above and below its baseline
_EM_PX = 100  # lettering is measured at this size

Box = tuple[float, float, float, float]  # left, top, right, bottom; mm from the page's top left corner
XY = tuple[float, float]


def text_width_mm(text: str, points: float, bold: bool = False) -> float:
    """Width of a line of text, mm."""
    return text_width_px(text, _EM_PX, bold) / _EM_PX * points * POINT_MM


def lines_of(text: str, points: float, width_mm: float, bold: bool = False) -> list[str]:
    """The text in lines no wider than `width_mm`."""
    return wrapped(text, _EM_PX, int(width_mm / (points * POINT_MM) * _EM_PX), bold)


def line_mm(points: float) -> float:
    """Height of a line of text with its leading, mm."""
    return 1.32 * points * POINT_MM


@dataclass(frozen=True)
class Lettering:
    """A line of text and the space that it takes."""

    text: str
    box: Box
    points: float


@dataclass
class Paper:
    """A page in the making. texts, pictures : what has been put down so far, in order."""

    figure: Figure
    axes: Axes
    height_mm: float
    texts: list[Lettering] = field(default_factory=list)
    pictures: list[Box] = field(default_factory=list)

    @classmethod
    def blank(cls, height_mm: float = A4_LONG_MM, colour: RGB8 = PAGE) -> Paper:
        """An empty page as wide as A4."""
        from matplotlib.figure import Figure

        size = [(round(side / 25.4 * DPI) + 0.01) / DPI for side in (WIDTH_MM, height_mm)]  # whole pixels
        figure = Figure(figsize=(size[0], size[1]), facecolor=hex_colour(colour))
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_xlim(0.0, WIDTH_MM)
        axes.set_ylim(height_mm, 0.0)
        axes.set_axis_off()
        return cls(figure, axes, height_mm)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        points: float,
        fill: RGB8 = INK,
        bold: bool = False,
        anchor: str = "left",
    ) -> Box:
        """One line of text on a baseline at y. anchor: left, middle or right. Returns the space it takes."""
        from matplotlib.font_manager import FontProperties

        width, em = text_width_mm(text, points, bold), points * POINT_MM
        left = x - width * {"left": 0.0, "middle": 0.5, "right": 1.0}[anchor]
        face = FontProperties(fname=str(font_path(bold)), size=points)
        # a dollar sign is no beginning of a formula here
        look: dict[str, Any] = {"ha": "left", "va": "baseline", "zorder": 10, "parse_math": False}
        self.axes.text(left, y, text, fontproperties=face, color=hex_colour(fill), **look)
        box = (left, y - ASCENT * em, left + width, y + DESCENT * em)
        self.texts.append(Lettering(text, box, points))
        return box

    def bar(self, box: Box, colour: RGB8, alpha: float = 1.0, zorder: float = 1) -> None:
        """A filled rectangle."""
        left, top, right, bottom = box
        corners = np.array([(left, top), (right, top), (right, bottom), (left, bottom)])
        self.polygon(corners, colour, alpha=alpha, zorder=zorder)

    def polygon(
        self,
        points: NDArray,
        fill: RGB8 | None,
        edge: RGB8 | None = None,
        width_mm: float = 0.2,
        alpha: float = 1.0,
        clip: Box | None = None,
        zorder: float = 2,
    ) -> None:
        """A filled outline (n, 2) mm."""
        from matplotlib.patches import Polygon

        patch = Polygon(
            points,
            closed=True,
            facecolor="none" if fill is None else hex_colour(fill),
            edgecolor="none" if edge is None else hex_colour(edge),
            linewidth=width_mm / POINT_MM if edge is not None else 0.0,
            joinstyle="round",
            alpha=alpha,
            zorder=zorder,
        )
        self.axes.add_patch(patch)
        self._clip(patch, clip)

    def line(
        self,
        points: Sequence[XY] | NDArray,
        colour: RGB8,
        width_mm: float = 0.2,
        dashes: tuple[float, ...] = (),
        alpha: float = 1.0,
        clip: Box | None = None,
        zorder: float = 3,
    ) -> None:
        """A line through points, mm; `dashes` are lengths of strokes and gaps in mm."""
        from matplotlib.lines import Line2D

        xs, ys = np.asarray(points, float).T
        look: dict[str, Any] = {"color": hex_colour(colour), "linewidth": width_mm / POINT_MM, "alpha": alpha}
        line = Line2D(xs, ys, zorder=zorder, solid_capstyle="butt", **look)
        if dashes:
            line.set_linestyle((0, tuple(dash / width_mm for dash in dashes)))
        self.axes.add_line(line)
        self._clip(line, clip)

    def disc(
        self,
        centre: XY,
        radius: float,
        fill: RGB8 | None,
        edge: RGB8 | None = None,
        width_mm: float = 0.2,
        clip: Box | None = None,
        zorder: float = 4,
    ) -> None:
        """A filled circle."""
        turn = np.linspace(0.0, 2.0 * np.pi, 73)
        rim = np.array(centre) + radius * np.column_stack([np.cos(turn), np.sin(turn)])
        self.polygon(rim, fill, edge, width_mm, clip=clip, zorder=zorder)

    def picture(self, picture: NDArray[np.uint8], box: Box, zorder: float = 1) -> None:
        """A picture (h, w, 3) that fills a box."""
        left, top, right, bottom = box
        self.axes.imshow(
            picture,
            extent=(left, right, bottom, top),
            aspect="auto",
            interpolation="antialiased",
            zorder=zorder,
        )
        self.axes.set_xlim(0.0, WIDTH_MM)
        self.axes.set_ylim(self.height_mm, 0.0)
        self.pictures.append(box)

    def _clip(self, artist: Any, box: Box | None) -> None:
        if box is not None:
            from matplotlib.patches import Rectangle

            left, top, right, bottom = box
            frame = Rectangle((left, top), right - left, bottom - top, transform=self.axes.transData)
            artist.set_clip_path(frame)

    def write_png(self, path: Path) -> None:
        """The page as a picture at 300 dots per inch."""
        from lightsim.report.drawing.figures import drawn
        from lightsim.report.files.formats import write_image

        write_image(path, drawn(self.figure, DPI), dpi=DPI)

    def write_pdf(self, path: Path, title: str) -> None:
        """The page as PDF, its lettering and lines as such, its typeface within."""
        from matplotlib import rc_context

        about = {"Title": title, "Creator": "lightsim", "Producer": None, "CreationDate": None}
        with rc_context({"pdf.fonttype": 42}):
            self.figure.savefig(
                path, format="pdf", dpi=DPI, metadata=about, facecolor=self.figure.get_facecolor()
            )
