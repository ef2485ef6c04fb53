"""The chart over f-numbers, from numbers made up here."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lightsim.report.chart.exposure_chart import StopCurve, stop_chart_page

from .page_checks import check_page

F = [4.0, 5.656854, 8.0, 11.313708, 16.0]

CURVE = StopCurve(
    f_numbers=F,
    ticks=list(zip(F, ["4", "5.6", "8", "11", "16"], strict=True)),
    needed_name="flash power",
    needed_stops=[-3.0, -2.0, -1.0, 0.0, 1.0],
    needed_marks=[(stop, f"1/{2**-stop}") for stop in range(-8, 1)],
    reach_stops=(-8.0, 0.0),
    room_below_stops=[5.0, 6.0, 7.0, 8.0, 9.0],
    diffraction_um=[5.0, 7.0, 10.0, 14.0, 20.0],
    defocus_um=[40.0, 28.0, 20.0, 14.0, 10.0],
    blur_um=[40.3, 28.9, 22.4, 19.8, 22.4],
    pixel_um=4.0,
    depth_mm=[0.3, 0.42, 0.6, 0.85, 1.2],
    wanted_mm=1.0,
    best=11.313708,
    best_mark="f/11",
    own=8.0,
    frames=[(F[0], 5), (F[2], 3), (F[4], 1)],
)


def panels_of(curve):
    """The page, its three panels, and all words on it."""
    page = stop_chart_page(curve, "a set", "a note")
    check_page(page)
    panels = page.figure.axes[1:4]
    words = {text.text for text in page.texts}
    words |= {text.get_text() for panel in panels for text in panel.texts}
    return page, panels, words


def test_it_names_the_f_numbers_the_best_and_the_frames():
    _, panels, words = panels_of(CURVE)
    assert "sharpest for the depth: f/11" in words
    assert {"5", "3", "1", "out of reach", "in the file"} <= words
    assert any(text.startswith("room light, stops below") for text in words)
    assert [label.get_text() for label in panels[2].get_xticklabels()] == ["4", "5.6", "8", "11", "16"]


def test_f_numbers_a_stop_apart_stand_the_same_length_apart():
    places = panels_of(CURVE)[1][2].get_xticks()
    assert list(places) == pytest.approx([4.0, 5.0, 6.0, 7.0, 8.0], abs=1e-5)


def test_without_room_light_or_limits_nothing_is_said_of_them():
    curve = replace(
        CURVE, room_below_stops=None, reach_stops=(-20.0, 20.0), needed_stops=[3.0, 2.0, 1.0, 0.0, -1.0]
    )
    page, _, words = panels_of(curve)
    assert len(page.figure.axes) == 4
    assert not any(text == "out of reach" or text.startswith("room light") for text in words)
