"""The contact sheet: pictures in the order of the sweep, mounted as on a plate, with light and measures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from lightsim.report.drawing.light_direction import ASPECT, draw_direction, draw_half_circle, draw_ring
from lightsim.report.drawing.sheet_of_paper import Sheet, break_lines, fit_line, line_height_mm
from lightsim.report.frames import SheetFrame, checked_frames
from lightsim.report.page_options import PageOptions
from lightsim.report.sheet.caption_lines import (
    absence_sentence,
    checked_measures,
    hidden_sentence,
    key_sentences,
    measure_parts,
    unbuilt_sentences,
)
from lightsim.report.sheet.mounting import draw_drop_inset, draw_frame_picture, inset_width_mm
from lightsim.report.sheet.page_furniture import (
    MARGIN_MM,
    draw_footer,
    draw_header,
    foot_height_mm,
    header_height_mm,
)
from lightsim.report.sheet.plate_layout import (
    PAD_MM,
    CaptionText,
    PlateLayout,
    Wanted,
    caption_lines,
    lay_out_plate,
    most_columns,
    vacant,
)
from lightsim.report.sheet.quiz import answers_pages, letter, shuffled
from lightsim.report.theme import SIZES, Face
from lightsim.report.words import glued, plain, sentence


@dataclass(frozen=True)
class SheetWords:
    """What is written on a contact sheet beside its captions.

    title, about : of the sweep.  exposure_note : what the exposures have in common.
    set_up : a line, or several.
    """

    title: str
    about: str = ""
    exposure_note: str = ""
    set_up: str = ""


def sheet_pages(
    frames: Sequence[SheetFrame], words: SheetWords, options: PageOptions | None = None, *, grid: bool = False
) -> list[Sheet]:
    """The contact sheet's pages, frames in their order.

    grid : whether the frames, row by row, are a grid of two varied quantities; then columns and rows are
        named, and the captions are not.
    Raises PictureError where there is no frame or a picture is of the wrong kind, LightsimError for options
    that cannot be met.
    """
    options = (PageOptions() if options is None else options).checked()
    shown = checked_frames(frames)
    names = checked_measures(options.measures)
    words = words if options.title is None else replace(words, title=options.title)
    if options.hide_captions:
        shown, grid = shuffled(shown), False
    columns, rows = _heads(shown) if grid else ([], [])
    if len(columns) > most_columns(options.paper_size):  # too wide: the other way, or one after the other
        shown = [
            shown[row * len(columns) + column] for column in range(len(columns)) for row in range(len(rows))
        ]
        columns, rows = rows, columns
        if len(columns) > most_columns(options.paper_size):
            grid, columns, rows = False, [], []
    captions = _captions(shown, names, grid, options.hide_captions)
    directions = len({(frame.angle_deg, frame.clock) for frame in shown}) > 1 and not options.hide_captions
    wanted = Wanted(
        captions=captions,
        aspect=max(frame.image.shape[0] / frame.image.shape[1] for frame in shown),
        insets=max((each.inset_drop is not None) + (each.second_drop is not None) for each in shown),
        directions=directions and any(frame.angle_deg is not None for frame in shown),
        column_heads=columns,
        row_heads=rows,
    )
    made = _Plate(shown, words, options, wanted, () if options.hide_captions else names)
    pages = made.pages()
    if options.hide_captions:
        pages.extend(answers_pages(shown, words.title, names, options))
    return pages


def _captions(
    frames: Sequence[SheetFrame], names: Sequence[str], grid: bool, hidden: bool
) -> list[CaptionText]:
    if hidden:
        return [CaptionText(letter(index), "", ()) for index in range(len(frames))]
    captions = []
    for frame in frames:
        heading, name = ("", "") if grid else (frame.heading, frame.light_name)
        captions.append(CaptionText(heading, name, tuple(measure_parts(frame, names))))
    return captions


def _heads(frames: Sequence[SheetFrame]) -> tuple[list[str], list[str]]:
    """What the columns and the rows of a grid have in common, in words."""
    columns = dict.fromkeys(frame.varied[0].words for frame in frames)
    rows = dict.fromkeys(frame.varied[1].words for frame in frames)
    return list(columns), list(rows)


@dataclass(frozen=True)
class _Plate:
    """A contact sheet in the making."""

    frames: Sequence[SheetFrame]
    words: SheetWords
    options: PageOptions
    wanted: Wanted
    names: Sequence[str]

    def pages(self) -> list[Sheet]:
        """All pages with frames."""
        paper = self.options.paper_size
        # measured for the narrower way of the paper, so that either has room for it
        layout = self._laid_out(paper.short_mm, 1)
        if layout.width > layout.height:
            layout = self._laid_out(layout.width, 2)
        return [self._page(layout, number) for number in range(len(layout.pages))]

    def _laid_out(self, width: float, pages: int) -> PlateLayout:
        """The best layout with title and foot set for paper so wide."""
        room, words, options = width - 2.0 * MARGIN_MM, self.words, self.options
        head = header_height_mm(words.about, words.exposure_note, room)
        foot = foot_height_mm(self._foot(with_key=True), room, options.credit, pages)
        return lay_out_plate(self.wanted, options.paper_size, head, foot, options.columns)

    def _foot(self, with_key: bool) -> list[str]:
        if self.options.hide_captions:
            return [self.words.set_up] if self.words.set_up else []
        key = key_sentences(self.frames, self.names) + self._inset_sentences() if with_key else []
        key += [*unbuilt_sentences(self.frames), hidden_sentence(self.frames)]
        notes = " ".join(filter(None, (*key, absence_sentence(self.frames, self.names))))
        return [*map(sentence, self.words.set_up.splitlines()), notes]

    def _inset_sentences(self) -> list[str]:
        """How large a piece of the subject the insets show, where that is the same for all."""
        widths = {
            plain(width, 1)
            for frame in self.frames
            if frame.inset_drop is not None and (width := inset_width_mm(frame, frame.inset_drop)) is not None
        }
        if not self.wanted.insets:
            return []
        wide = f", {widths.pop()} mm from edge to edge" if len(widths) == 1 else ""
        second = " The second lies away from the focus." if self.wanted.insets > 1 else ""
        return [f"Below each picture the marked drop{wide}.{second}"]

    def _page(self, layout: PlateLayout, number: int) -> Sheet:
        page = layout.pages[number]
        sheet = Sheet.blank(
            layout.width, layout.height, self.options.theme, self.words.title, self.options.dpi
        )
        draw_header(sheet, self.words.title, self.words.about, self.words.exposure_note)
        self._draw_heads(sheet, layout, page)
        for place, index in enumerate(page):
            self._draw_frame(sheet, layout, layout.corner(place), index)
        free = vacant(layout, page)
        keyed = free is not None and not self.options.hide_captions
        if keyed and free is not None:
            sentences = key_sentences(self.frames, self.names) + self._inset_sentences()
            keyed = draw_key(sheet, layout, free, sentences, self.wanted.directions)
        pages = f"page {number + 1} of {len(layout.pages)}" if len(layout.pages) > 1 else ""
        draw_footer(sheet, self._foot(with_key=not keyed), self.options.credit, pages)
        return sheet

    def _draw_heads(self, sheet: Sheet, layout: PlateLayout, page: range) -> None:
        """The names of a grid's columns over them, and of its rows beside their pictures."""
        points = SIZES["heading"]
        for column, head in enumerate(self.wanted.column_heads):
            x, y = layout.corner(column)
            sheet.text(x + 0.5 * layout.cell, y - 1.6, head, points, None, Face.SEMIBOLD, "middle")
        for row in range(layout.rows_on(page)) if self.wanted.row_heads else ():
            _, y = layout.corner(row * layout.columns)
            head = self.wanted.row_heads[page.start // layout.columns + row]
            sheet.text(MARGIN_MM, y + 0.5 * layout.picture + 1.5, head, points, None, Face.SEMIBOLD)

    def _draw_frame(self, sheet: Sheet, layout: PlateLayout, corner: tuple[float, float], index: int) -> None:
        x, y = corner
        frame, caption = self.frames[index], self.wanted.captions[index]
        draw_frame_picture(sheet, frame, (x, y, x + layout.cell, y + layout.picture))
        base = y + layout.picture + PAD_MM + 0.72 * line_height_mm(layout.heading_points)
        beside, lines = caption_lines(caption, layout.cell, layout.scale)
        if caption.heading:
            heading = fit_line(caption.heading, layout.heading_points, layout.cell, Face.SEMIBOLD)
            box = sheet.text(x, base, heading, layout.heading_points, None, Face.SEMIBOLD)
            sheet.text(box[2] + 1.2, base, beside, layout.points, sheet.theme.quiet)
            base += 0.12 * line_height_mm(layout.heading_points)
        else:
            base -= line_height_mm(layout.points)
        for line in lines:
            base += line_height_mm(layout.points)
            colour = sheet.theme.warning if frame.not_buildable and line in caption.parts else None
            sheet.text(x, base, fit_line(line, layout.points, layout.cell), layout.points, colour)
        self._draw_below(sheet, layout, x, y + layout.picture + layout.caption_height + PAD_MM, frame)

    def _draw_below(self, sheet: Sheet, layout: PlateLayout, x: float, y: float, frame: SheetFrame) -> None:
        """The insets, and the direction of light beside them."""
        at = x
        for drop in (frame.inset_drop, frame.second_drop) if self.wanted.insets else ():
            if drop is not None:
                draw_drop_inset(sheet, frame, drop, at, y, layout.inset)
                at += layout.inset + PAD_MM
        if self.wanted.directions and frame.angle_deg is not None:
            right = x + layout.cell - ASPECT * layout.direction
            left = at if self.wanted.insets == 0 else max(right, at)
            draw_direction(sheet, left, y + 0.3, layout.direction, frame.angle_deg, frame.clock)


_WIDEST_MM = 90.0
_ANGLE, _CLOCK = 60.0, 2.0  # of the light in the key


def draw_key(
    sheet: Sheet,
    layout: PlateLayout,
    place: tuple[float, float, float],
    sentences: Sequence[str],
    directions: bool,
) -> bool:
    """The key in a vacant place (left, top, width in mm); whether there was room for it."""
    x, y, room = place[0], place[1], min(place[2], _WIDEST_MM)
    points = SIZES["smallest"]
    lines = [line for each in sentences for line in break_lines(glued(each), points, room)]
    drawing = min(0.3 * layout.cell_height, 0.42 * layout.cell) + 9.0 if directions else 0.0
    if drawing + line_height_mm(points, len(lines)) > layout.cell_height:
        return False
    if directions:
        _draw_labelled(sheet, x, y, drawing - 9.0, min(room, 1.4 * layout.cell))
        y += drawing
    for line in lines:
        y += line_height_mm(points)
        sheet.text(x, y, line, points, sheet.theme.quiet)
    return True


def _draw_labelled(sheet: Sheet, x: float, y: float, height: float, room: float) -> None:
    """The direction of light with names at its ends: lens, behind, clock."""
    points, quiet = SIZES["smallest"], sheet.theme.quiet
    radius = 0.46 * height
    flower = (x + 2.2, y + 4.0 + 0.5 * height)
    draw_half_circle(sheet, flower, radius, _ANGLE, _CLOCK)
    sheet.text(x, y + 2.8, "behind 180°", points, quiet)
    sheet.text(x, y + height + 7.2, "lens 0°", points, quiet)
    ring = 0.26 * height
    centre = (x + room - ring - 1.5, y + 4.0 + 0.5 * height)
    draw_ring(sheet, centre, ring, _ANGLE, _CLOCK)
    sheet.text(centre[0], centre[1] - ring - 1.0, "12", points, quiet, anchor="middle")
    sheet.text(x + room, y + height + 7.2, "clock", points, quiet, anchor="right")
