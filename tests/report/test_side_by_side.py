"""Pictures side by side."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lightsim.errors import PictureError
from lightsim.measures.measure_records import FrameMeasures
from lightsim.report.comparison.rows import compare_rows, left_out
from lightsim.report.comparison.side_by_side import comparison_page, direction_words
from lightsim.report.drawing.page_files import page_image
from lightsim.report.drawing.sheet_of_paper import Sheet
from lightsim.report.footnotes import Footnotes
from lightsim.report.frames import SheetFrame
from lightsim.report.page_options import PageOptions
from lightsim.report.sheet.contact_sheet import SheetWords

from .page_checks import check_page
from .samples import frame, measured, petal_picture, sweep
from .test_contact_sheet import FOOTER, texts


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


def page(frames: list[SheetFrame], labels: list[str] | None = None, **options: object) -> Sheet:
    """The comparison's page."""
    words = SheetWords("Side by side", "", "One exposure for all", FOOTER)
    return comparison_page(frames, labels, words, PageOptions(**options))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("count", "size", "ground"),
    [
        (2, (120, 80), "light"),
        (3, (80, 120), "dark"),
        (4, (120, 80), "light"),
        (5, (80, 120), "light"),
        (6, (120, 80), "dark"),
    ],
)
def test_two_to_six_pictures_fit_without_overlaps(count: int, size: tuple[int, int], ground: str) -> None:
    frames = [replace(each, image=petal_picture(75, *size), inset_drop=None) for each in sweep(count)]
    sheet = page(frames, ground=ground)
    check_page(sheet)
    assert len(sheet.pictures) == count


def test_bars_are_as_long_as_the_difference_in_stops() -> None:
    rows = compare_rows([FrameMeasures(petal_contrast_ratio=2.0), FrameMeasures(petal_contrast_ratio=8.0)])
    # 8 : 2 is two stops (definition of the stop); the first picture has no bar
    assert row(rows, "petal contrast").stops == (None, 2.0)
    clock = row(compare_rows([measured(75, clock=11.0), measured(75, clock=1.0)]), "highlight, clock")
    assert clock.stops == (None, None)


def test_labels_name_the_pictures() -> None:
    found = texts(page(sweep(2), ["dewy petal", "after rain"], title="Two petals"))
    assert {"dewy petal", "after rain", "Two petals"} <= set(found)
    assert any("difference from dewy petal" in text for text in found)


def test_a_very_long_label_is_cut() -> None:
    check_page(page(sweep(4), ["label " * 30] * 4))


def test_the_lights_words_do_not_repeat_the_label() -> None:
    assert direction_words(frame(75.0), "75°") == "side at 10 o’clock"
    assert direction_words(frame(75.0), "dewy") == "side 75° at 10 o’clock"
    assert direction_words(frame(0.0), "dewy") == "frontal 0°"
    assert direction_words(frame(angle_deg=None), "dewy") == ""


@pytest.mark.parametrize(("count", "labels"), [(1, None), (7, None), (2, ["one"])])
def test_other_numbers_of_pictures_are_refused(count: int, labels: list[str] | None) -> None:
    with pytest.raises(PictureError, match="allowed 2 to 6 pictures"):
        page(sweep(count), labels)


def test_the_pictures_shown_are_those_given() -> None:
    frames = [
        frame(angle, image=np.full((80, 120, 3), level, np.uint8), inset_drop=None)
        for angle, level in ((0, 40), (90, 200))
    ]
    sheet = page(frames, dpi=150.0)
    shown = page_image(sheet)
    for box, level in zip(sheet.pictures, (40, 200), strict=True):
        middle = tuple(round(0.5 * (box[side] + box[side + 2]) / 25.4 * 150.0) for side in (0, 1))
        assert shown.getpixel(middle) == (level,) * 3
