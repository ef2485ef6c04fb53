"""Pages on disk: pixels (PNG, JPEG), vectors (SVG), and PDF with fonts, title and language in it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from lightsim.errors import OutputError
from lightsim.report.drawing.sheet_of_paper import Sheet, drawing
from lightsim.report.files.formats import write_image
from lightsim.whole_file import replacing, require_suffix

if TYPE_CHECKING:
    from PIL.Image import Image

PAGE_SUFFIXES = (".png", ".pdf", ".svg", ".jpg", ".jpeg")
LANGUAGE = "en"
CREATOR = "lightsim"


def write_pages(path: str | Path, pages: Sequence[Sheet]) -> list[Path]:
    """Write pages by the file's ending; returns the files.

    A PDF holds all pages; of the other kinds each page after the first has a file of its own, NAME-2.png.
    Raises OutputError for another ending or a place that cannot be written.
    """
    suffix = require_suffix(path, PAGE_SUFFIXES)
    path = Path(path)
    if suffix == ".pdf":
        return [_write_pdf(path, pages)]
    written = []
    for number, page in enumerate(pages, 1):
        place = path if number == 1 else path.with_name(f"{path.stem}-{number}{path.suffix}")
        if suffix == ".svg":
            _write_svg(place, page)
        else:
            write_image(place, page_image(page), dpi=page.dpi)
        written.append(place)
    return written


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
    with replacing(path) as part, drawing():
        page.figure.savefig(part, format="svg", metadata=about, facecolor=page.figure.get_facecolor())


def _write_pdf(path: Path, pages: Sequence[Sheet]) -> Path:
    """One document of all pages: title shown in the window's bar, language for whoever has it read aloud."""
    from matplotlib.backends.backend_pdf import PdfPages
    from pypdf import PdfWriter
    from pypdf.generic import BooleanObject, DictionaryObject, NameObject, TextStringObject

    about = {"Title": pages[0].title, "Creator": CREATOR, "Producer": None, "CreationDate": None}
    with replacing(path) as part:
        with drawing(), PdfPages(part, metadata=about) as document:
            for page in pages:
                page.figure.savefig(
                    document, format="pdf", dpi=page.dpi, facecolor=page.figure.get_facecolor()
                )
        writer = PdfWriter(clone_from=part)
        writer.root_object[NameObject("/Lang")] = TextStringObject(LANGUAGE)
        shown = DictionaryObject({NameObject("/DisplayDocTitle"): BooleanObject(True)})
        writer.root_object[NameObject("/ViewerPreferences")] = shown
        writer.add_metadata({"/Title": pages[0].title, "/Creator": CREATOR})
        try:
            writer.write(part)
        except OSError as error:
            raise OutputError(f"{path}: cannot be written ({error}); choose another place") from error
    return path
