"""Pictures side by side, large, and under them how each differs from the first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from lightsim.errors import PictureError
from lightsim.report.comparison.rows import ON_A_PAGE, CompareRow, compare_rows
from lightsim.report.drawing.light_direction import ASPECT, draw_direction
from lightsim.report.drawing.sheet_of_paper import HAIRLINE_MM, Box, Sheet, fit_line, line_height_mm, width_mm
from lightsim.report.footnotes import focus_sentence, reason_for
from lightsim.report.frames import SheetFrame, checked_frames
from lightsim.report.page_options import PageOptions
from lightsim.report.sheet.caption_lines import NOT_BUILDABLE, first_reason
from lightsim.report.sheet.contact_sheet import SheetWords
from lightsim.report.sheet.mounting import MAT_MM, draw_drop_inset, draw_frame_picture
from lightsim.report.sheet.page_furniture import (
    MARGIN_MM,
    draw_footer,
    draw_header,
    foot_height_mm,
    header_height_mm,
)
from lightsim.report.sheet.plate_layout import GUTTER_MM, PAD_MM
from lightsim.report.theme import SIZES, Face
from lightsim.report.words import DASH, clock_words, degrees, folded_angle, sentence, trade_name

FEWEST, MOST = 2, 6
DIRECTION_MM = 11.0  # height of the half-circle of angles
INSET_MM = 23.0  # of the reference drop, beside its caption
_WIDEST_MM = 150.0
_LEAST_MM = 30.0
_LYING = 1.08  # how much a lying page counts against a standing one


@dataclass(frozen=True)
class _Layout:
    """Sizes of a comparison, mm. cell : width of a picture with its mat.  caption : height under it."""

    width: float
    height: float
    columns: int
    cell: float
    picture: float
    caption: float

    def corner(self, index: int, top: float) -> tuple[float, float]:
        """Top left corner of a picture."""
        row, column = divmod(index, self.columns)
        return MARGIN_MM + column * (self.cell + GUTTER_MM), top + row * self.row_height

    @property
    def row_height(self) -> float:
        """A picture with its caption and inset, and the clear space after."""
        return self.picture + PAD_MM + self.caption + GUTTER_MM


def comparison_page(
    frames: Sequence[SheetFrame],
    labels: Sequence[str] | None,
    words: SheetWords,
    options: PageOptions | None = None,
) -> Sheet:
    """Two to six pictures over a small table of their measures.

    labels : what each is called; the frames' own headings when None.
    Raises PictureError for another number of pictures, or labels that do not match.
    """
    options = PageOptions() if options is None else options
    shown = checked_frames(frames)
    labels = [frame.heading for frame in shown] if labels is None else list(labels)
    if not FEWEST <= len(shown) <= MOST or len(labels) != len(shown):
        raise PictureError(
            f"found {len(shown)} pictures and {len(labels)} labels, "
            f"allowed {FEWEST} to {MOST} pictures with a label each"
        )
    rows = compare_rows([frame.measures for frame in shown], keys=ON_A_PAGE)
    title = words.title if options.title is None else options.title
    layout = _laid_out(shown, labels, words, options)
    sheet = Sheet.blank(layout.width, layout.height, options.theme, title, options.dpi)
    top = draw_header(sheet, title, words.about, words.exposure_note)
    for index, frame in enumerate(shown):
        _draw_picture(sheet, layout, layout.corner(index, top), frame, labels[index])
    top += layout.row_height * -(-len(shown) // layout.columns)
    draw_table(sheet, (MARGIN_MM, top, layout.width - MARGIN_MM, layout.height - MARGIN_MM), rows, labels)
    draw_footer(sheet, _foot(words, shown, labels), options.credit)
    return sheet


def _foot(words: SheetWords, frames: Sequence[SheetFrame], labels: Sequence[str]) -> list[str]:
    """Set-up, how to read the bars, and one short sentence for why places are empty."""
    reasons: dict[str, dict[str, None]] = {}
    for frame, label in zip(frames, labels, strict=True):
        for key in ON_A_PAGE:
            if getattr(frame.measures, key) is None:
                reason = first_reason(reason_for(frame.measures.missing, key))
                reasons.setdefault(reason, {})[label] = None
    told = [f"{reason} ({', '.join(at)})" for reason, at in reasons.items()]
    more = "; others stand in the table" if len(told) > 2 else ""
    empty = f" Empty: {'; '.join(told[:2])}{more}." if told else ""
    unbuilt = {frame.not_buildable: label for frame, label in zip(frames, labels, strict=True)}
    cannot = [f"{label} {NOT_BUILDABLE}: {why}." for why, label in unbuilt.items() if why]
    return [
        *map(sentence, words.set_up.splitlines()),
        *cannot,
        f"Bars: difference from {labels[0]} in stops, a factor of two each. "
        f"{focus_sentence([frame.measures for frame in frames])}{empty}",
    ]


def _laid_out(
    frames: Sequence[SheetFrame], labels: Sequence[str], words: SheetWords, options: PageOptions
) -> _Layout:
    """The layout with the largest pictures, on paper lying or standing."""
    aspect = max(frame.image.shape[0] / frame.image.shape[1] for frame in frames)
    rows = compare_rows([frame.measures for frame in frames], keys=ON_A_PAGE)
    best: _Layout | None = None
    caption = max(map(_caption_height_mm, frames))
    paper = options.paper_size
    for width, height in ((paper.long_mm, paper.short_mm), (paper.short_mm, paper.long_mm)):
        room = width - 2.0 * MARGIN_MM
        foot = foot_height_mm(_foot(words, frames, labels), room, options.credit)
        head = header_height_mm(words.about, words.exposure_note, room)
        free = height - 2.0 * MARGIN_MM - head - foot - table_height_mm(rows, len(frames), room)
        for columns in range(1, len(frames) + 1):
            down = -(-len(frames) // columns)
            picture = free / down - PAD_MM - caption - GUTTER_MM
            across = (room - (columns - 1) * GUTTER_MM) / columns
            cell = min(across, (picture - 2.0 * MAT_MM) / aspect + 2.0 * MAT_MM, _WIDEST_MM)
            lying = _LYING if width > height else 1.0
            if best is None or cell * lying > best.cell * (_LYING if best.width > best.height else 1.0):
                tall = aspect * (cell - 2.0 * MAT_MM) + 2.0 * MAT_MM
                best = _Layout(width, height, columns, max(cell, _LEAST_MM), tall, caption)
    assert best is not None
    return best


def _caption_height_mm(frame: SheetFrame) -> float:
    """Of name, light and settings with the direction under them, no less than the reference drop."""
    lines = 1 + len(frame.settings) + bool(frame.not_buildable)
    words = line_height_mm(SIZES["heading"]) + line_height_mm(SIZES["caption"], lines) + 1.0
    return max(INSET_MM, words + (0.0 if frame.angle_deg is None else DIRECTION_MM))


def _draw_picture(
    sheet: Sheet, layout: _Layout, corner: tuple[float, float], frame: SheetFrame, label: str
) -> None:
    """One picture; under it its name, its light and its reference drop."""
    x, y = corner
    draw_frame_picture(sheet, frame, (x, y, x + layout.cell, y + layout.picture))
    y += layout.picture + PAD_MM
    room = layout.cell
    if frame.inset_drop is not None:
        draw_drop_inset(sheet, frame, frame.inset_drop, x + layout.cell - INSET_MM, y, INSET_MM)
        room -= INSET_MM + PAD_MM
    heading, text = SIZES["heading"], SIZES["caption"]
    base = y + 0.78 * line_height_mm(heading)
    sheet.text(x, base, fit_line(label, heading, room, Face.SEMIBOLD), heading, None, Face.SEMIBOLD)
    words = direction_words(frame, label)
    if words:
        base += line_height_mm(text) + 0.4
        sheet.text(x, base, fit_line(words, text, room), text, sheet.theme.quiet)
    for line in frame.settings:
        base += line_height_mm(text)
        sheet.text(x, base, fit_line(line, text, room), text)
    if frame.not_buildable:
        base += line_height_mm(text)
        sheet.text(x, base, fit_line(NOT_BUILDABLE, text, room), text, sheet.theme.warning)
    if frame.angle_deg is not None:
        height = min(DIRECTION_MM, (room - 1.0) / ASPECT)
        draw_direction(sheet, x, y + layout.caption - height, height, frame.angle_deg, frame.clock)


def direction_words(frame: SheetFrame, label: str) -> str:
    """Trade name, angle and clock position of a frame's light, less what its label says already."""
    if frame.angle_deg is None:
        return ""
    words = trade_name(frame.angle_deg)
    if degrees(frame.angle_deg) not in label:
        words += " " + degrees(frame.angle_deg)
    on_axis = folded_angle(frame.angle_deg) in (0.0, 180.0)
    return words if on_axis or clock_words(frame.clock) in label else f"{words} at {clock_words(frame.clock)}"


