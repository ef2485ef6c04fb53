"""Files: whole or not at all, and what is in them."""

from __future__ import annotations

import csv
import json
import os
import stat
import tempfile
from collections.abc import Iterator
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from lightsim.errors import OutputError, PictureError
from lightsim.measures import DropMeasures, frame_row
from lightsim.report.files.formats import json_text, plain_value, write_csv, write_image, write_json
from lightsim.whole_file import replacing

from .samples import measured, petal_picture

NOBODY = 65534  # a user without rights


@pytest.mark.parametrize("photograph", [False, True])
def test_png_keeps_every_value(tmp_path: Path, photograph: bool) -> None:
    picture = petal_picture()
    path = write_image(tmp_path / "sheet.png", picture, dpi=300, photograph=photograph)
    with Image.open(path) as read:
        assert read.format == "PNG"
        assert np.array_equal(np.asarray(read), picture)
        assert read.info["dpi"] == pytest.approx((300, 300), abs=0.01)


def test_png_says_that_it_is_srgb(tmp_path: Path) -> None:
    content = write_image(tmp_path / "sheet.png", petal_picture()).read_bytes()
    # PNG specification (W3C), 11.3.2.5: the chunk sRGB holds one byte and comes before the picture's data
    place = content.index(b"sRGB")
    assert content[place - 4 : place] == (1).to_bytes(4, "big")
    assert place < content.index(b"IDAT")


@pytest.mark.parametrize("name", ["sheet.jpg", "sheet.JPEG"])
def test_jpeg_is_close(tmp_path: Path, name: str) -> None:
    picture = np.full((40, 60, 3), (180, 60, 90), np.uint8)
    with Image.open(write_image(tmp_path / name, picture)) as read:
        assert read.format == "JPEG"
        assert np.abs(np.asarray(read).astype(int) - picture).max() <= 3


def test_pillow_images_and_greys_are_written_too(tmp_path: Path) -> None:
    grey = np.arange(0, 240, dtype=np.uint8).reshape(12, 20)
    with Image.open(write_image(tmp_path / "grey.png", grey)) as read:
        assert np.array_equal(np.asarray(read), grey)
    with Image.open(write_image(tmp_path / "pillow.jpg", Image.new("RGBA", (8, 4), "red"))) as read:
        assert read.size == (8, 4)


@pytest.mark.parametrize(("name", "found"), [("sheet.tif", "the ending '.tif'"), ("sheet", "no ending")])
def test_another_ending_is_refused(tmp_path: Path, name: str, found: str) -> None:
    with pytest.raises(OutputError) as caught:
        write_image(tmp_path / name, petal_picture())
    assert str(caught.value) == f"{tmp_path / name}: found {found}, allowed .png, .jpg, .jpeg"
    assert list(tmp_path.iterdir()) == []


def test_an_array_that_is_no_picture_is_refused(tmp_path: Path) -> None:
    with pytest.raises(PictureError, match="shape \\(4, 4\\) and kind float64"):
        write_image(tmp_path / "sheet.png", np.zeros((4, 4)))
    assert list(tmp_path.iterdir()) == []


def write_half(path: Path, error: type[BaseException]) -> None:
    """Begin to write a file and be interrupted."""
    with replacing(path) as part:
        part.write_text("half of the n")
        raise error


@pytest.mark.parametrize("error", [ValueError, KeyboardInterrupt])
def test_after_an_error_the_old_file_is_there_and_nothing_else(
    tmp_path: Path, error: type[BaseException]
) -> None:
    path = tmp_path / "measures.csv"
    path.write_text("old")
    with pytest.raises(error):
        write_half(path, error)
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_until_the_end_the_old_file_stands(tmp_path: Path) -> None:
    path = tmp_path / "sheet.png"
    path.write_text("old")
    with replacing(path) as part:
        assert part.parent == path.parent
        assert part.suffix == ".png"
        part.write_text("new")
        assert path.read_text() == "old"
    assert path.read_text() == "new"
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_gets_the_rights_that_new_files_have(tmp_path: Path) -> None:
    (tmp_path / "plain").write_text("x")
    path = write_json(tmp_path / "data.json", {})
    assert stat.S_IMODE(path.stat().st_mode) == stat.S_IMODE((tmp_path / "plain").stat().st_mode)


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    path = tmp_path / "nowhere" / "sheet.png"
    with pytest.raises(OutputError) as caught:
        write_image(path, petal_picture())
    assert str(caught.value) == f"{path}: there is no folder {path.parent}; make it first or choose another"


