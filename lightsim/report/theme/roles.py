"""Colours by what they are for, on white paper or on a projector's dark ground."""

from __future__ import annotations

from dataclasses import dataclass, fields

from lightsim.errors import LightsimError
from lightsim.report.theme.legible import RGB8, has_hue, make_legible, mixed

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
