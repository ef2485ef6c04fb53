"""Pages on disk: pixels (PNG, JPEG), vectors (SVG), and PDF with fonts, title and language in it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import ExitStack
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from lightsim.report.drawing.sheet_of_paper import Sheet, drawing
from lightsim.report.files.formats import write_image
from lightsim.report.theme import Face, face_file
from lightsim.whole_file import replacing, require_suffix

if TYPE_CHECKING:
    from PIL.Image import Image

PAGE_SUFFIXES = (".png", ".pdf", ".svg", ".jpg", ".jpeg")
LANGUAGE = "en"
CREATOR = "lightsim"


def write_pages(paths: str | Path | Sequence[str | Path], pages: Sequence[Sheet]) -> list[Path]:
    """Write pages by the files' endings, all files or none; returns them.

    A PDF holds all pages; of the other kinds each page after the first has a file of its own, NAME-2.png.
    Raises OutputError for another ending or a place that cannot be written.
    """
    named = [paths] if isinstance(paths, str | Path) else list(paths)
    jobs = [job for path in named for job in _jobs(Path(path), pages)]
    with ExitStack() as stack:
        parts = [stack.enter_context(replacing(place)) for place, _ in jobs]
        for part, (place, shown) in zip(parts, jobs, strict=True):
            if place.suffix.lower() == ".pdf":
                write_pdf(part, shown)
            elif place.suffix.lower() == ".svg":
                _write_svg(part, shown[0])
            else:
                write_image(part, page_image(shown[0]), dpi=shown[0].dpi)
    return [place for place, _ in jobs]


def _jobs(path: Path, pages: Sequence[Sheet]) -> list[tuple[Path, Sequence[Sheet]]]:
    """The files of one name, each with the pages that it holds."""
    if require_suffix(path, PAGE_SUFFIXES) == ".pdf":
        return [(path, pages)]
    later = [path.with_name(f"{path.stem}-{number}{path.suffix}") for number in range(2, len(pages) + 1)]
    return [(place, [page]) for place, page in zip([path, *later], pages, strict=True)]


def page_image(page: Sheet) -> Image:
    """A page in RGB, at its dots per inch."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from PIL import Image

    with drawing():
        canvas = FigureCanvasAgg(page.figure)
        page.figure.set_dpi(page.dpi)
        canvas.draw()
        return Image.fromarray(np.asarray(canvas.buffer_rgba())[..., :3])


def _write_svg(path: Path, page: Sheet) -> None:
    about = {"Title": page.title, "Language": LANGUAGE, "Creator": CREATOR, "Date": None}
    with drawing():
        page.figure.savefig(path, format="svg", metadata=about, facecolor=page.figure.get_facecolor())


def write_pdf(path: Path, pages: Sequence[Sheet]) -> None:
    """Write one PDF of all pages, with its title in the window's bar and its language for screen readers."""
    from matplotlib.backends.backend_pdf import PdfPages
    from pypdf import PdfWriter
    from pypdf.generic import BooleanObject, DictionaryObject, NameObject, TextStringObject

    about = {"Title": pages[0].title, "Creator": CREATOR, "Producer": None, "CreationDate": None}
    file = BytesIO()
    with drawing(), PdfPages(file, metadata=about) as document:
        for page in pages:
            ground = page.figure.get_facecolor()
            page.figure.savefig(document, format="pdf", dpi=page.dpi, facecolor=ground)
    writer = PdfWriter(clone_from=file)
    mend_letters(writer)
    writer.root_object[NameObject("/Lang")] = TextStringObject(LANGUAGE)
    shown = DictionaryObject({NameObject("/DisplayDocTitle"): BooleanObject(True)})
    writer.root_object[NameObject("/ViewerPreferences")] = shown
    writer.add_metadata({"/Title": pages[0].title, "/Creator": CREATOR})
    with path.open("wb") as written:
        writer.write(written)


_KERNED_AGAIN = re.compile(rb"(Tf\s+-?[\d.]+ -?[\d.]+ Td\s+\[)\s*-?[\d.]+ \(")
_RANGE = re.compile(r"<([0-9a-fA-F]+)>\s*<[0-9a-fA-F]+>\s*\[([^\]]*)\]")
USE_MY_METRICS = 0x0200


def mend_letters(writer: Any) -> None:
    """Put the letters of a document (`pypdf.PdfWriter`) in our own typeface where they belong.

    Two faults of the drawing library are mended. Where a glyph is composed of others and one of these is
    marked USE_MY_METRICS (OpenType, table glyf), the library writes that part's width, so that after a per
    cent sign the text runs back over it; the widths that count are those of the table hmtx. And where a line
    goes on in another subset of a font it is placed with its kerning, which is then written once more.
    """
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
