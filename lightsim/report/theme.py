"""The look that all pages share: colours by what they are for, the typeface with its sizes, papers.

Colours are those of white paper or of a projector's dark ground, with an accent in a petal's hue. Pages are
set in Source Serif Pro (SIL Open Font License) with lining figures.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import Enum
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import LUMINANCE_WEIGHTS
from lightsim.errors import LightsimError
from lightsim.optics.colour import srgb_decode, srgb_encode

if TYPE_CHECKING:
    from lightsim.scene.stage import Stage

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


RGB8 = tuple[int, int, int]

TEXT_RATIO = 7.0  # W3C Web Content Accessibility Guidelines 2.2, success criterion 1.4.6
_FLARE = 0.05  # light that the screen adds, as the guidelines have it
_LEAST_COLOUR = 0.12  # (largest - smallest) / largest of the linear values; with less there is no hue
# smallest / largest of an accent: pale petals lend their hue as pure as this
_ON_PAPER, _ON_DARK = 0.12, 0.28
_BT709 = np.array(LUMINANCE_WEIGHTS)


def _linear(colour: RGB8) -> NDArray:
    return srgb_decode(np.asarray(colour) / 255.0)


def _coded(linear_values: NDArray) -> NDArray:
    """sRGB values 0..255 (3,) of linear ones, not yet rounded."""
    return 255.0 * srgb_encode(np.clip(linear_values, 0.0, 1.0))


def make_legible(colour: RGB8, ground: RGB8, least: float = TEXT_RATIO) -> RGB8:
    """The colour's hue at the luminance that stands out from the ground by `least` to 1.

    Its grey part is taken out first, as far as an accent should be pure. Where sRGB has no colour of that
    hue so bright, white is added. least : below what black or white reaches on that ground.
    """
    base = float(_linear(ground) @ _BT709) + _FLARE
    on_dark = base < 0.5
    target = base * least - _FLARE if on_dark else base / least - _FLARE
    values = _purified(_linear(colour), _ON_DARK if on_dark else _ON_PAPER)
    values = values * (target / float(values @ _BT709))
    if values.max() > 1.0:
        values = _whitened(values / values.max(), target)
    rounded = np.ceil(_coded(values)) if on_dark else np.floor(_coded(values))
    return _rgb8(rounded)


def has_hue(colour: RGB8) -> bool:
    """Whether a colour is far enough from grey to lend its hue."""
    values = _linear(colour)
    return bool(np.ptp(values) > _LEAST_COLOUR * max(float(values.max()), 1e-9))


def _purified(values: NDArray, most: float) -> NDArray:
    """The values less so much grey that the smallest is at most a share of the largest."""
    low, high = float(values.min()), float(values.max())
    if high - low <= _LEAST_COLOUR * high or low <= most * high:
        return np.maximum(values, 1e-6)
    return values - (low - most * high) / (1.0 - most)


def _whitened(values: NDArray, target: float) -> NDArray:
    """The values mixed with white up to a luminance."""
    dim = float(values @ _BT709)
    share = (target - dim) / (1.0 - dim)
    return values + share * (1.0 - values)


def mixed(colour: RGB8, ground: RGB8, share: float) -> RGB8:
    """So much of a colour laid thinly on a ground, share 0..1."""
    return _rgb8(share * np.asarray(colour, float) + (1.0 - share) * np.asarray(ground, float))


def _rgb8(values: NDArray) -> RGB8:
    red, green, blue = (round(float(value)) for value in values)
    return red, green, blue


LIGHT, DARK = "light", "dark"
GROUNDS = (LIGHT, DARK)

ROSE: RGB8 = (190, 62, 112)  # the hue of the accent where a petal has none of its own
_ACCENT_RATIO = 9.0  # so that 7 : 1 is left for colour-blind readers, who see a hue darker or brighter

# paper, ink, quiet, hairline, mat, warning; the mat is the mid-tone of a grey card (18 %) on both grounds
_NEUTRALS: dict[str, tuple[RGB8, ...]] = {
    LIGHT: ((255, 255, 255), (26, 26, 26), (78, 78, 78), (140, 140, 140), (118, 118, 118), (128, 50, 0)),
    DARK: ((20, 20, 20), (238, 238, 238), (182, 182, 182), (118, 118, 118), (118, 118, 118), (255, 176, 110)),
}


@dataclass(frozen=True)
class Theme:
    """Colours by role, sRGB 0..255. Text stands out 7:1 from the paper, lines 3:1.

    ground : "light" or "dark".
    paper : what all stands on.  ink : text, and what was found.  quiet : names, captions, notes.
    hairline : rules, axes, outlines.  mat : the neutral grey round a picture.
    accent : text and lines in the petal's hue, for the light and for what stands out.
    wash : the accent thinly on the paper, for areas; tint: ink as thinly.
    warning : cautions, which have a sign and words as well.
    """

    ground: str
    paper: RGB8
    ink: RGB8
    quiet: RGB8
    hairline: RGB8
    mat: RGB8
    warning: RGB8
    accent: RGB8
    wash: RGB8
    tint: RGB8

    def colours(self) -> dict[str, RGB8]:
        """Each role with its colour."""
        return {each.name: getattr(self, each.name) for each in fields(self) if each.name != "ground"}


def theme_for(ground: str = LIGHT, petal: RGB8 | None = None) -> Theme:
    """The theme on a ground. petal : the petal's colour, sRGB, whose hue the accent takes; None takes rose.

    Raises LightsimError for another ground.
    """
    if ground not in _NEUTRALS:
        raise LightsimError(f"ground: found {ground!r}, allowed {' or '.join(GROUNDS)}")
    paper, ink, quiet, hairline, mat, warning = _NEUTRALS[ground]
    accent = make_legible(petal if petal is not None and has_hue(petal) else ROSE, paper, _ACCENT_RATIO)
    return Theme(
        ground=ground,
        paper=paper,
        ink=ink,
        quiet=quiet,
        hairline=hairline,
        mat=mat,
        warning=warning,
        accent=accent,
        wash=mixed(accent, paper, 0.14),
        tint=mixed(ink, paper, 0.055),
    )


def hex_colour(colour: RGB8) -> str:
    """#rrggbb, as charts and pages want it."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


def petal_colour(stage: Stage) -> RGB8:
    """The mean reflectance of the most colourful quarter of the petal, as sRGB."""
    values = np.asarray(stage.petal.reflectance, float)
    colourful = np.ptp(values, axis=1)
    chosen = values[colourful >= np.quantile(colourful, 0.75)]
    return _rgb8(_coded(chosen.mean(axis=0)))