_POINTS = SIZES["smallest"]
_ROW_MM = line_height_mm(_POINTS) + 0.7
_STACKED_MM = _ROW_MM + 2.4  # a row whose bars stand under its numbers
_WIDEST_COLUMN_MM = 74.0  # of a column
_INLINE_MM = 52.0  # narrower columns have their bars under the numbers
_BAR_MM = 1.3
_THIN_MM = 0.09
_LEAST_SPAN = 1.0  # stops that half the bars' room stands for, at least


def _names_mm(rows: Sequence[CompareRow]) -> float:
    return max((width_mm(row.name, _POINTS) for row in rows), default=0.0) + 4.0


def _column_mm(rows: Sequence[CompareRow], count: int, room: float) -> float:
    return min((room - _names_mm(rows)) / count, _WIDEST_COLUMN_MM)


def table_height_mm(rows: Sequence[CompareRow], count: int, room: float) -> float:
    """Height of the table for so many pictures in a room so wide."""
    inline = _column_mm(rows, count, room) >= _INLINE_MM
    return (len(rows) + 1) * _ROW_MM + (0.0 if inline else len(rows) * (_STACKED_MM - _ROW_MM)) + 2.0


def span_stops(rows: Sequence[CompareRow]) -> float:
    """The most stops by which any number differs, rounded up to whole ones."""
    most = max((abs(stops) for row in rows for stops in row.stops if stops is not None), default=0.0)
    return max(float(ceil(most)), _LEAST_SPAN)


