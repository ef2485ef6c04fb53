"""A command from scene file to sheet with the real tracer, on a small picture."""

from __future__ import annotations

import csv
from math import radians, sin

import pytest

SET = """
[petal]
form = "flat"
relief_mm = 0.0
vein_strength = 0.0
mottle = 0.0
mesh_spacing_mm = 2.0

[drops]
count = 0

[[drops.placed]]
x_mm = 0.0
y_mm = 0.0
diameter_mm = 1.6

[camera]
field_width_mm = 4.0
f_number = 32.0
width_px = 240

[camera.focus]
on = "drop"

[[light]]
shape = "round"
width_mm = 60.0
distance_mm = 500.0
guide_number_m = 20.0
power = "1/4"
"""

FILES = ("sheet.png", "measures.csv", "measures.json", "drops.csv", "sweep.webp", "frames/angle-060.png")


@pytest.fixture
def one_drop(tmp_path, monkeypatch):
    """An empty folder with a set of one drop."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "one.toml").write_text(SET)
    return tmp_path


def test_two_sweeps_give_equal_files_and_the_highlight_stands_where_it_should(run, one_drop):
    for folder in ("first", "second"):
        result = run("sweep", "one.toml", "--angles", "20,60", "-o", folder, "--quality", "draft")
        assert result.exit_code == 0, result.output
    for name in FILES:
        assert (one_drop / "first" / name).read_bytes() == (one_drop / "second" / name).read_bytes()
    with open("first/measures.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    for row, angle in zip(rows, (20.0, 60.0), strict=True):
        # Mirror image of a distant light in a sphere: R sin(t/2) from the centre (Hecht, Optics, ch. 5). The
        # light stands 500 mm away, not far off: 2 % of the radius covers that and the coarse picture.
        assert float(row["highlight_place_share_median"]) == pytest.approx(sin(radians(angle / 2)), abs=0.02)
        assert float(row["highlight_clock_median"]) == pytest.approx(10.0, abs=0.1)
