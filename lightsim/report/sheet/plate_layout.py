"""Where everything on a contact sheet goes: pages, columns, rows, and sizes in millimetres.

The fewest pages are taken on which the frames can be seen and read, then the number of columns, on paper
lying or standing, that gives the largest pictures and leaves no frame alone in the last row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lightsim.errors import LightsimError
from lightsim.report.drawing.light_direction import ASPECT as DIRECTION_ASPECT
from lightsim.report.drawing.sheet_of_paper import line_height_mm, width_mm
from lightsim.report.sheet.caption_lines import packed
from lightsim.report.sheet.mounting import MAT_MM
from lightsim.report.sheet.page_furniture import MARGIN_MM
from lightsim.report.theme import SIZES, Face, PaperSize

GUTTER_MM = 4.0
WIDEST_GUTTER_MM = 16.0
PAD_MM = 1.6
LEAST_CELL_MM = 26.0
WIDEST_CELL_MM = 124.0
LEAST_INSET, WIDEST_INSET = 0.44, 0.64  # of the cell's width
LEAST_DIRECTION_MM, DIRECTION_SHARE = 8.5, 0.17  # height of the drawing of a light's direction, of the cell
_ROW_GAP_MM = 4.5
_STANDING = 0.92  # how much a standing page counts against a lying one
MOST_PAGES = 40


@dataclass(frozen=True)
class CaptionText:
    """What stands under a frame. heading : "75°"; name : "side"; parts : measures in short words."""

    heading: str
    name: str
    parts: tuple[str, ...]


@dataclass(frozen=True)
class Wanted:
    """What is to be laid out.

    captions : of the frames, in order.  aspect : height / width of the tallest picture.
    insets : drops shown enlarged under each frame, 0 to 2.
    directions : whether each frame has its direction of light drawn.
    column_heads, row_heads : of a grid, each frame's place being given by them.
    """

    captions: Sequence[CaptionText]
    aspect: float
    insets: int
    directions: bool
    column_heads: Sequence[str] = ()
    row_heads: Sequence[str] = ()


@dataclass(frozen=True)
class PlateLayout:
    """A laid-out contact sheet, mm.

    pages : frames of each page, by index.  width, height : of the paper.
    cell : width of a frame with its mat.  inset : side of an inset with its mat, 0 without.
    lines : of measures under the widest caption.  left, top : corner of the first frame.
    """

    pages: tuple[range, ...]
    columns: int
    width: float
    height: float
    cell: float
    picture: float
    inset: float
    lines: int
    gutter: float
    row_gap: float
    left: float
    top: float
    heads: float
    scale: float
    headed: bool

    @property
    def heading_points(self) -> float:
        """Size of a caption's heading."""
        return SIZES["heading"] * self.scale

    @property
    def points(self) -> float:
        """Size of the rest of a caption."""
        return SIZES["smallest"] * self.scale

    @property
    def caption_height(self) -> float:
        """Height of a caption without its inset."""
        return caption_height_mm(self.lines, self.scale, self.headed)

    @property
    def direction(self) -> float:
        """Height of the drawing of a frame's direction of light."""
        return direction_mm(self.cell)

    @property
    def cell_height(self) -> float:
        """Height of a frame with its caption and inset."""
        return self.picture + self.caption_height + (self.inset + PAD_MM if self.inset else 0.0)

    def corner(self, place: int) -> tuple[float, float]:
        """Top left corner of a place on its page, in reading order."""
        row, column = divmod(place, self.columns)
        x = self.left + column * (self.cell + self.gutter)
        return x, self.top + self.heads + row * (self.cell_height + self.row_gap)

    def rows_on(self, page: range) -> int:
        """Rows of frames on a page."""
        return -(-len(page) // self.columns)


def caption_height_mm(lines: int, scale: float, headed: bool) -> float:
    """Height of a heading, where there is one, and so many lines under it."""
    heading = line_height_mm(SIZES["heading"] * scale) if headed else 0.0
    return PAD_MM + heading + line_height_mm(SIZES["smallest"] * scale, lines)


def direction_mm(cell: float) -> float:
    """Height of the drawing of a light's direction under a frame so wide."""
    return max(LEAST_DIRECTION_MM, DIRECTION_SHARE * cell)


def lay_out_plate(
    wanted: Wanted, paper: PaperSize, header_mm: float, footer_mm: float, columns: int | None
) -> PlateLayout:
    """The best layout on a paper.

    header_mm, footer_mm : what stands above and below the frames on each page.
    columns : None leaves the choice to the layout.
    Raises LightsimError where the frames find no room however many pages they take.
    """
    count = len(wanted.captions)
    grid = len(wanted.column_heads)
    for pages in range(1, MOST_PAGES + 1):
        found = [
            layout
            for sides in ((paper.long_mm, paper.short_mm), (paper.short_mm, paper.long_mm))
            for number in ([grid] if grid else [columns] if columns else range(1, count + 1))
            if (layout := _candidate(wanted, sides, number, pages, header_mm, footer_mm)) is not None
        ]
        if found:
            return max(found, key=_worth)
    raise LightsimError(
        f"found {count} frames{f' in {columns} columns' if columns else ''} that find no room on this paper, "
        "allowed fewer columns or measures"
    )


def _worth(layout: PlateLayout) -> float:
    """Large pictures first; a last row that is not half full and a standing page count against a layout."""
    worth = layout.cell * (1.0 if layout.width > layout.height else _STANDING)
    for page in layout.pages:
        last = len(page) - (layout.rows_on(page) - 1) * layout.columns
        if layout.rows_on(page) > 1 and 2 * last < layout.columns:
            worth *= 0.7
    return worth


def _candidate(
    wanted: Wanted, sides: tuple[float, float], columns: int, pages: int, header: float, footer: float
) -> PlateLayout | None:
    """The layout with pictures as large as the paper allows; None where they or the words do not fit."""
    width, height = sides
    slices = page_slices(len(wanted.captions), pages, columns)
    rows = max(-(-len(page) // columns) for page in slices)
    heads_width = row_heads_mm(wanted.row_heads)
    heads = line_height_mm(SIZES["heading"]) + 1.0 if wanted.column_heads else 0.0
    across = width - 2.0 * MARGIN_MM - heads_width - (columns - 1) * GUTTER_MM
    down = height - 2.0 * MARGIN_MM - header - footer - heads - (rows - 1) * _ROW_GAP_MM
    cell = min(across / columns, WIDEST_CELL_MM)
    headed = any(text.heading for text in wanted.captions)
    while cell >= LEAST_CELL_MM:
        scale = min(max(cell / 56.0, 1.0), 1.3)
        lines = _lines(wanted, cell, scale)
        picture = wanted.aspect * (cell - 2.0 * MAT_MM) + 2.0 * MAT_MM
        caption = caption_height_mm(lines, scale, headed)
        left_over = down / rows - picture - caption
        least = _least_inset(wanted, cell)
        if left_over >= least + (PAD_MM if least else 0.0):
            inset = _inset(wanted, cell, left_over)
            free = across + (columns - 1) * GUTTER_MM - columns * cell
            gutter = min(free / max(columns - 1, 1), WIDEST_GUTTER_MM)
            used = picture + caption + (inset + PAD_MM if inset else 0.0)
            row_gap = _ROW_GAP_MM + min(max(down / rows - used, 0.0), 3.0)
            return PlateLayout(
                pages=tuple(slices),
                columns=columns,
                width=width,
                height=height,
                cell=cell,
                picture=picture,
                inset=inset,
                lines=lines,
                gutter=gutter,
                row_gap=row_gap,
                left=MARGIN_MM + heads_width,
                top=MARGIN_MM + header,
                heads=heads,
                scale=scale,
                headed=headed,
            )
        cell -= 0.5
    return None


def most_columns(paper: PaperSize) -> int:
    """How many frames find room side by side on a paper that lies."""
    return int((paper.long_mm - 2.0 * MARGIN_MM + GUTTER_MM) // (LEAST_CELL_MM + GUTTER_MM))


def page_slices(count: int, pages: int, columns: int) -> list[range]:
    """The frames of each page: whole rows, as even as can be."""
    rows = -(-count // columns)
    per_page = -(-rows // pages) * columns
    return [range(start, min(start + per_page, count)) for start in range(0, count, per_page)]


def row_heads_mm(heads: Sequence[str]) -> float:
    """Width of the names of a grid's rows, with the clear space after them."""
    if not heads:
        return 0.0
    return max(width_mm(head, SIZES["heading"], Face.SEMIBOLD) for head in heads) + GUTTER_MM


def caption_lines(text: CaptionText, cell: float, scale: float) -> tuple[str, list[str]]:
    """What stands beside the heading, and the lines under it: the light's name goes there where it does not
    fit beside the heading."""
    points = SIZES["smallest"] * scale
    head = width_mm(text.heading, SIZES["heading"] * scale, Face.SEMIBOLD) + 1.2
    if head + width_mm(text.name, points) <= cell:
        return text.name, packed(text.parts, points, cell)
    return "", [text.name, *packed(text.parts, points, cell)]


def _lines(wanted: Wanted, cell: float, scale: float) -> int:
    """Lines under the heading of the widest caption."""
    return max(len(caption_lines(text, cell, scale)[1]) for text in wanted.captions)


def _least_inset(wanted: Wanted, cell: float) -> float:
    if not wanted.insets:
        return direction_mm(cell) if wanted.directions else 0.0
    return _inset(wanted, cell, 0.0)


def _inset(wanted: Wanted, cell: float, left_over: float) -> float:
    """Side of an inset: as large as the height allows, beside its neighbour and the direction's drawing."""
    if not wanted.insets:
        return direction_mm(cell) if wanted.directions else 0.0
    beside = direction_mm(cell) * DIRECTION_ASPECT + PAD_MM if wanted.directions else 0.0
    room = (cell - beside - (wanted.insets - 1) * PAD_MM) / wanted.insets
    return min(room, max(LEAST_INSET * cell, min(WIDEST_INSET * cell, left_over - PAD_MM)))


def vacant(layout: PlateLayout, page: range) -> tuple[float, float, float] | None:
    """The place on a page that no frame takes: its top left corner and width; None where all are taken."""
    first, places = len(page), layout.rows_on(page) * layout.columns
    if first == places:
        return None
    x, y = layout.corner(first)
    return x, y, layout.corner(places - 1)[0] + layout.cell - x
