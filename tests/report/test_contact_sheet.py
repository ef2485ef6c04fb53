"""Contact sheets: everything has its place and nothing overlaps."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from lightsim.errors import LightsimError, PictureError
from lightsim.measures.measure_records import FrameMeasures
from lightsim.report.drawing.page_files import page_image
from lightsim.report.drawing.sheet_of_paper import Sheet
from lightsim.report.footnotes import brief
from lightsim.report.frames import ReferenceDrop, SheetFrame, Varied
from lightsim.report.page_options import PageOptions
from lightsim.report.sheet.caption_lines import MEASURES
from lightsim.report.sheet.contact_sheet import SheetWords, sheet_pages
from lightsim.report.sheet.plate_layout import CaptionText, Wanted, lay_out_plate
from lightsim.report.sheet.quiz import letter
from lightsim.report.theme import A4

from .page_checks import check_page, ink_share
from .samples import clock_sweep, frame, petal_picture, sweep

FOOTER = (
    "field 24 mm wide (magnification 1.5), f/11, 1/128 s, ISO 100, effective f/27.5; flash, 60 × 40 mm, "
    "guide number 24 m at 1/16, 5600 K; ambient 200 lx, 4000 K; 60 drops, 0.4 to 2.1 mm"
)
WORDS = SheetWords(
    "Dewy petal in side light",
    "The flash goes round from the lens to behind the petal.",
    "One exposure for all: 1/128 s, f/11, ISO 100",
    FOOTER,
)


def pages(frames: list[SheetFrame], words: SheetWords = WORDS, **options: object) -> list[Sheet]:
    """The sheet's pages."""
    grid = bool(options.pop("grid", False))
    return sheet_pages(frames, words, PageOptions(**options), grid=grid)  # type: ignore[arg-type]


def texts(sheet: Sheet) -> list[str]:
    """All that is written on a page."""
    return [each.text for each in sheet.texts]


def written(sheet: Sheet) -> str:
    """The same in one line."""
    return " ".join(texts(sheet)).replace("\u00a0", " ")


def rows_of(sheet: Sheet) -> list[int]:
    """How many of the large pictures stand in each row."""
    widest = max(box[2] - box[0] for box in sheet.pictures)
    tops = [round(box[1]) for box in sheet.pictures if box[2] - box[0] > 0.97 * widest]
    return [tops.count(top) for top in sorted(set(tops))]


@pytest.mark.parametrize(
    ("count", "paper", "ground"),
    [
        (1, "a4", "light"),
        (2, "letter", "dark"),
        (5, "a4", "light"),
        (13, "a4", "dark"),
        (13, "letter", "light"),
        (24, "letter", "light"),
        (40, "a4", "light"),
    ],
)
def test_any_number_of_frames_fits_the_paper(count: int, paper: str, ground: str) -> None:
    made = pages(sweep(count), paper=paper, ground=ground)
    sides = {"a4": {210.0, 297.0}, "letter": {215.9, 279.4}}[paper]  # ISO 216; ANSI/ASME Y14.1, size A
    shown = 0
    for sheet in made:
        check_page(sheet)
        assert {sheet.width_mm, sheet.height_mm} == sides
        shown += sum(rows_of(sheet))
    assert shown == count


@pytest.mark.parametrize("count", [1, 7])
@pytest.mark.parametrize("size", [(80, 120), (80, 80), (160, 60)])
def test_pictures_of_any_shape(count: int, size: tuple[int, int]) -> None:
    frames = [replace(each, image=petal_picture(75, *size), inset_drop=None) for each in sweep(count)]
    for sheet in pages(frames):
        check_page(sheet)


@pytest.mark.parametrize("count", range(4, 40))
def test_no_frame_stands_alone_in_the_last_row(count: int) -> None:
    caption = CaptionText("105°", "three-quarter", ("petal 3.9 stops", "0.11 × 0.092 mm"))
    wanted = Wanted([caption] * count, 2.0 / 3.0, 1, True)
    layout = lay_out_plate(wanted, A4, 24.0, 20.0, None)
    for page in layout.pages:
        last = len(page) - (layout.rows_on(page) - 1) * layout.columns
        assert layout.rows_on(page) == 1 or layout.columns == 1 or last > 1


def test_thirteen_frames_stand_as_seven_and_six() -> None:
    assert rows_of(pages(sweep(13))[0]) == [7, 6]


