"""The theme for pages in a browser: custom properties, and the typeface within the page."""

from __future__ import annotations

from base64 import b64encode
from functools import lru_cache
from io import BytesIO
from pathlib import Path

from lightsim.report.theme import FAMILY, LIGHT, RGB8, SIZES, Face, face_file, hex_colour, theme_for

# What a page may write: Latin letters, punctuation, raised figures, arrows, the signs of the trade.
_SIGNS = (*range(0x20, 0x180), *range(0x2010, 0x2027), 0x2032, 0x2033, 0x2044, *range(0x2070, 0x208A), 0x03BC)
_MORE = (0x2190, 0x2191, 0x2192, 0x2193, 0x2212, 0x2248, 0x2264, 0x2265, 0x25B3)


def css_variables(ground: str = LIGHT, petal: RGB8 | None = None, selector: str = ":root") -> str:
    """A rule that sets --paper, --ink, --quiet, --hairline, --mat, --warning, --accent, --wash, --tint,
    --face (font families), and the sizes --title, --heading, --text, --caption, --smallest in points.

    ground, petal : as for `theme_for`.  selector : what the rule is for.
    Raises LightsimError for another ground.
    """
    theme = theme_for(ground, petal)
    lines = [f"color-scheme: {theme.ground};"]
    lines += [f"--{role}: {hex_colour(colour)};" for role, colour in theme.colours().items()]
    lines += [f"--{name}: {points:g}pt;" for name, points in SIZES.items()]
    lines.append(f'--face: "{FAMILY}", Georgia, "Times New Roman", serif;')
    return "\n".join([f"{selector} {{", *(f"  {line}" for line in lines), "}"]) + "\n"


def base_css() -> str:
    """The rules that every page begins with, for colours set by `css_variables`."""
    return Path(__file__).with_name("base.css").read_text(encoding="utf-8")


def font_face_css(faces: tuple[Face, ...] = (Face.REGULAR, Face.SEMIBOLD)) -> str:
    """@font-face rules that carry the typeface within them, cut down to the signs that pages write.

    About 40 kB for each face. Raises LightsimError where the typeface is not installed.
    """
    return "".join(_font_face(face) for face in faces)


@lru_cache
def _font_face(face: Face) -> str:
    data = b64encode(subset(face)).decode("ascii")
    return font_face_rule(face, f"data:font/ttf;base64,{data}")


def font_face_rule(face: Face, address: str) -> str:
    """An @font-face rule that takes the typeface from an address."""
    style = "italic" if face is Face.ITALIC else "normal"
    return (
        f'@font-face {{ font-family: "{FAMILY}"; font-style: {style}; font-weight: {face.css_weight}; '
        f'font-display: swap; src: url("{address}") format("truetype"); }}\n'
    )


@lru_cache
def subset(face: Face) -> bytes:
    """The font's file with only the signs that pages write."""
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont

    font = TTFont(face_file(face))
    cutter = Subsetter(
        Options(layout_features=["kern", "liga", "tnum", "lnum"], hinting=False, notdef_outline=True)
    )
    cutter.populate(unicodes=[*_SIGNS, *_MORE])
    cutter.subset(font)
    file = BytesIO()
    font.save(file)
    return file.getvalue()
