"""Where everything on a contact sheet goes: how many columns, how large the pictures and the words.

A sheet is laid out for A4, lying or standing: the number of columns is taken that gives the largest pictures
while every caption fits and its words measure `SMALLEST_PT` in print. They never shrink below that size in
pixels; so many frames that they do not fit on A4 (more than about 16) make a higher sheet, for larger paper.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from lightsim.report.drawing.font import text_width_px, wrapped
from lightsim.report.drawing.grey_card import A4_RATIO, SMALLEST_PT, points_to_px
from lightsim.report.drawing.plan_icon import ASPECT
from lightsim.report.sheet.captions import CONTRAST, Caption
from lightsim.report.words import glued

MOST_COLUMNS = 10
_LARGER = (1.7, 1.5, 1.35, 1.2, 1.1, 1.0)  # how far the words of a caption may grow with their picture
_INSET_SHARE = 0.30  # side of the inset / width of the picture, where the words do not ask for more
_WIDEST_GAP = 5  # times the usual one
_WIDEST_CELL = 0.46  # share of the page: one picture alone does not fill it
_SLACK = 1.05  # a page may be that much too high before the pictures shrink


@dataclass(frozen=True)
class Sizes:
    """Sizes in pixels that do not depend on the pictures. scale: of the words in a caption."""

    text: int
    heading: int
    line: int
    pad: int
    gap: int
    icon: int

    @classmethod
    def at(cls, long_side_px: int, scale: float) -> Sizes:
        """Sizes for a page whose long side has so many pixels."""
        text = points_to_px(SMALLEST_PT * scale, long_side_px)
        return cls(
            text=text,
            heading=round(1.65 * text),
            line=round(1.32 * text),
            pad=round(0.38 * text),
            gap=round(1.15 * text),
            icon=round(3.0 * text),
        )


@dataclass(frozen=True)
class Words:
    """Everything that is written on the sheet, besides the title."""

    captions: Sequence[Caption]
    subtitle: str
    note: str
    footer: Sequence[str]
    column_heads: Sequence[str] = ()  # of a grid: what each column and each row has in common
    row_heads: Sequence[str] = ()


@dataclass(frozen=True)
class Layout:
    """A laid-out sheet, in pixels.

    columns, rows : of frames.  cell_width, picture_height, inset : of a frame's parts.
    page : sizes of page furniture; cell : sizes inside a frame.
    """

    columns: int
    rows: int
    cell_width: int
    picture_height: int
    inset: int
    column_gap: int
    width: int
    height: int
    margin: int
    header_height: int
    page: Sizes
    cell: Sizes
    heads_height: int = 0  # of the line over a grid's columns
    heads_width: int = 0  # of the names of its rows, at the left

    @property
    def content(self) -> int:
        """Width between the margins."""
        return self.width - 2 * self.margin

    @property
    def band_height(self) -> int:
        """Height of the line over a picture: heading, contrast, plan."""
        return self.cell.icon

    @property
    def cell_height(self) -> int:
        """Height of a frame with its caption and inset."""
        return self.band_height + self.picture_height + self.inset + 2 * self.cell.pad

    def corner(self, index: int) -> tuple[int, int]:
        """Top left corner of the frame with that index, in reading order."""
        row, column = divmod(index, self.columns)
        x = self.margin + self.heads_width + column * (self.cell_width + self.column_gap)
        y = self.margin + self.header_height + self.heads_height + row * (self.cell_height + self.row_gap)
        return x, y

    @property
    def row_gap(self) -> int:
        """Clear distance between two rows."""
        return self.cell.gap

    @property
    def foot_top(self) -> int:
        """Where the foot begins."""
        cells = self.rows * self.cell_height + (self.rows - 1) * self.row_gap
        return self.margin + self.header_height + self.heads_height + cells + self.page.gap


def lay_out(words: Words, aspect: float, width_px: int, columns: int | None = None) -> Layout:
    """The best layout for so many captions.

    aspect : height / width of the pictures (of the tallest).
    width_px : long side of the A4 page; the sheet is narrower where its pictures do not fill it.
    columns : None leaves the choice to the layout.
    """
    tried = list(_candidates(words, aspect, width_px, columns))
    fitting = [layout for layout, overflow in tried if overflow <= _SLACK]
    if fitting:
        return max(fitting, key=_worth)
    return min(tried, key=lambda pair: pair[1])[0]


def _worth(layout: Layout) -> float:
    """Large pictures first, then large words; empty places and a standing page count against a layout."""
    upright = 0.88 if layout.height > layout.width else 1.0
    places = layout.rows * layout.columns
    return upright * layout.cell_width * layout.cell.text**0.4 / places**0.3


def _candidates(
    words: Words, aspect: float, long_px: int, columns: int | None
) -> Iterator[tuple[Layout, float]]:
    """Layouts to choose from, each with its height as a share of the page's."""
    count = len(words.captions)
    columns = len(words.column_heads) or columns
    choices = range(1, min(count, MOST_COLUMNS) + 1) if columns is None else [min(columns, count)]
    short_px = round(long_px / A4_RATIO)
    for page in ((long_px, short_px), (short_px, long_px)):
        for number in choices:
            for scale in _LARGER:
                layout = _candidate(words, aspect, page, number, Sizes.at(long_px, scale), long_px)
                if layout is not None:
                    yield layout, layout.height / page[1]
                elif scale == 1.0 and (columns is not None or number == 1):
                    yield _widened(words, aspect, number, Sizes.at(long_px, scale), long_px, page[1])


