"""The chart of a sweep."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from lightsim.measures.records import FrameMeasures
from lightsim.report.chart.sweep_chart import DPI, chart, draw_chart, save_chart, x_places
from lightsim.report.drawing.grey_card import PAGE
from lightsim.report.frames import SheetFrame, Varied

from .samples import clock_sweep, frame, measured, sweep


def lines_of(panel: object) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """The lines of a panel by their label."""
    return {line.get_label(): (line.get_xdata(), line.get_ydata()) for line in panel.lines}  # type: ignore[attr-defined]


def test_the_chart_is_the_picture_that_matplotlib_itself_would_write() -> None:
    file = BytesIO()
    draw_chart(sweep(5), "Dewy petal").savefig(file, format="png", dpi=DPI)
    with Image.open(file) as picture:
        assert np.array_equal(np.asarray(chart(sweep(5), title="Dewy petal")), picture.convert("RGB"))


def test_the_chart_is_written(tmp_path: Path) -> None:
    path = save_chart(tmp_path / "chart.png", sweep(5), title="Dewy petal")
    with Image.open(path) as picture:
        assert picture.width >= 1500
        assert picture.getpixel((3, 3)) == PAGE


def test_each_panel_shows_its_measures_with_units() -> None:
    frames = [frame(angle) for angle in (15.0, 75.0, 135.0)]
    contrast, size, place = draw_chart(frames, "Dewy petal").axes[:3]
    assert "stops" in contrast.get_ylabel()
    assert "mm" in size.get_ylabel()
    assert place.get_xlabel() == "angle off the lens axis (degrees)"
    xs, ys = lines_of(contrast)["petal contrast"]
    np.testing.assert_array_equal(xs, [15.0, 75.0, 135.0])
    np.testing.assert_allclose(ys, [measured(angle).petal_contrast_stops for angle in (15.0, 75.0, 135.0)])
    # highlight of a small distant light in a sphere: long over short is 1/cos^2(t/2), place sin(t/2)
    _, long = lines_of(size)["long axis"]
    _, short = lines_of(size)["short axis"]
    np.testing.assert_allclose(long / short, 1 / np.cos(np.radians([7.5, 37.5, 67.5])) ** 2)
    theory_x, theory_y = lines_of(place)["small distant light: sin(angle / 2)"]
    np.testing.assert_allclose(theory_y, np.sin(np.radians(theory_x) / 2))


def test_bands_carry_the_trade_names_for_angles_only() -> None:
    words = [text.get_text() for text in draw_chart(sweep(12), "").axes[0].texts]
    assert words == ["frontal", "three-quarter", "side", "back"]
    assert list(draw_chart(clock_sweep([9, 12, 3]), "").axes[0].texts) == []


def test_a_missing_measure_leaves_a_gap_and_its_reason() -> None:
    empty = FrameMeasures(missing={"petal_contrast_stops": "no bare petal in the frame"})
    figure = draw_chart([frame(0.0, measures=empty), frame(45.0), frame(90.0)], "")
    _, ys = lines_of(figure.axes[0])["petal contrast"]
    assert np.isnan(ys[0])
    assert np.isfinite(ys[1:]).all()
    assert "0°: no bare petal in the frame." in figure.get_supxlabel()


def test_the_ratio_stands_at_the_right_of_the_stops() -> None:
    panel = draw_chart(sweep(5), "").axes[0]
    (right,) = panel.child_axes
    words = [label.get_text() for label in right.get_yticklabels()]
    ticks = dict(zip(right.get_yticks(), words, strict=True))
    # a stop is a factor of two
    assert ticks[0] == "1 : 1"
    assert ticks[3] == "8 : 1"


def test_shadows_brighter_than_the_light_are_shown_below_nought() -> None:
    # a petal lit from behind glows in its own shadow: a ratio of 1 : 2 is one stop under 1 : 1
    seen = [FrameMeasures(petal_contrast_stops=stops) for stops in (1.0, -1.2)]
    darker = [frame(90.0, measures=seen[0]), frame(120.0, measures=seen[1])]
    panel = draw_chart(darker, "").axes[0]
    assert panel.get_ylim()[0] < -1.2
    assert "1 : 2" in [label.get_text() for label in panel.child_axes[0].get_yticklabels()]


def test_frames_out_of_order_are_drawn_in_order() -> None:
    frames = [frame(90.0), frame(15.0), frame(45.0)]
    xs, _ = lines_of(draw_chart(frames, "").axes[1])["long axis"]
    np.testing.assert_array_equal(xs, [15.0, 45.0, 90.0])


def test_clock_positions_run_on_past_twelve() -> None:
    assert x_places([Varied("clock", value, "clock") for value in (10, 11, 12, 1, 2)]) == [10, 11, 12, 13, 14]
    labels = draw_chart(clock_sweep([11, 12, 1]), "").axes[2].get_xticklabels()
    assert [label.get_text() for label in labels] == ["11", "12", "1"]


@pytest.mark.parametrize(
    "frames",
    [
        [frame()],
        [frame(measures=FrameMeasures())],
        [frame(varied=(Varied("light", words),)) for words in ("bare", "diffuser")],
        [frame(varied=(Varied("distance", value, "mm"),)) for value in (100.0, 101.0, 500.0)],
        [frame(varied=(), angle_deg=None)],
    ],
)
def test_odd_sweeps_have_charts_too(frames: list[SheetFrame]) -> None:
    assert chart(frames, title="Odd").width >= 1500


def test_nothing_is_cut_off() -> None:
    picture = np.asarray(chart(sweep(12), title="A title"))
    edges = np.concatenate([picture[0], picture[-1], picture[:, 0], picture[:, -1]])
    assert np.all(edges == PAGE)


def test_the_global_state_of_the_plotting_library_is_left_alone() -> None:
    import matplotlib.pyplot as plt

    before = (plt.get_fignums(), dict(plt.rcParams))
    chart(sweep(2))
    assert (plt.get_fignums(), dict(plt.rcParams)) == before