def test_a_file_in_the_way_is_named(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with pytest.raises(OutputError, match="out is not a folder; choose another place"):
        write_csv(tmp_path / "out" / "measures.csv", [])


def test_a_folder_in_the_way_is_named(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="this is a folder; give the name of a file"):
        write_json(tmp_path, {})


@pytest.fixture
def locked_folder() -> Iterator[Path]:
    """A folder that may be entered but not written, seen with the rights of an ordinary user."""
    user = os.geteuid()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o555)
        if user == 0:
            os.seteuid(NOBODY)
        try:
            yield folder
        finally:
            os.seteuid(user)
            folder.chmod(0o755)


def test_a_folder_that_may_not_be_written_is_named(locked_folder: Path) -> None:
    path = locked_folder / "sheet.png"
    with pytest.raises(OutputError) as caught:
        write_image(path, petal_picture())
    assert str(caught.value) == (
        f"{path}: the folder {locked_folder} may not be written; choose another or change its permissions"
    )
    assert list(locked_folder.iterdir()) == []


def test_csv_reads_back(tmp_path: Path) -> None:
    rows = [
        {"angle_deg": 15.0, "petal_contrast_stops": 1.6, "note": 'said "wet", twice'},
        {"angle_deg": 30.0, "petal_contrast_stops": None, "highlight_mm": np.float32(0.5)},
        {"angle_deg": float("nan"), "note": "×"},
    ]
    path = write_csv(tmp_path / "measures.csv", rows)
    with path.open(newline="", encoding="utf-8") as file:
        read = list(csv.DictReader(file))
    assert list(read[0]) == ["angle_deg", "petal_contrast_stops", "note", "highlight_mm"]
    assert [row["angle_deg"] for row in read] == ["15.0", "30.0", ""]
    assert [row["petal_contrast_stops"] for row in read] == ["1.6", "", ""]
    assert [row["note"] for row in read] == ['said "wet", twice', "", "×"]
    assert read[1]["highlight_mm"] == "0.5"
    # RFC 4180, 2.1: each record ends with CRLF
    assert path.read_bytes().count(b"\r\n") == 4


def test_csv_and_json_hold_the_same_numbers(tmp_path: Path) -> None:
    rows = [frame_row(measured(angle), light_angle_deg=angle) for angle in (15.0, 75.0)]
    with write_csv(tmp_path / "measures.csv", rows).open(newline="", encoding="utf-8") as file:
        from_csv = list(csv.DictReader(file))
    from_json = json.loads(write_json(tmp_path / "measures.json", rows).read_text("utf-8"))
    assert len(from_csv) == len(from_json) == 2
    for table, data in zip(from_csv, from_json, strict=True):
        assert list(table) == list(data)
        for key, value in data.items():
            assert table[key] == ("" if value is None else str(value)), key
    assert from_json[0]["schema_version"] >= 1


def test_json_is_strict(tmp_path: Path) -> None:
    data = {
        "measures": measured(75.0),
        "array": np.array([[1, 2], [3, 4]]),
        "path": Path("scenes/dewy.toml"),
        "bad": [float("inf"), np.float64("nan")],
        "yes": np.bool_(True),
        3: (1, "zwölf"),
    }
    text = write_json(tmp_path / "data.json", data).read_text("utf-8")

    def refuse(name: str) -> None:
        # RFC 8259, section 6: numbers such as Infinity and NaN are not permitted
        raise AssertionError(name)

    read = json.loads(text, parse_constant=refuse)
    assert read["array"] == [[1, 2], [3, 4]]
    assert read["bad"] == [None, None]
    assert read["yes"] is True
    assert read["3"] == [1, "zwölf"]
    assert read["path"] == "scenes/dewy.toml"
    assert read["measures"]["petal_contrast_stops"] == measured(75.0).petal_contrast_stops


@given(st.recursive(st.floats(allow_nan=False, allow_infinity=False) | st.text() | st.none(), st.lists))
def test_plain_data_stays_as_it_is(data: object) -> None:
    assert json.loads(json.dumps(plain_value(data))) == data


def test_records_within_records_become_objects() -> None:
    measures = replace(measured(75.0), drops=(DropMeasures(3, (10.5, 20.25), 4.0),))
    plain = plain_value({"measures": measures})["measures"]
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain
    assert list(plain) == [field.name for field in fields(measures)]
    (drop,) = plain["drops"]
    assert (drop["drop"], drop["centre_px"], drop["missing"]) == (3, [10.5, 20.25], {})


def test_marks_of_direction_are_escaped_in_json():
    text = json_text({"about": "dr\u202eps\u2028 \x85\U000e0001 \u00b5m", "n": [1, 2]})
    assert all(sign == "\n" or sign.isprintable() for sign in text)
    assert "\u00b5m" in text
    assert json.loads(text) == {"about": "dr\u202eps\u2028 \x85\U000e0001 \u00b5m", "n": [1, 2]}