def draw_table(sheet: Sheet, box: Box, rows: Sequence[CompareRow], labels: Sequence[str]) -> None:
    """The table at the top of a box: names at the left, a column for each picture."""
    left, y, right, _ = box
    names = _names_mm(rows)
    column = _column_mm(rows, len(labels), right - left)
    inline, span = column >= _INLINE_MM, span_stops(rows)
    values = max((width_mm(value, _POINTS) for row in rows for value in row.values), default=0.0)
    y += _ROW_MM
    for index, label in enumerate(labels):
        x = left + names + index * column
        sheet.text(
            x, y - 1.2, fit_line(label, _POINTS, column - 2.0, Face.SEMIBOLD), _POINTS, None, Face.SEMIBOLD
        )
    for number, row in enumerate(rows):
        height = _ROW_MM if inline else _STACKED_MM
        sheet.line([(left, y), (right, y)], width=_THIN_MM if number else HAIRLINE_MM)
        base = y + 0.76 * _ROW_MM
        sheet.text(left, base, row.name, _POINTS, sheet.theme.quiet)
        for index in range(len(labels)):
            x = left + names + index * column
            if not row.values[index].startswith(DASH):
                sheet.text(x, base, fit_line(row.values[index], _POINTS, column - 2.0), _POINTS)
            change = row.changes[index]
            if inline and change:
                sheet.text(x + column - 6.0, base, change, _POINTS, sheet.theme.accent, anchor="right")
            stops = row.stops[index]
            if stops is not None:
                room = (x + values + 3.0, x + column - 27.0) if inline else (x, x + column - 4.0)
                middle = y + (0.5 * height if inline else height - 1.35)
                _draw_bar(sheet, room, middle, stops, span)
        y += height
    sheet.line([(left, y), (right, y)])


def _draw_bar(sheet: Sheet, room: tuple[float, float], y: float, stops: float, span: float) -> None:
    """A bar from nought in the middle of the room, to the right for more light."""
    zero = 0.5 * (room[0] + room[1])
    end = zero + 0.5 * (room[1] - room[0]) * stops / span
    half = 0.5 * _BAR_MM
    if abs(end - zero) > 0.05:
        sheet.bar((min(zero, end), y - half, max(zero, end), y + half), sheet.theme.accent, zorder=3.0)
    sheet.line([(zero, y - half - 0.25), (zero, y + half + 0.25)], sheet.theme.ink, zorder=4.0)
