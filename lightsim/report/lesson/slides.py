"""A lesson as slides, 16:9: for each step its photographs and words, then its question, then the answer."""

from __future__ import annotations

from collections.abc import Iterator

from lightsim.report.drawing.sheet_of_paper import Sheet, break_lines, line_height_mm
from lightsim.report.handout.handout_records import HandoutSet
from lightsim.report.lesson.lesson_parts import (
    TaughtLesson,
    as_blocks,
    chosen,
    columns_for,
    draw_plates,
    picture_of,
    plates_height_mm,
)
from lightsim.report.page_options import PageOptions
from lightsim.report.theme import Face
from lightsim.report.words import glued

WIDTH_MM, HEIGHT_MM = 254.0, 142.875  # 16:9
MARGIN_MM = 11.0
HEADING_PT, TEXT_PT, LEAST_TEXT_PT, CAPTION_PT, FOOT_PT = 24.0, 16.0, 11.0, 11.0, 9.0
WORDS_SHARE = 0.40  # of the width, beside the photographs
MOST_PLATES = 6


def slides_pages(lesson: TaughtLesson, options: PageOptions) -> Iterator[Sheet]:
    """The slides, each a page."""
    title = _blank(lesson, options)
    y = 0.42 * HEIGHT_MM
    title.text(MARGIN_MM, y, lesson.title, 1.4 * HEADING_PT, face=Face.SEMIBOLD)
    _words(title, lesson.about, MARGIN_MM, y + 4.0, WIDTH_MM - 2 * MARGIN_MM, HEIGHT_MM - MARGIN_MM, TEXT_PT)
    yield title
    for number, step in enumerate(lesson.steps, 1):
        heading = f"{number}. {step.heading}"
        yield _slide(lesson, options, heading, step.text, step.shown)
        if step.question:
            yield _slide(lesson, options, heading, step.question, step.shown)
        if step.answer:
            yield _slide(lesson, options, heading, step.answer, step.shown, step.numbers)


def _blank(lesson: TaughtLesson, options: PageOptions) -> Sheet:
    sheet = Sheet.blank(WIDTH_MM, HEIGHT_MM, options.theme, lesson.title, options.dpi)
    if lesson.credit:
        sheet.text(MARGIN_MM, HEIGHT_MM - 5.0, lesson.credit, FOOT_PT, sheet.theme.quiet)
    return sheet


def _slide(
    lesson: TaughtLesson,
    options: PageOptions,
    heading: str,
    text: str,
    shown: HandoutSet,
    numbers: tuple[str, ...] = (),
) -> Sheet:
    sheet = _blank(lesson, options)
    y = MARGIN_MM + line_height_mm(HEADING_PT)
    sheet.text(MARGIN_MM, y, heading, HEADING_PT, face=Face.SEMIBOLD)
    top, bottom = y + 6.0, HEIGHT_MM - MARGIN_MM
    words = WORDS_SHARE * (WIDTH_MM - 2 * MARGIN_MM)
    _words(sheet, text, MARGIN_MM, top, words - 6.0, bottom, TEXT_PT)
    _plates(sheet, shown, MARGIN_MM + words, top, WIDTH_MM - 2 * MARGIN_MM - words, bottom, numbers)
    return sheet


def _words(
    sheet: Sheet, text: str, left: float, top: float, room: float, bottom: float, points: float
) -> None:
    """Paragraphs as large as the room allows."""
    blocks = as_blocks(text)
    while True:
        indent = 1.4 * points * 0.3528
        lines = [
            (block, break_lines(glued(block.text), points, room - (indent if block.mark else 0.0)))
            for block in blocks
        ]
        height = sum(line_height_mm(points, len(each)) + 0.5 * points * 0.3528 for _, each in lines)
        if top + height <= bottom or points <= LEAST_TEXT_PT:
            break
        points -= 0.5
    y = top
    for block, each in lines:
        for number, line in enumerate(each):
            y += line_height_mm(points)
            if block.mark and number == 0:
                sheet.text(left, y, block.mark, points)
            sheet.text(left + (indent if block.mark else 0.0), y, line, points)
        y += 0.5 * points * 0.3528


def _plates(
    sheet: Sheet,
    shown: HandoutSet,
    left: float,
    top: float,
    room: float,
    bottom: float,
    numbers: tuple[str, ...],
) -> None:
    """The photographs, as large as the room allows."""
    frames = chosen(shown, MOST_PLATES)
    shape = picture_of(frames[0]).shape[:2]
    columns, best = 1, 0.0
    for count in range(1, columns_for(len(frames), 3) + 1):
        width = room
        while (
            plates_height_mm(len(frames), (shape[0], shape[1]), width, count, CAPTION_PT, 1 + len(numbers))
            > bottom - top
        ):
            width -= 2.0
        if width / count > best and width > 0:
            columns, best, wide = count, width / count, width
    draw_plates(sheet, frames, left + room - wide, top, wide, columns, CAPTION_PT, numbers)
