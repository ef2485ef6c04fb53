"""What pages are set in: Source Serif Pro (SIL Open Font License) with lining figures, sizes, and papers."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

from lightsim.errors import LightsimError

FAMILY = "Source Serif Pro"
POINT_MM = 25.4 / 72.0  # the desktop publishing point
_PACKAGE = "font_source_serif_pro"

# Sizes in printed points, by what is set in them. Nothing on a page is smaller than the smallest.
SIZES: dict[str, float] = {"title": 20.0, "heading": 12.0, "text": 9.5, "caption": 8.5, "smallest": 8.0}


class Face(Enum):
    """A weight of the typeface, by the name of its file."""

    REGULAR = "SourceSerifPro-Regular.ttf"
    ITALIC = "SourceSerifPro-It.ttf"
    SEMIBOLD = "SourceSerifPro-Semibold.ttf"

    @property
    def css_weight(self) -> int:
        """The weight as style sheets number it."""
        return 600 if self is Face.SEMIBOLD else 400


@lru_cache
def face_file(face: Face = Face.REGULAR) -> Path:
    """The font's file, found without importing its package.

    Raises LightsimError where the package is missing.
    """
    spec = find_spec(_PACKAGE)
    for folder in (spec.submodule_search_locations or []) if spec else []:
        path = Path(folder) / "files" / face.value
        if path.is_file():
            return path
    raise LightsimError(
        f"the typeface {FAMILY} is missing ({face.value}); install the package font-source-serif-pro again"
    )


@dataclass(frozen=True)
class PaperSize:
    """A sheet of paper. short_mm, long_mm : its sides."""

    name: str
    short_mm: float
    long_mm: float


A4 = PaperSize("a4", 210.0, 297.0)  # ISO 216
LETTER = PaperSize("letter", 215.9, 279.4)  # ANSI/ASME Y14.1, size A: 8.5 x 11 inches
PAPERS: dict[str, PaperSize] = {paper.name: paper for paper in (A4, LETTER)}
