"""A page to draw on: text whose boxes are remembered, smooth shapes, pictures put down."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from lightsim.report.drawing.font import font
from lightsim.report.drawing.grey_card import INK, PAGE, RGB8

if TYPE_CHECKING:
    from PIL.Image import Image

Box = tuple[int, int, int, int]  # left, top, right, bottom; right and bottom lie just outside


@dataclass(frozen=True)
class TextBox:
    """A line of text and the pixels that it covers."""

    text: str
    box: Box
    size_px: int


@dataclass
class Canvas:
    """A picture in the making. texts, pictures: what has been put down so far, in order."""

    image: Image
    texts: list[TextBox] = field(default_factory=list)
    pictures: list[Box] = field(default_factory=list)

    @classmethod
    def blank(cls, width_px: int, height_px: int, colour: RGB8 = PAGE) -> Canvas:
        """An empty page of one colour."""
        from PIL import Image

        return cls(Image.new("RGB", (width_px, height_px), colour))

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size_px: int,
        fill: RGB8 = INK,
        bold: bool = False,
        anchor: str = "ls",
    ) -> Box:
        """One line of text. anchor: l, m or r, then s (baseline), m (middle) or a (top of the line).

        Returns the pixels that its ink covers.
        """
        from PIL import ImageDraw

        draw, face = ImageDraw.Draw(self.image), font(size_px, bold)
        left, top, right, bottom = draw.textbbox((x, y), text, font=face, anchor=anchor)
        box = (int(left), int(top), int(right + 0.999), int(bottom + 0.999))
        draw.text((x, y), text, font=face, fill=fill, anchor=anchor)
        self.texts.append(TextBox(text, box, size_px))
        return box

    def picture(self, picture: Image, x: int, y: int) -> Box:
        """A picture with its top left corner at (x, y); where it is see-through the page shows."""
        self.image.paste(picture, (x, y), picture if picture.mode == "RGBA" else None)
        box = (x, y, x + picture.width, y + picture.height)
        self.pictures.append(box)
        return box

    def bar(self, box: Box, colour: RGB8) -> None:
        """A filled rectangle."""
        self.image.paste(colour, box)

    def frame(self, box: Box, colour: RGB8, width_px: int = 1) -> None:
        """The outline of a rectangle, drawn inside it."""
        left, top, right, bottom = box
        for edge in (
            (left, top, right, top + width_px),
            (left, bottom - width_px, right, bottom),
            (left, top, left + width_px, bottom),
            (right - width_px, top, right, bottom),
        ):
            self.image.paste(colour, edge)
