"""Pages on disk: PDF with fonts, title and language; SVG; several pages."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from lightsim.errors import OutputError
from lightsim.report.drawing.page_files import page_image, write_pages
from lightsim.report.drawing.sheet_of_paper import Sheet, break_lines, fit_line, width_mm
from lightsim.report.theme import Face, theme_for


def page(text: str = "Dewy petal, 75° × 2") -> Sheet:
    sheet = Sheet.blank(210.0, 148.0, theme_for(), "A title")
    sheet.text(20.0, 30.0, text, 12.0)
    sheet.line([(20.0, 40.0), (100.0, 40.0)])
    sheet.picture(np.full((20, 30, 3), 99, np.uint8), (20.0, 50.0, 50.0, 70.0))
    return sheet


def test_a_pdf_has_its_fonts_title_language_and_words_within(tmp_path: Path) -> None:
    (path,) = write_pages(tmp_path / "pages.pdf", [page(), page("second page")])
    read = PdfReader(path)
    assert len(read.pages) == 2
    assert read.metadata is not None
    assert read.metadata.title == "A title"
    root = read.trailer["/Root"]
    assert root["/Lang"] == "en"  # PDF 32000-1, 14.9.2
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]  # the same, 12.2
    assert "Dewy petal, 75° × 2" in read.pages[0].extract_text()
    fonts = read.pages[0]["/Resources"]["/Font"]
    descendants = [font.get_object()["/DescendantFonts"][0].get_object() for font in fonts.values()]
    assert descendants
    assert all("/FontFile2" in each["/FontDescriptor"] for each in descendants)
    # 72 points an inch
    assert [float(side) for side in read.pages[0].mediabox[2:]] == pytest.approx([595.3, 419.5], abs=0.3)


def test_svg_has_lines_as_lines_and_a_title(tmp_path: Path) -> None:
    (path,) = write_pages(tmp_path / "page.svg", [page()])
    text = path.read_text(encoding="utf-8")
    assert "<svg" in text
    assert "A title" in text
    assert "<path" in text


def test_each_page_of_pixels_has_a_file_of_its_own(tmp_path: Path) -> None:
    paths = write_pages([tmp_path / "a.png", tmp_path / "a.pdf"], [page(), page("second")])
    assert [path.name for path in paths] == ["a.png", "a-2.png", "a.pdf"]
    with Image.open(paths[0]) as picture:
        assert picture.size == (2480, 1748)  # A5 (ISO 216) at 300 dots per inch
        assert picture.info["dpi"] == pytest.approx((300.0, 300.0), abs=0.1)


def test_all_files_or_none(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="no folder"):
        write_pages([tmp_path / "a.png", tmp_path / "none" / "a.pdf"], [page()])
    assert list(tmp_path.iterdir()) == []


def test_widths_of_words_are_those_that_are_drawn() -> None:
    sheet = Sheet.blank(300.0, 60.0, theme_for(), dpi=100.0)
    for face in Face:
        sheet.figure.clear()
        sheet = Sheet.blank(300.0, 60.0, theme_for(), dpi=100.0)
        sheet.text(10.0, 40.0, "HAVE to be (0 %) 60 × 40 mm, fine offices H", 30.0, face=face)
        ink = np.asarray(page_image(sheet).convert("L")) < 128
        columns = np.flatnonzero(ink.any(axis=0)) / 100.0 * 25.4
        box = sheet.texts[0].box
        assert columns[0] == pytest.approx(box[0], abs=1.0)
        assert columns[-1] == pytest.approx(box[2], abs=1.0)


def test_broken_lines_fit_and_lose_nothing() -> None:
    text = "Flat petal 30 × 40 mm, sixty drops of 1.0 mm; flash 60 × 40 mm at 250 mm, 5600 K. " * 3
    lines = break_lines(text, 9.0, 60.0)
    assert len(lines) > 3
    assert " ".join(lines) == text.strip()
    assert max(width_mm(line, 9.0) for line in lines) <= 60.0
    cut = fit_line("w" * 80, 9.0, 30.0)
    assert cut.endswith("…")
    assert width_mm(cut, 9.0) <= 30.0
