"""Papers that pages are printed on."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class PaperSize:
    """A sheet of paper. short_mm, long_mm : its sides."""

    name: str
    short_mm: float
    long_mm: float


A4 = PaperSize("a4", 210.0, 297.0)  # ISO 216
LETTER = PaperSize("letter", 215.9, 279.4)  # ANSI/ASME Y14.1, size A: 8.5 x 11 inches
PAPERS: dict[str, PaperSize] = {paper.name: paper for paper in (A4, LETTER)}
