"""Letters in a PDF stand where the font's own tables (OpenType: hmtx) put them."""

from __future__ import annotations

import re

import pytest
from fontTools.ttLib import TTFont
from pypdf import PdfReader

from lightsim.report.drawing.page_files import write_pages
from lightsim.report.drawing.sheet_of_paper import Sheet
from lightsim.report.theme import Face, face_file, theme_for


@pytest.fixture(params=list(Face))
def written(request, tmp_path):
    """A document with letters that are composed, and a line that goes on in another subset."""
    sheet = Sheet.blank(100.0, 30.0, theme_for())
    sheet.text(10.0, 10.0, "61 % of ½ a% ä", 14.0, face=request.param)
    sheet.text(10.0, 20.0, "10 o’clock, −AV", 14.0, face=request.param)
    (path,) = write_pages(tmp_path / "a.pdf", [sheet])
    return request.param, PdfReader(path).pages[0]


def test_a_composed_letter_has_its_own_width(written):
    face, page = written
    font = TTFont(face_file(face), lazy=False)
    widths = {}
    for each in page["/Resources"]["/Font"].values():
        table = each.get_object()["/DescendantFonts"][0].get_object()["/W"].get_object()
        for first, found in zip(table[::2], table[1::2], strict=True):
            widths |= {int(first) + i: float(width) for i, width in enumerate(found)}
    for letter in "%½äo6":  # their codes in the first subset are their code points
        name = font.getBestCmap()[ord(letter)]
        assert widths[ord(letter)] == pytest.approx(1000.0 * font["hmtx"][name][0] / 1000.0, abs=1.0)


def test_where_a_line_goes_on_it_is_kerned_once(written):
    _, page = written
    text = page.get_contents().get_data()
    placed = re.findall(rb"Tf\s+-?[\d.]+ -?[\d.]+ Td\s+\[\s*(\S)", text)
    assert len(placed) >= 4
    assert set(placed) == {b"("}
    assert "10 o’clock" in page.extract_text()
