"""The reference drop and its enlargement."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightsim.report.frames import MARGIN, ReferenceDrop, defocused_drop, enlarged, inset_box, reference_drop

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


def test_the_second_drop_is_the_most_blurred_that_can_be_seen() -> None:
    maps = drop_maps(
        [(20.0, 20.0), (60.0, 40.0), (90.0, 60.0), (118.0, 40.0)], [8.0, 11.0, 2.0, 9.0], [1.0, 0.2, 9.0, 5.0]
    )
    # the third is too small to see, the fourth is cut by the frame
    assert defocused_drop(maps.drops, (80, 120), 1) == ReferenceDrop((20.0, 20.0), 8.0)
    assert defocused_drop(maps.drops, (80, 120), 0) == ReferenceDrop((60.0, 40.0), 11.0)
    assert defocused_drop(drop_maps([(20.0, 20.0)], [8.0]).drops, (80, 120), None) is None  # all sharp
