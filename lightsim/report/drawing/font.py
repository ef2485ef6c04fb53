"""A scalable typeface: DejaVu Sans (free licence), which matplotlib carries with it."""

from __future__ import annotations

from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from lightsim.errors import LightsimError

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

REGULAR, BOLD = "DejaVuSans.ttf", "DejaVuSans-Bold.ttf"


def _font_folder() -> Path:
    """matplotlib's folder of typefaces, found without importing matplotlib where that can be."""
    spec = find_spec("matplotlib")
    for place in (spec.submodule_search_locations or []) if spec else []:
        folder = Path(place) / "mpl-data" / "fonts" / "ttf"
        if (folder / REGULAR).is_file():
            return folder
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


@lru_cache
def font_path(bold: bool = False) -> Path:
    """The typeface's file.

    Raises LightsimError where matplotlib came without its typefaces.
    """
    path = _font_folder() / (BOLD if bold else REGULAR)
    if not path.is_file():
        raise LightsimError(f"{path}: the typeface is missing; install matplotlib again to get it back")
    return path


@lru_cache(maxsize=64)
def font(size_px: int, bold: bool = False) -> FreeTypeFont:
    """The typeface at a size in pixels (of the em), kept for the next call."""
    from PIL import ImageFont

    return ImageFont.truetype(str(font_path(bold)), size_px, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(maxsize=8192)
def text_width_px(text: str, size_px: int, bold: bool = False) -> int:
    """Width of a line of text, pixels, rounded up."""
    return int(font(size_px, bold).getlength(text) + 0.999)


def wrapped(text: str, size_px: int, width_px: int, bold: bool = False) -> list[str]:
    """The text in lines no wider than `width_px`, broken at plain spaces; too long a word is cut short."""
    lines: list[str] = []
    reach, space = width_px + 1, text_width_px(" ", size_px, bold)
    for word in filter(None, text.split(" ")):
        # every width is rounded up, so a line never comes out wider than the sum of its words
        wide = text_width_px(word, size_px, bold)
        if reach + space + wide <= width_px:
            lines[-1] += " " + word
            reach += space + wide
        else:
            lines.append(shortened(word, size_px, width_px, bold))
            reach = wide
    return lines


def shortened(text: str, size_px: int, width_px: int, bold: bool = False) -> str:
    """The text, cut with an ellipsis where it is wider than `width_px`."""
    if text_width_px(text, size_px, bold) <= width_px:
        return text
    fitting, cut = 0, len(text)  # so many letters fit, so many do not
    while cut - fitting > 1:
        middle = (fitting + cut) // 2
        if text_width_px(text[:middle].rstrip() + "…", size_px, bold) <= width_px:
            fitting = middle
        else:
            cut = middle
    return text[:fitting].rstrip() + "…"
