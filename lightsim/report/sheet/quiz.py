"""A contact sheet as a quiz: frames in mixed order under letters, the answers on a page of their own."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random
from string import ascii_uppercase

from lightsim.report.drawing.light_direction import ASPECT, draw_direction
from lightsim.report.drawing.sheet_of_paper import Sheet, fit_line
from lightsim.report.frames import SheetFrame
from lightsim.report.page_options import PageOptions
from lightsim.report.sheet.caption_lines import (
    SEPARATOR,
    hidden_sentence,
    key_sentences,
    measure_parts,
    unbuilt_sentences,
)
from lightsim.report.sheet.page_furniture import MARGIN_MM, draw_footer, draw_header
from lightsim.report.theme import SIZES, Face

ROW_MM = 9.0
MOST_ROWS = 24
_SEED = 5  # one order for all time, so that a printed quiz fits its answers
_TOP_MM = 18.0


def shuffled(frames: Sequence[SheetFrame]) -> list[SheetFrame]:
    """The frames in a mixed order, the same for the same number of frames."""
    mixed = list(frames)
    Random(_SEED).shuffle(mixed)
    return mixed


def letter(index: int) -> str:
    """A, B, ... Z, AA, AB ..."""
    first, last = divmod(index, 26)
    return (letter(first - 1) if first else "") + ascii_uppercase[last]


def answers_pages(
    frames: Sequence[SheetFrame], title: str, names: Sequence[str], options: PageOptions
) -> list[Sheet]:
    """Each letter with its light and measures, as many pages as that takes, standing."""
    starts = range(0, len(frames), MOST_ROWS)
    return [
        _answers(frames, range(s, min(s + MOST_ROWS, len(frames))), title, names, options) for s in starts
    ]


def _answers(
    frames: Sequence[SheetFrame], rows: range, title: str, names: Sequence[str], options: PageOptions
) -> Sheet:
    """A page of answers, for some of the frames."""
    paper = options.paper_size
    sheet = Sheet.blank(paper.short_mm, paper.long_mm, options.theme, title, options.dpi)
    left, right = MARGIN_MM, paper.short_mm - MARGIN_MM
    draw_header(sheet, f"{title}: answers")
    row, y = ROW_MM, MARGIN_MM + _TOP_MM
    for index in rows:
        frame = frames[index]
        base = y + 0.5 * row + 1.2
        sheet.line([(left, y), (right, y)])
        sheet.text(left, base, letter(index), SIZES["heading"], None, Face.SEMIBOLD)
        if frame.angle_deg is not None:
            draw_direction(sheet, left + 12.0, y + 0.08 * row, 0.84 * row, frame.angle_deg, frame.clock)
        x = left + 12.0 + ASPECT * row + 3.0
        box = sheet.text(x, base, frame.heading, SIZES["heading"], None, Face.SEMIBOLD)
        sheet.text(box[2] + 1.5, base, frame.light_name, SIZES["text"], sheet.theme.quiet)
        words = SEPARATOR.join(measure_parts(frame, names))
        words = fit_line(words, SIZES["text"], right - left - 82.0)
        colour = sheet.theme.warning if frame.not_buildable else None
        sheet.text(right, base, words, SIZES["text"], colour, anchor="right")
        y += row
    sheet.line([(left, y), (right, y)])
    notes = [*unbuilt_sentences(frames), *filter(None, [hidden_sentence(frames)])]
    draw_footer(sheet, [*key_sentences(frames, names), *notes], options.credit)
    return sheet