def _candidate(
    words: Words, aspect: float, page: tuple[int, int], columns: int, cell: Sizes, long_px: int
) -> Layout | None:
    """A layout with pictures as large as the page allows; None where the words do not fit."""
    sizes = Sizes.at(long_px, 1.0)
    room = page[0] - 2 * _margin(sizes) - (columns - 1) * cell.gap - row_heads_width(words, cell)
    width = min(room // columns, round(_WIDEST_CELL * long_px))
    least = _least_width(words, cell)
    if width < least:
        return None

    def at(width: int) -> Layout:
        return _layout(words, aspect, columns, width, cell, sizes, page[0])

    def fits(width: int) -> bool:
        return at(width).height <= page[1] * _SLACK

    widths = [width]
    while widths[-1] > least:
        widths.append(max(least, min(round(widths[-1] * 0.985), widths[-1] - 1)))
    # narrower pictures make a lower sheet: the first that fits, or the narrowest of all
    return at(widths[bisect_left(widths, True, hi=len(widths) - 1, key=fits)])


def _widened(
    words: Words, aspect: float, columns: int, cell: Sizes, long_px: int, page_height: int
) -> tuple[Layout, float]:
    """Where so many columns were asked for that the words do not fit: a wider sheet."""
    width = _least_width(words, cell)
    layout = _layout(words, aspect, columns, width, cell, Sizes.at(long_px, 1.0), long_px)
    return layout, max(layout.height / page_height, layout.width / long_px)


def _layout(
    words: Words, aspect: float, columns: int, width: int, cell: Sizes, page: Sizes, page_width: int
) -> Layout:
    """The layout that follows from the width of a frame."""
    margin = _margin(page)
    heads_width = row_heads_width(words, cell)
    gap = _column_gap(columns, width, cell, page_width - 2 * margin - heads_width)
    content = heads_width + columns * width + (columns - 1) * gap
    layout = Layout(
        columns=columns,
        rows=-(-len(words.captions) // columns),
        cell_width=width,
        picture_height=round(aspect * width),
        inset=inset_side(words.captions, width, cell),
        column_gap=gap,
        width=content + 2 * margin,
        height=0,
        margin=margin,
        header_height=header_height(words, content, page),
        page=page,
        cell=cell,
        heads_height=round(1.5 * cell.heading) if words.column_heads else 0,
        heads_width=heads_width,
    )
    height = layout.foot_top + foot_height(words, content, page) + margin
    return Layout(**{**layout.__dict__, "height": height})


def _column_gap(columns: int, width: int, cell: Sizes, room: int) -> int:
    """Clear distance between columns: three and more are spread over the page, within reason."""
    if columns < 3:
        return cell.gap
    return min(max((room - columns * width) // (columns - 1), cell.gap), _WIDEST_GAP * cell.gap)


def row_heads_width(words: Words, cell: Sizes) -> int:
    """Width of the names of a grid's rows, with the clear space after them."""
    if not words.row_heads:
        return 0
    return max(text_width_px(head, cell.heading, bold=True) for head in words.row_heads) + cell.gap


def _least_width(words: Words, cell: Sizes) -> int:
    heads = (text_width_px(head, cell.heading, bold=True) for head in words.column_heads)
    return max(least_cell_width(words.captions, cell), *heads, 0)


def _margin(page: Sizes) -> int:
    return round(1.35 * page.text)


def inset_side(captions: Sequence[Caption], width: int, cell: Sizes) -> int:
    """Side of the inset: as high as what stands beside it, at least a share of the picture's width."""
    return max(_inset_lines(captions) * cell.line, round(_INSET_SHARE * width))


def _inset_lines(captions: Sequence[Caption]) -> int:
    """Lines beside an inset: the longest caption's, and one for the scale."""
    return 1 + max(len(caption.beside) for caption in captions)


def least_cell_width(captions: Sequence[Caption], cell: Sizes) -> int:
    """The width that the words of the widest caption need, beside the plan above and the inset below."""
    icon = round(ASPECT * cell.icon) + cell.pad
    lines = _inset_lines(captions) * cell.line
    least = 0
    for caption in captions:
        heading = text_width_px(caption.heading, cell.heading, bold=True) + cell.pad
        first = heading + text_width_px(caption.light, cell.text) + icon
        second = text_width_px(f"{CONTRAST} {caption.contrast}", cell.text) + icon
        below = max(text_width_px(line, cell.text) for line in caption.beside)
        # the inset is square and takes at least its share of the width
        beside = max(lines + 2 * cell.pad + below, round((2 * cell.pad + below) / (1 - _INSET_SHARE)))
        least = max(least, first, second, beside)
    return least + 1


def header_lines(words: Words, content: int, page: Sizes) -> list[str]:
    """What stands below the title: subtitle and exposure note, on one line where they fit."""
    together = "     ".join(part for part in (words.subtitle, words.note) if part)
    if text_width_px(together, page.text) <= content:
        return [together] if together else []
    return [*wrapped(words.subtitle, page.text, content), *wrapped(words.note, page.text, content)]


def header_height(words: Words, content: int, page: Sizes) -> int:
    """Height of title and subtitle with the clear space under them."""
    return round(1.9 * page.text) + len(header_lines(words, content, page)) * page.line + page.gap


def foot_lines(words: Words, content: int, page: Sizes) -> list[str]:
    """The foot in lines no wider than the frames together."""
    return [line for part in words.footer for line in wrapped(glued(part), page.text, content)]


def foot_height(words: Words, content: int, page: Sizes) -> int:
    """Height of the foot."""
    return len(foot_lines(words, content, page)) * page.line + page.pad
