"""Pictures side by side."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lightsim.errors import PictureError
from lightsim.measures.records import FrameMeasures
from lightsim.report.comparison.page import compare_sheet, draw_compare, light_words
from lightsim.report.comparison.rows import compare_rows, left_out
from lightsim.report.sheet.captions import Footnotes

from .samples import frame, measured, petal_picture, sweep
from .test_sheet import FOOTER, check_boxes, overlap


def row(rows: list, name: str) -> object:
    """The row whose name begins so."""
    return next(each for each in rows if each.name.startswith(name))


def test_differences_are_in_stops_against_the_first() -> None:
    first = FrameMeasures(petal_contrast_ratio=2.0, petal_linear=0.18, highlight_long_mm_median=0.1)
    second = FrameMeasures(petal_contrast_ratio=8.0, petal_linear=0.09, highlight_long_mm_median=0.2)
    rows = compare_rows([first, second])
    # stops are powers of two: 8 : 2 is two stops, half is one stop less (definition of the stop)
    contrast = row(rows, "petal contrast")
    assert contrast.values == ("2.0 : 1, 1.0 stops", "8.0 : 1, 3.0 stops")
    assert contrast.changes == ("", "+2.0 stops")
    assert row(rows, "petal’s brightness").values == ("±0.0 stops", "−1.0 stops")
    assert row(rows, "petal’s brightness").changes == ("", "−1.0 stops")
    assert row(rows, "highlight, long").changes == ("", "+1.0 stops")


def test_clock_positions_differ_by_hours_the_shorter_way() -> None:
    rows = compare_rows([measured(75, clock=11.0), measured(75, clock=1.0)])
    assert row(rows, "highlight, clock").changes == ("", "+2.0 h")


def test_what_one_picture_lacks_is_a_dash_and_what_all_lack_is_left_out() -> None:
    lacking = FrameMeasures(missing={"petal_contrast_ratio": "no shadow", "petal_linear": "no petal"})
    notes = Footnotes()
    rows = compare_rows([FrameMeasures(petal_contrast_ratio=2.0), lacking], notes)
    assert row(rows, "petal contrast").values == ("2.0 : 1, 1.0 stops", "–¹")
    assert row(rows, "petal contrast").changes == ("", "")
    assert notes.sentences() == ["¹\u00a0no shadow."]
    assert [each.name for each in rows] == ["petal contrast, bright : dark parts"]
    assert any("petal’s brightness" in line for line in left_out([lacking, lacking]))


@pytest.mark.parametrize("count", [2, 3, 4, 5, 6])
@pytest.mark.parametrize("size", [(120, 80), (80, 120)])
def test_two_to_six_pictures_fit_without_overlaps(count: int, size: tuple[int, int]) -> None:
    frames = [replace(each, image=petal_picture(75, *size), inset_drop=None) for each in sweep(count)]
    canvas = draw_compare(frames, None, "Side by side", ("A subtitle", "One exposure for all"), FOOTER, 3508)
    check_boxes(canvas)
    assert canvas.image.width <= 3508
    assert len(canvas.pictures) == 2 * count  # plan and picture


def test_values_and_differences_stand_under_their_picture() -> None:
    canvas = draw_compare(sweep(3), None, "Side by side", (), "", 3508)
    pictures = [box for box in canvas.pictures if box[2] - box[0] > 700]
    changes = [text for text in canvas.texts if text.text.endswith("stops") and text.text[0] in "+−±"]
    assert len(pictures) == 3
    assert changes
    for text in changes:
        columns = [(left, 0, right, canvas.image.height) for left, _, right, _ in pictures]
        assert sum(overlap(text.box, column) for column in columns) == 1


def test_labels_name_the_pictures() -> None:
    canvas = draw_compare(sweep(2), ["dewy petal", "after rain"], "Two petals", (), FOOTER, 3508)
    texts = [text.text for text in canvas.texts]
    assert {"dewy petal", "after rain", "Two petals"} <= set(texts)
    assert any("difference from dewy petal" in text for text in texts)


def test_a_very_long_label_is_cut() -> None:
    canvas = draw_compare(sweep(4), ["label " * 30] * 4, "Side by side", (), "", 3508)
    check_boxes(canvas)


def test_the_lights_words_do_not_repeat_the_label() -> None:
    assert light_words(frame(75.0), "75°") == "side at 10 o’clock"
    assert light_words(frame(75.0), "dewy") == "side 75° at 10 o’clock"
    assert light_words(frame(0.0), "dewy") == "frontal 0°"
    assert light_words(frame(angle_deg=None), "dewy") == ""


@pytest.mark.parametrize(("count", "labels"), [(1, None), (7, None), (2, ["one"])])
def test_other_numbers_of_pictures_are_refused(count: int, labels: list[str] | None) -> None:
    with pytest.raises(PictureError, match="allowed 2 to 6 pictures"):
        compare_sheet(sweep(count), labels)


def test_the_pictures_shown_are_those_given() -> None:
    frames = [
        frame(angle, image=np.full((80, 120, 3), level, np.uint8), inset_drop=None)
        for angle, level in ((0, 40), (90, 200))
    ]
    canvas = draw_compare(frames, None, "Side by side", (), "", 1600)
    pictures = [box for box in canvas.pictures if box[2] - box[0] > 300]
    for (left, top, right, bottom), level in zip(pictures, (40, 200), strict=True):
        assert canvas.image.getpixel(((left + right) // 2, (top + bottom) // 2)) == (level,) * 3
