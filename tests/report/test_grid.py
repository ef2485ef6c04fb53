"""The chart of two varied quantities: one line for each value of the second."""

from __future__ import annotations

import numpy as np
import pytest

from lightsim.report.chart.sweep_chart import chart_page, x_places
from lightsim.report.frames import SheetFrame, Varied
from lightsim.report.words import quantity
from tests.report.page_checks import check_page
from tests.report.samples import measured

COLUMNS = (15.0, 75.0, 135.0)
ROWS = (5.6, 11.0)


def grid_frames():
    return [
        SheetFrame(
            image=np.full((40, 60, 3), 90, np.uint8),
            measures=measured(angle),
            varied=(Varied("angle", angle, "deg"), Varied("f-number", number, "f/")),
            angle_deg=angle,
            clock=10.0,
            distance_mm=200.0,
            shows_level=True,
        )
        for number in ROWS
        for angle in COLUMNS
    ]


def test_the_chart_of_a_grid_has_a_line_for_each_row_and_names_them_once():
    page = chart_page(grid_frames(), "Grid")
    check_page(page)
    for panel in page.figure.axes[1:4]:
        curves = [line for line in panel.lines if len(line.get_xdata()) == 3]
        assert len(curves) == 2
        looks = {(str(line.get_linestyle()), line.get_marker(), line.get_color()) for line in curves}
        assert len(looks) == 2
    words = [text.text for text in page.texts]
    assert (words.count("f/5.6"), words.count("f/11")) == (1, 1)


def test_settings_in_stops_stand_as_far_apart_as_they_are():
    powers = [Varied("power", value, "power") for value in (1 / 64, 1 / 16, 1 / 8)]
    assert np.diff(x_places(powers)) == pytest.approx([2.0, 1.0])
    assert [each.tick for each in powers] == ["1/64", "1/16", "1/8"]


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (1 / 128, "s", "1/125 s"),
        (100.0, "ISO", "ISO 100"),
        (1 / 16, "power", "power 1/16"),
        (2 ** (-11 / 3), "power", "power 1/16 + 1/3"),
        (8.0, "f/", "f/8"),
        (0.3, "power", "power 0.30"),
    ],
)
def test_settings_are_written_as_they_are_marked(value, unit, words):
    assert quantity(value, unit) == words