def test_gutters_are_equal() -> None:
    sheet = pages(sweep(13))[0]
    widest = max(box[2] - box[0] for box in sheet.pictures)
    large = [box for box in sheet.pictures if box[2] - box[0] > 0.97 * widest]
    gaps = [b[0] - a[2] for a, b in pairwise(large) if abs(a[1] - b[1]) < 1.0]
    assert max(gaps) - min(gaps) < 0.2  # pictures are moved to whole pixels, 0.085 mm


def test_frames_stand_in_order_row_by_row() -> None:
    frames = sweep(13)
    headings = [each.heading for each in frames]
    assert [text for text in texts(pages(frames)[0]) if text in headings] == headings


def test_many_frames_make_several_numbered_pages() -> None:
    made = pages(sweep(40))
    assert len(made) > 1
    for number, sheet in enumerate(made, 1):
        assert f"page {number} of {len(made)}" in texts(sheet)
    assert not any(text.startswith("page 1") for text in texts(pages(sweep(3))[0]))


def test_the_pictures_on_the_sheet_are_those_given() -> None:
    levels = (30, 90, 200)
    frames = [frame(45.0, image=np.full((80, 120, 3), level, np.uint8), inset_drop=None) for level in levels]
    sheet = pages(frames, dpi=150.0)[0]
    shown = np.asarray(page_image(sheet))
    for box, level in zip(sheet.pictures, levels, strict=True):
        x, y = (round(0.5 * (box[side] + box[side + 2]) / 25.4 * 150.0) for side in (0, 1))
        assert shown[y, x].tolist() == [level] * 3


def test_a_mat_of_mid_grey_surrounds_each_picture() -> None:
    sheet = pages([frame(75.0)], dpi=150.0)[0]
    shown = np.asarray(page_image(sheet))
    left, top, _, bottom = sheet.pictures[0]
    beside = shown[round(0.5 * (top + bottom) / 25.4 * 150), round((left - 0.5) / 25.4 * 150)]
    assert beside.tolist() == [118, 118, 118]  # 18 % in sRGB, see the theme's tests


def test_captions_say_angle_name_contrast_and_highlight() -> None:
    found = texts(pages([frame(90.0)])[0])
    # at 90 degrees the closed form puts the highlight at sin(45) = 71 % of the way; 6 : 1 is 2.6 stops
    assert {"90°", "side"} <= set(found)
    assert "petal 2.6 stops · 0.11 × 0.057 mm" in found
    all_of_them = " ".join(texts(pages([frame(90.0)], measures=("share", "place"))[0]))
    assert "0.64 % of the drop · 71 % out at 10 o’clock" in all_of_them


def test_an_empty_measure_is_absent_with_one_line_for_why() -> None:
    reason = "27 drops: no image of the key in this drop; 3 drops: out of focus"
    empty = FrameMeasures(missing={"petal_contrast_stops": reason, "highlight_long_mm_median": reason})
    found = texts(pages([frame(75.0), frame(150.0, measures=empty)])[0])
    assert not any("–" in text or "None" in text for text in found)
    assert " ".join(found).count("Without a number at 150°: no image of the key in this drop.") == 1


def test_a_long_list_of_reasons_is_cut_between_its_parts() -> None:
    reason = "; ".join(f"{number} drops: out of focus or outside the frame" for number in (45, 32, 10, 3))
    assert brief(reason) == "; ".join(reason.split("; ")[:2]) + " …"


def test_own_exposures_are_told() -> None:
    found = " ".join(texts(pages([frame(exposure_stops=1.3), frame(120.0, exposure_stops=-0.04)])[0]))
    assert "exposed +1.3 stops" in found
    assert "exposed ±0.0 stops" in found


def test_other_quantities_head_the_caption() -> None:
    assert {"9 o’clock", "12 o’clock", "3 o’clock", "side 75°"} <= set(
        texts(pages(clock_sweep([9, 12, 3]))[0])
    )
    varied = (Varied("angle", 75.0, "deg"), Varied("aperture", 11.0, "f/"))
    assert "75°, f/11" in texts(pages([frame(varied=varied)])[0])


def test_insets_show_the_drop_and_another_away_from_the_focus() -> None:
    assert len(pages([frame(75.0)])[0].pictures) == 2
    assert len(pages([frame(75.0, inset_drop=None)])[0].pictures) == 1
    two = pages([frame(75.0, second_drop=ReferenceDrop((20.0, 20.0), 6.0))])[0]
    assert len(two.pictures) == 3
    assert "second lies away from the focus" in written(two)
    check_page(two)


def test_what_cannot_be_built_is_marked() -> None:
    frames = [frame(0.0, not_buildable="the flash stands inside the lens"), frame(75.0)]
    sheet = pages(frames)[0]
    check_page(sheet)
    assert "cannot be built" in texts(sheet)
    assert "Cannot be built: 0° (the flash stands inside the lens)." in written(sheet)


