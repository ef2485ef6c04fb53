"""Contact sheets: everything has its place and nothing overlaps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lightsim.errors import PictureError
from lightsim.measures.records import FrameMeasures
from lightsim.report.drawing.canvas import Box, Canvas
from lightsim.report.drawing.grey_card import PAGE, SMALLEST_PT
from lightsim.report.drawing.plan_icon import ASPECT
from lightsim.report.frames import SheetFrame, Varied
from lightsim.report.sheet.captions import brief
from lightsim.report.sheet.contact_sheet import contact_sheet, draw_sheet
from lightsim.report.sheet.sheet_layout import Layout
from lightsim.report.words import DASH

from .samples import clock_sweep, frame, petal_picture, sweep

FOOTER = (
    "field 24 mm wide (magnification 1.5), f/11, 1/128 s, ISO 100, effective f/27.5; flash, 60 × 40 mm, "
    "guide number 24 m at 1/16, 5600 K; ambient 200 lx, 4000 K; 60 drops, 0.4 to 2.1 mm"
)


def drawn(frames: list[SheetFrame], **options: object) -> tuple[Canvas, Layout]:
    """The sheet with its boxes."""
    settings: dict[str, object] = {
        "title": "Dewy petal in side light",
        "subtitle": "The flash goes round from the lens to behind the petal.",
        "footer": FOOTER,
        "exposure_note": "One exposure for all: 1/128 s, f/11, ISO 100",
        "columns": None,
        "width_px": 3508,
    }
    return draw_sheet(frames, **{**settings, **options})  # type: ignore[arg-type]


def overlap(one: Box, other: Box) -> bool:
    """Whether two boxes share a pixel."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def inside(box: Box, outer: Box) -> bool:
    """Whether a box lies within another."""
    return box[0] >= outer[0] and box[1] >= outer[1] and box[2] <= outer[2] and box[3] <= outer[3]


def check_boxes(canvas: Canvas) -> None:
    """Everything is on the page, no words overlap words or pictures, no pictures overlap."""
    page = (0, 0, *canvas.image.size)
    boxes = [text.box for text in canvas.texts] + canvas.pictures
    assert all(inside(box, page) for box in boxes)
    for number, box in enumerate(boxes):
        for other in boxes[number + 1 :]:
            assert not overlap(box, other), (number, box, other)


@pytest.mark.parametrize("count", [1, 2, 3, 5, 7, 13, 24])
def test_any_number_of_frames_fits_without_overlaps(count: int) -> None:
    canvas, layout = drawn(sweep(count))
    check_boxes(canvas)
    assert layout.columns * layout.rows >= count > layout.columns * (layout.rows - 1)
    assert canvas.image.size == (layout.width, layout.height)


@pytest.mark.parametrize("count", [1, 3, 13])
@pytest.mark.parametrize("size", [(120, 80), (80, 120), (80, 80), (160, 60)])
def test_pictures_of_any_shape(count: int, size: tuple[int, int]) -> None:
    frames = [replace(each, image=petal_picture(75, *size), inset_drop=None) for each in sweep(count)]
    canvas, _ = drawn(frames)
    check_boxes(canvas)


@pytest.mark.parametrize("count", [1, 2, 3, 7, 13])
def test_smallest_words_when_printed_on_a4(count: int) -> None:
    canvas, layout = drawn(sweep(count))
    # A4 is 297 mm by 210 mm (ISO 216); the sheet is scaled to fit it, lying or standing
    width, height = canvas.image.size
    long, short = max(width, height), min(width, height)
    mm_per_px = min(297.0 / long, 210.0 / short)
    smallest_pt = min(text.size_px for text in canvas.texts) * mm_per_px / 25.4 * 72.0
    assert smallest_pt >= SMALLEST_PT * 0.95
    assert layout.cell.text >= 33  # 8 pt at 300 dots per inch


def test_thirteen_frames_lie_in_four_or_five_columns() -> None:
    canvas, layout = drawn(sweep(13))
    assert layout.columns in (4, 5)
    assert canvas.image.width > canvas.image.height


def test_frames_stand_in_order_row_by_row() -> None:
    canvas, layout = drawn(sweep(13))
    headings = [text for text in canvas.texts if text.size_px == layout.cell.heading]
    angles = [float(text.text.removesuffix("°")) for text in headings if text.text.endswith("°")]
    assert angles == sorted(angles)
    assert len(angles) == 13
    corners = [layout.corner(index) for index in range(13)]
    assert corners == sorted(corners, key=lambda corner: (corner[1], corner[0]))


