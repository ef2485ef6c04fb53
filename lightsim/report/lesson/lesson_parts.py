"""What a lesson's page, worksheet and slides are made of: steps, Markdown, mounted photographs."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import ceil
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lightsim.report.drawing.sheet_of_paper import Sheet, break_lines, line_height_mm
from lightsim.report.handout.handout_records import HandoutFrame, HandoutSet
from lightsim.report.sheet.mounting import draw_mounted
from lightsim.report.theme import Face

if TYPE_CHECKING:
    from markdown_it import MarkdownIt


@dataclass(frozen=True)
class TaughtStep:
    """One step. text, question, answer : Markdown, the measured numbers in it.  shown : its photographs.

    numbers : names of the measures that stand under the photographs with the answer.
    """

    heading: str
    text: str
    shown: HandoutSet
    question: str = ""
    answer: str = ""
    numbers: tuple[str, ...] = ("petal contrast", "highlight")


@dataclass(frozen=True)
class TaughtLesson:
    """A lesson. about : one or two sentences on what it teaches.  credit : who gives it, or ""."""

    title: str
    about: str
    steps: tuple[TaughtStep, ...]
    credit: str = ""


@dataclass(frozen=True)
class Block:
    """A paragraph, or a point of a list (`mark` is its sign, "" for a paragraph)."""

    text: str
    mark: str = ""


@cache
def _reader() -> MarkdownIt:
    from markdown_it import MarkdownIt

    return MarkdownIt("commonmark", {"html": False})


def as_html(text: str) -> str:
    """Markdown as HTML; what looks like markup in it is shown as it stands."""
    return str(_reader().render(text)) if text.strip() else ""


def as_blocks(text: str) -> list[Block]:
    """Markdown as paragraphs and points of lists, without emphasis."""
    blocks: list[Block] = []
    lists: list[Any] = []
    for token in _reader().parse(text):
        if token.type in ("bullet_list_open", "ordered_list_open"):
            lists.append(0 if token.type.startswith("ordered") else None)
        elif token.type in ("bullet_list_close", "ordered_list_close"):
            lists.pop()
        elif token.type == "list_item_open" and lists[-1] is not None:
            lists[-1] += 1
        elif token.type == "inline":
            mark = "" if not lists else "•" if lists[-1] is None else f"{lists[-1]}."
            blocks.append(Block(_plain(token), mark))
    return blocks


def _plain(token: Any) -> str:
    parts = [child.content if child.type != "softbreak" else " " for child in token.children or []]
    return "".join(parts)


GAP_MM = 4.0


def picture_of(frame: HandoutFrame) -> NDArray[np.uint8]:
    """A frame's photograph (h, w, 3)."""
    from PIL import Image

    with Image.open(io.BytesIO(frame.picture)) as image:
        return np.asarray(image.convert("RGB"))


def chosen(shown: HandoutSet, most: int) -> list[HandoutFrame]:
    """At most so many frames, spread evenly from the first to the last."""
    count = len(shown.frames)
    if count <= most:
        return list(shown.frames)
    return [shown.frames[round(i * (count - 1) / (most - 1))] for i in range(most)]


def columns_for(count: int, most: int) -> int:
    """Columns that leave the last row full, or as full as can be."""
    fitting = range(1, min(count, most) + 1)
    return max(fitting, key=lambda n: (count % n == 0 and n > 1, -(ceil(count / n) * n - count), n))


def plates_height_mm(
    count: int, shape: tuple[int, int], room_mm: float, columns: int, points: float, lines: int
) -> float:
    """Height that so many plates of (height, width) pixels take, with so many lines under each."""
    width = (room_mm - GAP_MM * (columns - 1)) / columns
    row = width * shape[0] / shape[1] + line_height_mm(points, lines) + GAP_MM
    return ceil(count / columns) * row


def draw_plates(
    sheet: Sheet,
    frames: Sequence[HandoutFrame],
    left: float,
    top: float,
    room_mm: float,
    columns: int,
    points: float,
    numbers: Sequence[str] = (),
) -> float:
    """Draw the plates; returns where they end.

    numbers : names of measures that stand under each frame; none for a worksheet, which asks for them.
    """
    width = (room_mm - GAP_MM * (columns - 1)) / columns
    height, wide = picture_of(frames[0]).shape[:2]
    tall, lines = width * height / wide, 1 + len(numbers)
    row = tall + line_height_mm(points, lines) + GAP_MM
    for place, frame in enumerate(frames):
        x = left + (place % columns) * (width + GAP_MM)
        y = top + (place // columns) * row
        draw_mounted(sheet, picture_of(frame), (x, y, x + width, y + tall))
        y += tall + line_height_mm(points)
        name = f"{frame.heading} {frame.trade_name}".strip()
        sheet.text(x, y, break_lines(name, points, width, Face.SEMIBOLD)[0], points, face=Face.SEMIBOLD)
        for number in numbers:
            y += line_height_mm(points)
            words = f"{number} {frame.said[number]}" if number in frame.said else ""
            if words:
                sheet.text(x, y, break_lines(words, points, width)[0], points, sheet.theme.quiet)
    return top + ceil(len(frames) / columns) * row
