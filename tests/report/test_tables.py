"""Tables for the terminal."""

from __future__ import annotations

from rich.console import Console

from lightsim.measures import frame_row
from lightsim.measures.measure_records import FrameMeasures
from lightsim.report.tables.measures_table import compare_table, measures_table, reasons_by_key
from lightsim.scene.settings.quantities import QUANTITIES

from .samples import measured


def printed(table: object, width: int = 80) -> str:
    """The table as it stands in a terminal."""
    console = Console(width=width, record=True, file=open_nothing())
    console.print(table)
    return console.export_text()


def open_nothing() -> object:
    """A place for output that nobody reads."""
    from io import StringIO

    return StringIO()


def rows(*angles: float, **context: object) -> list[dict]:
    """Rows of a sweep over the angle."""
    return [
        frame_row(measured(angle), light_angle_deg=angle, light_clock=10.0, **context) for angle in angles
    ]


def test_measures_fit_a_terminal_of_80_columns() -> None:
    text = printed(measures_table(rows(0.0, 45.0, 90.0, 165.0)))
    assert "…" not in text
    (line,) = (line for line in text.splitlines() if line.startswith(" 90°"))
    # at 90 degrees the closed form puts the highlight at sin(45) = 0.71 radii; contrast 6 : 1 = 2.6 stops;
    # a petal at half the mid-tone is one stop under it
    assert line.split() == [
        "90°", "side", "2.6", "−1.0", "0.11", "×", "0.057", "0.64", "71", "10:00", "+4.2", "0.40",
    ]  # fmt: skip


def test_only_settings_that_differ_are_shown() -> None:
    same = printed(measures_table(rows(45.0, 90.0, light_distance_mm=250.0)))
    assert "distance" not in same
    near, far = rows(45.0, light_distance_mm=100.0), rows(45.0, light_distance_mm=250.0)
    assert "100 mm" in printed(measures_table(near + far), 100)


def test_whatever_a_sweep_varies_stands_in_a_column_of_its_own() -> None:
    for column in (each.column for each in QUANTITIES.values() if each.column):
        on, off = rows(45.0, **{column: 1.0}), rows(45.0, **{column: 0.0})
        assert len(measures_table(on + off).columns) == len(measures_table(on + on).columns) + 1
    text = printed(measures_table(rows(45.0, scattered_drops=10.0) + rows(45.0, scattered_drops=40.0)), 100)
    assert [line.split()[2] for line in text.splitlines() if line.startswith(" 45°")] == ["10", "40"]


def test_one_photograph_is_shown_from_top_to_bottom() -> None:
    text = printed(measures_table(rows(75.0)))
    assert "75° side" in text
    assert any(line.split()[-2:] == ["0.10", "mm"] for line in text.splitlines() if "long axis" in line)


def test_missing_numbers_have_their_reasons() -> None:
    missing = {
        "petal_contrast_stops": "no shadow",
        "petal_contrast_ratio": "no shadow",
        "clipped_share": "odd: very",
    }
    row = frame_row(FrameMeasures(missing=missing), light_angle_deg=0.0)
    text = printed(measures_table([row, *rows(45.0)]))
    assert "¹\u00a0no shadow." in text
    assert " –¹ " in text
    assert reasons_by_key(row["missing"]) == missing


def test_compared_pictures_have_their_differences() -> None:
    text = printed(compare_table([measured(0.0), measured(90.0)], ["front", "[b]side"]), 100)
    assert "[b]side" in text
    assert "2.0 : 1, 1.0 stops" in text
    assert "+1.6 stops" in text  # 6 : 2 is a factor of 3, log2(3) = 1.585