def test_the_pictures_on_the_sheet_are_those_given() -> None:
    pictures = [np.full((80, 120, 3), 30 * index, np.uint8) for index in range(3)]
    canvas, layout = drawn([frame(45.0, image=picture, inset_drop=None) for picture in pictures])
    sheet = np.asarray(canvas.image)
    for index in range(3):
        x, y = layout.corner(index)
        middle = y + layout.band_height + layout.cell.pad + layout.picture_height // 2
        assert sheet[middle, x + layout.cell_width // 2].tolist() == [30 * index] * 3


def test_words_of_a_frame_stay_in_its_cell() -> None:
    canvas, layout = drawn(sweep(7))
    for index in range(7):
        x, y = layout.corner(index)
        cell = (x, y, x + layout.cell_width, y + layout.cell_height)
        within = [text for text in canvas.texts if overlap(text.box, cell)]
        assert len(within) == 8  # heading, light, contrast (two), three of the highlight, the scale
        assert all(inside(text.box, cell) for text in within)


def test_captions_say_angle_name_contrast_and_highlight() -> None:
    canvas, _ = drawn([frame(90.0)])
    texts = [text.text for text in canvas.texts]
    # at 90 degrees the closed form puts the highlight at sin(45) = 0.71 radii; contrast 6 : 1 = 2.6 stops
    assert {"90°", "side", "2.6 stops", "0.71 R at 10 o’clock"} <= set(texts)
    assert {"0.11 × 0.057 mm", "0.64 % of the disc"} <= set(texts)


def test_each_frame_has_plan_picture_and_inset() -> None:
    canvas, layout = drawn(sweep(3))
    assert len(canvas.pictures) == 9
    icon, picture, inset = canvas.pictures[:3]
    assert icon[2] - icon[0] == round(ASPECT * layout.cell.icon)
    assert picture[2] - picture[0] == layout.cell_width
    assert inset[2] - inset[0] == inset[3] - inset[1] == layout.inset
    assert inset[1] >= picture[3]  # below its picture


def test_an_empty_measure_is_a_dash_with_its_reason_at_the_foot() -> None:
    empty = FrameMeasures(
        petal_contrast_stops=None,
        missing={
            "petal_contrast_stops": "no shadow in the frame",
            "highlight_long_mm_median": "no drop shows a highlight",
            "highlight_disc_share_median": "no drop shows a highlight",
            "highlight_place_share_median": "no drop shows a highlight",
        },
    )
    canvas, _ = drawn([frame(75.0), frame(0.0, measures=empty)])
    texts = [text.text for text in canvas.texts]
    assert DASH + "¹" in texts
    assert texts.count(DASH + "²") == 1  # one dash for the whole highlight
    foot = " ".join(texts[-4:])
    assert "¹\u00a0no shadow in the frame." in foot
    assert "²\u00a0no drop shows a highlight." in foot


def test_a_long_list_of_reasons_is_cut_between_its_parts() -> None:
    reason = "; ".join(f"{number} drops: out of focus or outside the frame" for number in (45, 32, 10, 3))
    assert brief(reason) == "; ".join(reason.split("; ")[:2]) + " …"
    assert brief("no shadow in the frame.") == "no shadow in the frame"


def test_without_a_drop_to_show_there_is_a_plate_with_a_dash() -> None:
    canvas, _ = drawn([frame(inset_drop=None)])
    assert len(canvas.pictures) == 2
    assert DASH in [text.text for text in canvas.texts]
    assert not any(text.text.endswith(" mm") and "×" not in text.text for text in canvas.texts)  # no scale


def test_own_exposures_are_told() -> None:
    canvas, _ = drawn([frame(exposure_stops=1.3), frame(120.0, exposure_stops=-0.04)])
    texts = [text.text for text in canvas.texts]
    assert "exposed +1.3 stops" in texts
    assert "exposed ±0.0 stops" in texts


def test_other_quantities_head_the_caption() -> None:
    clocks = [text.text for text in drawn(clock_sweep([9, 12, 3]))[0].texts]
    assert {"9 o’clock", "12 o’clock", "3 o’clock", "side 75°"} <= set(clocks)
    varied = (Varied("angle", 75.0, "deg"), Varied("aperture", 11.0, "f/"))
    assert "75°, f/11" in [text.text for text in drawn([frame(varied=varied)])[0].texts]


def test_a_set_without_a_light_has_no_plan() -> None:
    canvas, _ = drawn([frame(varied=(), angle_deg=None)])
    assert len(canvas.pictures) == 2


def test_columns_and_width_can_be_asked_for() -> None:
    for columns in (1, 2, 6):
        canvas, layout = drawn(sweep(6), columns=columns)
        assert layout.columns == columns
        check_boxes(canvas)
    assert contact_sheet(sweep(13), title="", width_px=1600).width <= 1600


def test_a_sheet_of_half_the_width_has_half_the_words() -> None:
    large, small = (drawn(sweep(13), width_px=width)[1] for width in (3508, 1754))
    assert small.cell.text == pytest.approx(large.cell.text / 2, abs=1)


def test_long_words_are_wrapped_or_cut() -> None:
    long = {"title": "Very long title " * 20, "subtitle": "word " * 200, "footer": "one\ntwo " + "x" * 900}
    canvas, _ = drawn(sweep(2), **long)
    check_boxes(canvas)


def test_the_page_is_grey() -> None:
    sheet = contact_sheet(sweep(3), title="Grey")
    assert sheet.getpixel((2, 2)) == PAGE
    assert sheet.mode == "RGB"


def test_the_same_frames_give_the_same_sheet() -> None:
    one, other = (contact_sheet(sweep(3), title="Twice") for _ in range(2))
    assert one.tobytes() == other.tobytes()


@pytest.mark.parametrize(
    ("frames", "words"),
    [
        ([], "at least one"),
        ([frame(), frame(image=np.zeros((8, 8), np.uint8))], "frame 2 is an array of shape (8, 8)"),
        ([frame(image=np.zeros((8, 8, 3)))], "kind float64"),
    ],
)
def test_wrong_frames_are_named(frames: list[SheetFrame], words: str) -> None:
    with pytest.raises(PictureError) as caught:
        contact_sheet(frames, title="Wrong")
    assert words in str(caught.value)
