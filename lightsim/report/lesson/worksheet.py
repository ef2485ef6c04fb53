"""A lesson on paper: a worksheet with lines to write on, and the answers on pages of their own."""

from __future__ import annotations

from collections.abc import Sequence

from lightsim.report.drawing.sheet_of_paper import Sheet, break_lines, line_height_mm
from lightsim.report.lesson.lesson_parts import (
    Block,
    TaughtLesson,
    TaughtStep,
    as_blocks,
    chosen,
    columns_for,
    draw_plates,
    picture_of,
    plates_height_mm,
)
from lightsim.report.page_options import PageOptions
from lightsim.report.sheet.page_furniture import draw_footer, draw_header
from lightsim.report.theme import SIZES, Face
from lightsim.report.words import glued

MARGIN_MM = 15.0
FOOT_MM = 9.0
MOST_PLATES = 6
WRITING_LINES, LINE_MM = 3, 8.0  # ruled lines under a question
INDENT_MM = 5.0
TEXT_MM = 16.0  # of text that a heading and its photographs are kept together with, about


class Flow:
    """Blocks set one under the other, on as many pages as they need."""

    def __init__(self, title: str, about: str, options: PageOptions, credit: str):
        self.title, self.about, self.options, self.credit = title, about, options, credit
        self.sheets: list[Sheet] = []
        self.y = 0.0
        self.new_page()

    @property
    def left(self) -> float:
        """Left edge of the text, mm."""
        return MARGIN_MM

    @property
    def room(self) -> float:
        """Width of the text, mm."""
        return self.options.paper_size.short_mm - 2.0 * MARGIN_MM

    @property
    def bottom(self) -> float:
        """Where the text must end, mm."""
        return self.options.paper_size.long_mm - MARGIN_MM - FOOT_MM

    @property
    def sheet(self) -> Sheet:
        """The page that is being set."""
        return self.sheets[-1]

    def new_page(self) -> None:
        """Begin another page; the first one bears the title."""
        paper = self.options.paper_size
        sheet = Sheet.blank(paper.short_mm, paper.long_mm, self.options.theme, self.title, self.options.dpi)
        self.y = MARGIN_MM
        if not self.sheets:
            self.y = draw_header(sheet, self.title, self.about, margin=MARGIN_MM)
        self.sheets.append(sheet)

    def need(self, height_mm: float) -> None:
        """Begin another page where so much does not fit on this one."""
        if self.y + height_mm > self.bottom and self.y > MARGIN_MM + 1.0:
            self.new_page()

    def heading(self, text: str, with_mm: float = 30.0) -> None:
        """A heading, kept with so much of what follows."""
        self.need(10.0 + with_mm)
        self.y += 3.0 + line_height_mm(SIZES["heading"])
        self.sheet.text(self.left, self.y, text, SIZES["heading"], face=Face.SEMIBOLD)
        self.y += 1.5

    def blocks(self, blocks: Sequence[Block], face: Face = Face.REGULAR) -> None:
        """Paragraphs and points."""
        points = SIZES["text"]
        for block in blocks:
            indent = INDENT_MM if block.mark else 0.0
            lines = break_lines(glued(block.text), points, self.room - indent, face)
            self.need(line_height_mm(points, min(len(lines), 2)))
            for number, line in enumerate(lines):
                self.need(line_height_mm(points))
                self.y += line_height_mm(points)
                if block.mark and number == 0:
                    self.sheet.text(self.left, self.y, block.mark, points)
                self.sheet.text(self.left + indent, self.y, line, points, face=face)
            self.y += 1.6

    def writing_lines(self) -> None:
        """Room to write on."""
        self.need(WRITING_LINES * LINE_MM)
        for _ in range(WRITING_LINES):
            self.y += LINE_MM
            self.sheet.line([(self.left, self.y), (self.left + self.room, self.y)])
        self.y += 3.0

    def plates(self, step: TaughtStep, numbers: Sequence[str] = ()) -> None:
        """The step's photographs, with some of their measures."""
        self.need(self.plates_mm(step, numbers))
        frames = chosen(step.shown, MOST_PLATES)
        columns, room = self._columns(len(frames))
        points = SIZES["caption"]
        self.y = draw_plates(self.sheet, frames, self.left, self.y + 2.0, room, columns, points, numbers)

    def plates_mm(self, step: TaughtStep, numbers: Sequence[str] = ()) -> float:
        """Height of the step's photographs."""
        frames = chosen(step.shown, MOST_PLATES)
        height, width = picture_of(frames[0]).shape[:2]
        columns, room = self._columns(len(frames))
        lines = 1 + len(numbers)
        return 2.0 + plates_height_mm(len(frames), (height, width), room, columns, SIZES["caption"], lines)

    def _columns(self, count: int) -> tuple[int, float]:
        """Columns, and the room that they take; one photograph alone is not as wide as the text."""
        return columns_for(count, 3), self.room if count > 1 else 0.62 * self.room

    def done(self) -> list[Sheet]:
        """The pages, each with its foot."""
        for number, sheet in enumerate(self.sheets, 1):
            of = f"{number} of {len(self.sheets)}"
            draw_footer(sheet, [], self.credit or self.title, of, MARGIN_MM)
        return self.sheets


def worksheet_pages(lesson: TaughtLesson, options: PageOptions) -> list[Sheet]:
    """Text, photographs and questions with room to write, then the answers on pages of their own."""
    flow = Flow(lesson.title, lesson.about, options, lesson.credit)
    for number, step in enumerate(lesson.steps, 1):
        flow.heading(f"{number}. {step.heading}", flow.plates_mm(step) + TEXT_MM)
        flow.blocks(as_blocks(step.text))
        flow.plates(step)
        if step.question:
            flow.need(WRITING_LINES * LINE_MM + 12.0)
            flow.blocks(as_blocks(step.question), Face.SEMIBOLD)
            flow.writing_lines()
    answers = Flow(f"{lesson.title}: answers", "", options, lesson.credit)
    for number, step in enumerate(lesson.steps, 1):
        if step.answer:
            answers.heading(f"{number}. {step.heading}", answers.plates_mm(step) + TEXT_MM)
            answers.blocks(as_blocks(step.question), Face.ITALIC)
            answers.blocks(as_blocks(step.answer))
            answers.plates(step, step.numbers)
    return [*flow.done(), *(answers.done() if any(step.answer for step in lesson.steps) else [])]
