"""The contact sheet: pictures in the order of the sweep, with their light, measures and reference drop."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from lightsim.present.canvas import Canvas
from lightsim.present.captions import READING_KEY, Caption, Footnotes, caption
from lightsim.present.font import shortened, text_width_px
from lightsim.present.frames import SheetFrame, checked_frames, largest_distance_mm
from lightsim.present.inset import draw_scale_bar, enlarged, inset_box
from lightsim.present.plan_icon import plan_icon
from lightsim.present.sheet_layout import Layout, Words, contrast_line, foot_lines, header_lines, lay_out
from lightsim.present.theme import INK, LABEL, PLATE, RULE
from lightsim.present.words import DASH

if TYPE_CHECKING:
    from PIL.Image import Image

DEFAULT_WIDTH_PX = 3508  # the long side of A4 at 300 dpi


def contact_sheet(
    frames: Sequence[SheetFrame],
    *,
    title: str,
    subtitle: str = "",
    footer: str = "",
    exposure_note: str = "",
    columns: int | None = None,
    width_px: int = DEFAULT_WIDTH_PX,
) -> Image:
    """A contact sheet of the frames, in their order, fit to be printed on A4.

    footer : the set-up in a line; line breaks are kept.
    exposure_note : what the exposures have in common.
    columns : None takes the number that gives the largest pictures.
    width_px : pixels along the long side of the A4 page. The sheet itself is narrower when it stands
        upright or when a few pictures do not fill the page.
    Raises PictureError where there is no frame or a picture is of the wrong kind.
    """
    canvas, _ = draw_sheet(
        checked_frames(frames),
        title=title,
        subtitle=subtitle,
        footer=footer,
        exposure_note=exposure_note,
        columns=columns,
        width_px=width_px,
    )
    return canvas.image


def draw_sheet(
    frames: list[SheetFrame],
    *,
    title: str,
    subtitle: str,
    footer: str,
    exposure_note: str,
    columns: int | None,
    width_px: int,
) -> tuple[Canvas, Layout]:
    """The sheet with the boxes of all that is on it, and its layout."""
    notes = Footnotes()
    captions = [caption(frame, notes) for frame in frames]
    foot = [*footer.splitlines(), "  ".join((READING_KEY, *_footnotes(notes)))]
    words = Words(captions, subtitle, exposure_note, foot)
    aspect = max(frame.image.shape[0] / frame.image.shape[1] for frame in frames)
    layout = lay_out(words, aspect, width_px, columns)
    canvas = Canvas.blank(layout.width, layout.height)
    _draw_header(canvas, layout, title, words)
    farthest = largest_distance_mm(frames)
    for index, frame in enumerate(frames):
        _draw_frame(canvas, layout, layout.corner(index), frame, captions[index], farthest)
    _draw_foot(canvas, layout, words)
    return canvas, layout


def _footnotes(notes: Footnotes) -> list[str]:
    return [line.rstrip(".") + "." for line in notes.lines()]


def _draw_header(canvas: Canvas, layout: Layout, title: str, words: Words) -> None:
    page, x, content = layout.page, layout.margin, layout.width - 2 * layout.margin
    size = round(1.9 * page.text)
    while size > page.text and text_width_px(title, size, bold=True) > content:
        size -= 1
    y = layout.margin + round(1.4 * page.text)
    canvas.text(x, y, shortened(title, size, content, bold=True), size, INK, bold=True)
    y += round(0.3 * page.text)
    for line in header_lines(words, content, page):
        y += page.line
        canvas.text(x, y, line, page.text, LABEL)


def _draw_frame(
    canvas: Canvas,
    layout: Layout,
    corner: tuple[int, int],
    frame: SheetFrame,
    words: Caption,
    farthest_mm: float,
) -> None:
    x, y = corner
    _draw_band(canvas, layout, x, y, frame, words, farthest_mm)
    y += layout.band_height + layout.cell.pad
    _draw_picture(canvas, layout, x, y, frame)
    y += layout.picture_height + layout.cell.pad
    _draw_inset(canvas, layout, x, y, frame)
    _draw_beside(canvas, layout, x + layout.inset + 2 * layout.cell.pad, y, frame, words)


def _draw_band(
    canvas: Canvas, layout: Layout, x: int, y: int, frame: SheetFrame, words: Caption, farthest_mm: float
) -> None:
    """The line over a picture: heading, trade name, contrast; the plan at its right."""
    cell = layout.cell
    base = y + cell.icon - cell.line - round(0.32 * cell.text)
    box = canvas.text(x, base, words.heading, cell.heading, INK, bold=True)
    canvas.text(box[2] + cell.pad, base, words.light, cell.text, INK)
    base = y + cell.icon - round(0.28 * cell.text)
    box = canvas.text(x, base, "contrast", cell.text, LABEL)
    canvas.text(x + text_width_px("contrast ", cell.text), base, contrast_line(words)[9:], cell.text, INK)
    ring = frame.distance_mm / farthest_mm if farthest_mm > 0 else 1.0
    icon = plan_icon(frame.angle_deg, frame.clock, cell.icon, ring=ring)
    canvas.picture(icon, x + layout.cell_width - icon.width, y)


def _draw_picture(canvas: Canvas, layout: Layout, x: int, y: int, frame: SheetFrame) -> None:
    """The picture, with fine corners around the reference drop."""
    from PIL import Image

    height, width = frame.image.shape[:2]
    scale = min(layout.cell_width / width, layout.picture_height / height)
    size = (round(width * scale), round(height * scale))
    picture = Image.fromarray(frame.image).resize(size, Image.Resampling.LANCZOS)
    left, top = x + (layout.cell_width - size[0]) // 2, y + (layout.picture_height - size[1]) // 2
    canvas.picture(picture, left, top)
    if frame.inset_drop is not None:
        box = [edge * scale for edge in inset_box(frame.image.shape, frame.inset_drop)]
        _draw_corners(canvas, left + box[0], top + box[1], box[2] - box[0], max(layout.cell.text // 16, 1))


def _draw_corners(canvas: Canvas, left: float, top: float, side: float, thick: int) -> None:
    """Four fine corners of a square."""
    arm = max(round(side * 0.2), 3 * thick)
    l, t, r, b = round(left), round(top), round(left + side), round(top + side)  # noqa: E741
    for x, dx in ((l, arm), (r, -arm)):
        for y, dy in ((t, arm), (b, -arm)):
            inward = (thick if dx > 0 else -thick), (thick if dy > 0 else -thick)
            canvas.bar(_sorted_box(x, y, x + dx, y + inward[1]), INK)
            canvas.bar(_sorted_box(x, y, x + inward[0], y + dy), INK)


def _sorted_box(x0: int, y0: int, x1: int, y1: int) -> tuple[int, int, int, int]:
    return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)


def _draw_inset(canvas: Canvas, layout: Layout, x: int, y: int, frame: SheetFrame) -> None:
    """The reference drop enlarged, or a plate with a dash where there is none."""
    side, cell = layout.inset, layout.cell
    box = (x, y, x + side, y + side)
    if frame.inset_drop is None:
        canvas.bar(box, PLATE)
        canvas.text(x + side / 2, y + side / 2, DASH, cell.text, INK, anchor="mm")
        return
    canvas.picture(enlarged(frame.image, frame.inset_drop, side), x, y)


def _draw_beside(canvas: Canvas, layout: Layout, x: int, y: int, frame: SheetFrame, words: Caption) -> None:
    """Beside the inset: the highlight's figures, and the inset's scale at its foot."""
    cell = layout.cell
    base = y + round(0.86 * cell.text)
    for line in words.highlight:
        canvas.text(x, base, line, cell.text, INK)
        base += cell.line
    if frame.inset_drop is not None and frame.mm_per_px is not None:
        left, _, right, _ = inset_box(frame.image.shape, frame.inset_drop)
        width_mm = frame.mm_per_px * (right - left)
        draw_scale_bar(canvas, x, y + layout.inset, width_mm, width_mm / layout.inset, cell.text)


def _draw_foot(canvas: Canvas, layout: Layout, words: Words) -> None:
    page, x, y = layout.page, layout.margin, layout.foot_top
    content = layout.width - 2 * layout.margin
    canvas.bar((x, y - page.pad, x + content, y - page.pad + max(page.text // 16, 1)), RULE)
    for line in foot_lines(words, content, page):
        y += page.line
        canvas.text(x, y, line, page.text, LABEL)