def test_a_quiz_has_letters_and_its_answers_apart() -> None:
    frames = sweep(13)
    quiz, answers = pages(frames, hide_captions=True)
    check_page(quiz)
    check_page(answers)
    letters = [letter(index) for index in range(13)]
    assert [text for text in texts(quiz) if text in letters] == letters
    assert not any("°" in text or "stops" in text for text in texts(quiz) if text not in WORDS.set_up)
    told = [text for text in texts(answers) if text.endswith("°")]
    assert "cannot be built" not in texts(answers)
    assert sorted(told) == sorted(each.heading for each in frames)
    assert told != [each.heading for each in frames]  # mixed
    assert [letter(index) for index in (0, 25, 26, 51, 52)] == ["A", "Z", "AA", "AZ", "BA"]


def test_the_answers_say_what_cannot_be_built_and_what_is_hidden() -> None:
    frames = [frame(0.0, not_buildable="the flash stands inside the lens"), frame(15.0, hidden_share=0.44)]
    quiz, answers = pages(frames, hide_captions=True)
    check_page(answers)
    assert "cannot be built" in texts(answers)
    for page in (answers, pages(frames)[0]):
        assert "Cannot be built: 0° (the flash stands inside the lens)." in written(page)
        assert "solid things hide part of the light: 44 % (15°)." in written(page)
    assert "hide" not in written(quiz)


def test_a_grid_has_its_columns_and_rows_named() -> None:
    pairs = [(angle, stop) for stop in (8.0, 16.0) for angle in (15.0, 75.0, 135.0)]
    frames = [
        frame(angle, varied=(Varied("angle", angle, "deg"), Varied("aperture", stop, "f/")))
        for angle, stop in pairs
    ]
    sheet = pages(frames, grid=True)[0]
    check_page(sheet)
    found = texts(sheet)
    assert {"15°", "75°", "135°", "f/8", "f/16"} <= set(found)
    assert not any("°, f/" in text for text in found)
    assert rows_of(sheet) == [3, 3]


@pytest.mark.parametrize(("across", "down"), [(13, 3), (3, 13), (11, 11)])
def test_grids_of_any_shape_find_room(across: int, down: int) -> None:
    frames = [
        frame(75.0, varied=(Varied("angle", 15.0 * column, "deg"), Varied("distance", 100.0 + row, "mm")))
        for row in range(down)
        for column in range(across)
    ]
    shown = 0
    for sheet in pages(frames, grid=True):
        check_page(sheet)
        shown += sum(rows_of(sheet))
    assert shown == across * down


def test_columns_title_and_credit_can_be_asked_for() -> None:
    for columns in (2, 3, 6):
        for sheet in pages(sweep(6), columns=columns, title="Another", credit="For the class"):
            check_page(sheet)
            assert max(rows_of(sheet)) == columns
            assert {"Another", "For the class"} <= set(texts(sheet))
    for sheet in pages(sweep(20), columns=9, measures=("petal", "place")):
        check_page(sheet)
    with pytest.raises(LightsimError, match="columns: found 30, allowed 1 to 9 on this paper"):
        pages(sweep(30), columns=30)


def test_measures_are_named_and_others_refused() -> None:
    for sheet in pages(sweep(5), measures=tuple(MEASURES)):
        check_page(sheet)
    with pytest.raises(LightsimError, match="measures: found 'sparkle', allowed petal, highlight"):
        pages(sweep(2), measures=("sparkle",))
    with pytest.raises(LightsimError, match="paper: found 'a5', allowed a4 or letter"):
        pages(sweep(2), paper="a5")


def test_long_words_are_wrapped_or_cut() -> None:
    words = SheetWords("Very long title " * 20, "word " * 200, "note " * 80, "one\ntwo " + "x" * 900)
    for sheet in pages(sweep(2), words):
        check_page(sheet)


def test_a_page_is_mostly_paper() -> None:
    # the photographs take most of the ink that there is
    white = [replace(each, image=np.full_like(each.image, 255), inset_drop=None) for each in sweep(13)]
    assert ink_share(np.asarray(page_image(sheet_pages(white, WORDS, PageOptions(dpi=100.0))[0]))) < 0.08


def test_the_same_frames_give_the_same_sheet() -> None:
    one, other = (page_image(sheet_pages(sweep(3), WORDS, PageOptions(dpi=100.0))[0]) for _ in range(2))
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
        pages(frames)
    assert words in str(caught.value)
