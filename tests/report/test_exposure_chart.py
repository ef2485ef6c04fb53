"""The chart over f-numbers, from numbers made up here."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lightsim.report.chart.exposure_chart import StopCurve, draw_stop_chart, stop_chart

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


def words_of(figure):
    texts = [text.get_text() for axes in figure.axes for text in axes.texts]
    legends = [
        text.get_text() for axes in figure.axes if axes.get_legend() for text in axes.get_legend().texts
    ]
    ticks = [label.get_text() for label in figure.axes[2].get_xticklabels()]
    return texts, legends, ticks


def test_it_names_the_f_numbers_the_best_and_the_frames():
    figure = draw_stop_chart(CURVE, "a set", "a note")
    texts, legends, ticks = words_of(figure)
    assert "sharpest for the depth: f/11" in texts
    assert {"5", "3", "1"} <= set(texts)
    assert ticks == ["4", "5.6", "8", "11", "16"]
    assert "out of reach" in legends
    assert "room light below flash (right)" in legends


def test_f_numbers_a_stop_apart_stand_the_same_length_apart():
    places = draw_stop_chart(CURVE, "", "").axes[2].get_xticks()
    assert list(places) == pytest.approx([4.0, 5.0, 6.0, 7.0, 8.0], abs=1e-5)


def test_without_room_light_or_limits_nothing_is_said_of_them():
    curve = replace(
        CURVE, room_below_stops=None, reach_stops=(-20.0, 20.0), needed_stops=[3.0, 2.0, 1.0, 0.0, -1.0]
    )
    figure = draw_stop_chart(curve, "", "")
    _, legends, _ = words_of(figure)
    assert len(figure.axes) == 3
    assert not {"out of reach", "room light below flash (right)"} & set(legends)


def test_it_is_a_picture_of_the_size_it_should_be():
    assert stop_chart(CURVE, title="a set").size == (1600, 1408)
