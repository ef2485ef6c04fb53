"""Where letters stand in a PDF: two faults of the drawing library mended in the finished document.

Where a glyph is composed of others and one of these is marked USE_MY_METRICS (OpenType, table glyf), the
library writes that part's width, so that after a per cent sign the text runs back over it; the widths that
count are those of the table hmtx. And where a line goes on in another subset of a font it is placed with its
kerning, which is then written once more.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any

from lightsim.report.theme.typeface import Face, face_file

_KERNED_AGAIN = re.compile(rb"(Tf\s+-?[\d.]+ -?[\d.]+ Td\s+\[)\s*-?[\d.]+ \(")
_RANGE = re.compile(r"<([0-9a-fA-F]+)>\s*<[0-9a-fA-F]+>\s*\[([^\]]*)\]")
USE_MY_METRICS = 0x0200


def mend_letters(writer: Any) -> None:
    """Put the letters of a document (`pypdf.PdfWriter`) in our own typeface where they belong."""
    for page in writer.pages:
        contents = page["/Contents"].get_object()
        contents.set_data(_KERNED_AGAIN.sub(rb"\1 (", contents.get_data()))
        for reference in page.get("/Resources", {}).get("/Font", {}).values():
            font = reference.get_object()
            face = _face(str(font.get("/BaseFont", "")))
            if face is not None and "/DescendantFonts" in font and "/ToUnicode" in font:
                _mend(font, _advances(face))


def _mend(font: Any, advances: dict[int, float]) -> None:
    from pypdf.generic import ArrayObject, FloatObject, NameObject, NumberObject

    letters = _letters(font["/ToUnicode"].get_object().get_data().decode("latin-1"))
    descendant = font["/DescendantFonts"][0].get_object()
    mended, old = ArrayObject(), descendant["/W"].get_object()
    for first, widths in zip(old[::2], old[1::2], strict=True):
        codes = range(int(first), int(first) + len(widths))
        found = [
            advances.get(letters.get(code, -1), float(width))
            for code, width in zip(codes, widths, strict=True)
        ]
        mended.extend([NumberObject(int(first)), ArrayObject(map(FloatObject, found))])
    descendant[NameObject("/W")] = mended


def _letters(cmap: str) -> dict[int, int]:
    """Code points by the codes of a ToUnicode map (ISO 32000-1, 9.10.3)."""
    found = {}
    for first, points in _RANGE.findall(cmap):
        for step, point in enumerate(re.findall(r"<([0-9a-fA-F]+)>", points)):
            found[int(first, 16) + step] = int(point, 16)
    return found


def _face(base_font: str) -> Face | None:
    name = base_font.rpartition("+")[2].removeprefix("/")
    return next((face for face in Face if face.value.removesuffix(".ttf") == name), None)


@lru_cache
def _advances(face: Face) -> dict[int, float]:
    """Advance, in thousandths of an em, of each code point whose glyph takes a part's width."""
    from fontTools.ttLib import TTFont

    with TTFont(face_file(face), lazy=True) as font:
        scale, glyphs, widths = 1000.0 / font["head"].unitsPerEm, font["glyf"], font["hmtx"]
        return {
            point: scale * widths[name][0]
            for point, name in font.getBestCmap().items()
            if glyphs[name].isComposite()
            and any(part.flags & USE_MY_METRICS for part in glyphs[name].components)
        }
