"""The look that all pages share: named colours, type in printed points, papers."""

from lightsim.report.theme.css import base_css, css_variables, font_face_css, font_face_rule
from lightsim.report.theme.roles import (
    DARK,
    GROUNDS,
    LIGHT,
    RGB8,
    Theme,
    hex_colour,
    make_legible,
    mixed,
    petal_colour,
    theme_for,
)
from lightsim.report.theme.typeface import A4, LETTER, PAPERS, POINT_MM, SIZES, Face, PaperSize, face_file

__all__ = [
    "A4",
    "DARK",
    "GROUNDS",
    "LETTER",
    "LIGHT",
    "PAPERS",
    "POINT_MM",
    "RGB8",
    "SIZES",
    "Face",
    "PaperSize",
    "Theme",
    "base_css",
    "css_variables",
    "face_file",
    "font_face_css",
    "font_face_rule",
    "hex_colour",
    "make_legible",
    "mixed",
    "petal_colour",
    "theme_for",
]
