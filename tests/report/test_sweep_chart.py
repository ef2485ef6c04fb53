"""The chart of a sweep."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from lightsim.measures.measure_records import FrameMeasures
from lightsim.report.chart.sweep_chart import chart_page, x_places
from lightsim.report.drawing.page_files import page_image, write_pages
from lightsim.report.frames import SheetFrame, Varied
from lightsim.report.page_options import PageOptions

from .page_checks import check_page
from .samples import clock_sweep, frame, measured, sweep


def lines_of(panel: object) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """The lines of a panel by their label."""
    return {line.get_label(): (line.get_xdata(), line.get_ydata()) for line in panel.lines}  # type: ignore[attr-defined]


def panels_of(frames: list[SheetFrame], **options: object) -> list:
    """The three panels of the chart's page."""
    return chart_page(frames, "Dewy petal", "", PageOptions(**options)).figure.axes[1:4]  # type: ignore[arg-type]


@pytest.mark.parametrize("suffix", [".png", ".pdf", ".svg"])
def test_the_chart_is_written(tmp_path: Path, suffix: str) -> None:
    page = chart_page(sweep(5), "Dewy petal")
    (path,) = write_pages(tmp_path / f"chart{suffix}", [page])
    if suffix == ".png":
        with Image.open(path) as picture:
            assert picture.size == (3508, 2480)  # A4 (ISO 216) at 300 dots per inch
            assert picture.getpixel((3, 3)) == page.theme.paper
    elif suffix == ".pdf":
        assert path.read_bytes().startswith(b"%PDF")
    else:
        assert "Dewy petal" in path.read_text(encoding="utf-8")


@pytest.mark.parametrize("ground", ["light", "dark"])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_nothing_overlaps_and_all_is_legible(ground: str, paper: str) -> None:
    check_page(chart_page(sweep(12), "A title", "About it", PageOptions(ground=ground, paper=paper)))


def test_each_panel_shows_its_measures_with_units() -> None:
    frames = [frame(angle) for angle in (15.0, 75.0, 135.0)]
    contrast, size, place = panels_of(frames)
    assert "stops" in contrast.get_ylabel()
    assert "mm" in size.get_ylabel()
    assert place.get_xlabel() == "angle off the lens axis (degrees)"
    xs, ys = lines_of(contrast)["petal contrast"]
    np.testing.assert_array_equal(xs, [15.0, 75.0, 135.0])
    np.testing.assert_allclose(ys, [measured(angle).petal_contrast_stops for angle in (15.0, 75.0, 135.0)])
    # highlight of a small distant light in a sphere: long over short is 1/cos^2(t/2), place sin(t/2)
    _, long = lines_of(size)["long axis of the highlight"]
    _, short = lines_of(size)["short axis"]
    np.testing.assert_allclose(long / short, 1 / np.cos(np.radians([7.5, 37.5, 67.5])) ** 2)
    theory_x, theory_y = lines_of(place)["that of a small distant light"]
    np.testing.assert_allclose(theory_y, np.sin(np.radians(theory_x) / 2))


def test_bands_carry_the_trade_names_for_angles_only() -> None:
    names = ["frontal", "three-quarter", "side", "back"]
    words = [text.text for text in chart_page(sweep(12)).texts]
    assert [word for word in words if word in names] == names
    assert not set(names) & {text.text for text in chart_page(clock_sweep([9, 12, 3])).texts}


def test_a_missing_measure_leaves_a_gap_and_its_reason() -> None:
    empty = FrameMeasures(missing={"petal_contrast_stops": "no bare petal in the frame"})
    page = chart_page([frame(0.0, measures=empty), frame(45.0), frame(90.0)])
    _, ys = lines_of(page.figure.axes[1])["petal contrast"]
    assert np.isnan(ys[0])
    assert np.isfinite(ys[1:]).all()
    assert "0°: no bare petal in the frame." in " ".join(text.text for text in page.texts)


def test_a_wide_gap_says_why_in_its_place() -> None:
    reason = "27 drops: no image of the key in this drop; 2 drops: out of focus"
    dark = FrameMeasures(petal_contrast_stops=1.0, missing={"highlight_long_mm_median": reason})
    frames = [frame(0.0), frame(45.0), *(frame(angle, measures=dark) for angle in (90.0, 135.0, 180.0))]
    said = [text.get_text() for text in panels_of(frames)[1].texts]
    assert said == ["none: no image of the key in this drop"]


def test_the_ratio_stands_at_the_right_of_the_stops() -> None:
    panel = panels_of(sweep(5))[0]
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
    panel = panels_of(darker)[0]
    assert panel.get_ylim()[0] < -1.2
    assert "1 : 2" in [label.get_text() for label in panel.child_axes[0].get_yticklabels()]


def test_frames_out_of_order_are_drawn_in_order() -> None:
    frames = [frame(90.0), frame(15.0), frame(45.0)]
    xs, _ = lines_of(panels_of(frames)[1])["long axis of the highlight"]
    np.testing.assert_array_equal(xs, [15.0, 45.0, 90.0])


def test_clock_positions_run_on_past_twelve() -> None:
    assert x_places([Varied("clock", value, "clock") for value in (10, 11, 12, 1, 2)]) == [10, 11, 12, 13, 14]
    labels = panels_of(clock_sweep([11, 12, 1]))[2].get_xticklabels()
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
    check_page(chart_page(frames, "Odd"))


def test_what_cannot_be_built_is_told() -> None:
    frames = [frame(0.0, not_buildable="the flash stands inside the lens"), frame(75.0)]
    page = chart_page(frames)
    assert "cannot be built" in [text.text for text in page.texts]  # in the key
    for panel in page.figure.axes[1:4]:
        (crosses,) = [line for line in panel.lines if line.get_marker() == "x"]
        assert list(crosses.get_xdata()) == [0.0]
    _, contrast = lines_of(page.figure.axes[1])["petal contrast"]
    assert np.isnan(contrast[0])  # numbers of a set that cannot be would mislead
    assert np.isfinite(contrast[1])
    words = " ".join(text.text for text in page.texts).replace("\u00a0", " ")
    assert "0°: cannot be built, the flash stands inside the lens." in words


def test_nothing_is_cut_off() -> None:
    page = chart_page(sweep(12), "A title", "", PageOptions(dpi=100.0))
    picture = np.asarray(page_image(page))
    edges = np.concatenate([picture[0], picture[-1], picture[:, 0], picture[:, -1]])
    assert np.all(edges == page.theme.paper)


def test_the_global_state_of_the_plotting_library_is_left_alone() -> None:
    import matplotlib.pyplot as plt

    before = (plt.get_fignums(), dict(plt.rcParams))
    page_image(chart_page(sweep(2)))
    assert (plt.get_fignums(), dict(plt.rcParams)) == before
