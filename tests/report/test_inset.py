"""The reference drop and its enlargement."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.report.drawing.canvas import Canvas
from lightsim.report.drawing.grey_card import INK
from lightsim.report.sheet.inset import (
    MARGIN,
    ReferenceDrop,
    draw_scale_bar,
    enlarged,
    inset_box,
    reference_drop,
    scale_length_mm,
)

from .samples import DROP, drop_maps, petal_picture


def test_the_place_of_the_chosen_drop() -> None:
    drops = drop_maps([(20.0, 20.0), (61.5, 40.0)], [8.0, 11.0]).drops
    assert reference_drop(drops, 1) == ReferenceDrop((61.5, 40.0), 11.0)
    assert reference_drop(drops, None) is None


@given(st.floats(0, 120), st.floats(0, 80), st.floats(2, 100))
def test_the_inset_stays_in_the_frame_and_square(x: float, y: float, radius: float) -> None:
    left, top, right, bottom = inset_box((80, 120, 3), ReferenceDrop((x, y), radius))
    assert left >= -1e-9
    assert top >= -1e-9
    assert right <= 120 + 1e-9
    assert bottom <= 80 + 1e-9
    assert right - left == pytest.approx(bottom - top)
    assert right - left <= 2 * MARGIN * radius + 1e-9


def test_the_drop_fills_its_share_of_the_inset() -> None:
    inset = np.asarray(enlarged(petal_picture(0.0), DROP, 280).convert("L"), dtype=float)
    row = inset[40 + 140 - 40]  # through the middle; the drop is half as bright as the petal
    dark = np.flatnonzero(row < 0.5 * (row[:10].mean() + row[100]))
    assert dark[-1] - dark[0] == pytest.approx(280 / MARGIN, rel=0.06)


@given(st.floats(0.01, 500))
def test_scale_lengths_are_round_and_fit(width_mm: float) -> None:
    length = scale_length_mm(width_mm)
    mantissa = float(f"{length:.6e}".split("e")[0])
    assert mantissa in (1.0, 2.0, 5.0)
    assert 0.159 * width_mm <= length <= 0.4001 * width_mm


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    canvas = Canvas.blank(600, 100)
    draw_scale_bar(canvas, 20, 80, width_mm=2.0, mm_per_px=0.004, size_px=30)
    (label,) = canvas.texts
    stated_mm = float(label.text.removesuffix(" mm"))
    white = np.all(np.asarray(canvas.image) == INK, axis=-1)
    columns = np.flatnonzero(white.any(axis=0))
    assert columns[0] == 20
    assert (columns[-1] + 1 - columns[0]) * 0.004 == pytest.approx(stated_mm, abs=0.004)
    assert label.box[0] > columns[-1]
