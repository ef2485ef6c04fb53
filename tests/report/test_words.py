"""The trade's words and how numbers are written."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.report.words import (
    clock_figures,
    clock_words,
    face_words,
    fixed,
    glued,
    percent,
    plain,
    quantity,
    signed,
    significant,
    trade_bands,
    trade_name,
)


@pytest.mark.parametrize(
    ("angle_deg", "name"),
    [
        # common practice, no source: frontal 0-30, three-quarter 30-60, side 60-120, back above 120
        (0.0, "frontal"),
        (30.0, "frontal"),
        (30.1, "three-quarter"),
        (60.0, "three-quarter"),
        (60.1, "side"),
        (90.0, "side"),
        (120.0, "side"),
        (120.1, "back"),
        (180.0, "back"),
        (210.0, "back"),
        (300.0, "three-quarter"),
        (345.0, "frontal"),
    ],
)
def test_trade_names_at_their_borders(angle_deg: float, name: str) -> None:
    assert trade_name(angle_deg) == name


def test_a_border_reached_by_adding_steps_keeps_its_name() -> None:
    assert trade_name(sum([0.1] * 300)) == "frontal"  # 30.0000000000000x


@given(st.floats(0, 180), st.floats(0.5, 180))
def test_bands_cover_a_range_without_gaps_and_agree_with_the_names(low: float, width: float) -> None:
    bands = list(trade_bands(low, low + width))
    assert bands[0][0] == low
    assert bands[-1][1] == low + width
    assert all(a[1] == b[0] and a[2] != b[2] for a, b in pairwise(bands))
    assert all(trade_name((start + end) / 2) == name for start, end, name in bands)


def test_bands_of_the_half_circle() -> None:
    # common practice, no source
    assert list(trade_bands(0, 180)) == [
        (0, 30, "frontal"),
        (30, 60, "three-quarter"),
        (60, 120, "side"),
        (120, 180, "back"),
    ]


@pytest.mark.parametrize(
    ("clock", "words", "figures"),
    [
        (12.0, "12 o’clock", "12:00"),
        (0.0, "12 o’clock", "12:00"),
        (10.0, "10 o’clock", "10:00"),
        (9.73, "9:45", "9:45"),
        (11.9, "12 o’clock", "12:00"),
        (12.5, "12:30", "12:30"),
        (0.2, "12:15", "12:15"),
    ],
)
def test_clock_positions(clock: float, words: str, figures: str) -> None:
    assert (clock_words(clock), clock_figures(clock)) == (words, figures)


def test_numbers_are_written_with_a_true_minus_and_no_needless_noughts() -> None:
    assert [plain(value) for value in (250.0, 2.5, -0.001, 0.125)] == ["250", "2.5", "0", "0.12"]
    assert [fixed(value, 1) for value in (2.0, -0.04, -1.26)] == ["2.0", "0.0", "−1.3"]
    assert [signed(value) for value in (0.8, -0.8, 0.04, -0.04)] == ["+0.8", "−0.8", "±0.0", "±0.0"]


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0734, "0.073"), (12.6, "13"), (0.0996, "0.10"), (1.0, "1.0"), (0.0, "0"), (996.0, "1000")],
)
def test_significant_figures(value: float, text: str) -> None:
    assert significant(value) == text


@given(st.floats(1e-5, 1e5))
def test_two_significant_figures_are_within_half_a_unit_of_the_second(value: float) -> None:
    written = float(significant(value))
    assert abs(written - value) <= 0.0501 * value


def test_quantities_in_their_units() -> None:
    assert quantity(75.0, "deg") == "75°"
    assert quantity(10.0, "clock") == "10 o’clock"
    assert quantity(250.0, "mm") == "250 mm"
    assert quantity(11.0, "f/") == "f/11"
    assert quantity("softbox", "") == "softbox"
    assert percent(0.0064) == "0.64 %"
    assert percent(0.25) == "25 %"


def test_lines_do_not_break_between_a_number_and_its_unit() -> None:
    hard = glued("Flash 60 × 40 mm at 5600 K, 12 drops, ISO 100, 30 % grey")
    assert "60\u00a0×\u00a040\u00a0mm" in hard
    assert "5600\u00a0K" in hard
    assert "12 drops" in hard
    assert "ISO\u00a0100" in hard
    assert "30\u00a0%" in hard


def test_sizes_of_faces_say_their_shape():
    assert face_words("rectangle", 60.0, 40.0) == "60 × 40 mm"
    assert face_words("round", 80.0, 80.0) == "80 mm, round"
    assert face_words("ring", 80.0, 80.0, 60.0) == "ring of 80 mm, 60 mm inside"
