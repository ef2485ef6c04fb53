"""The look that all pages share: named colours, type in printed points, papers."""

from lightsim.report.theme.css import base_css, css_variables, font_face_css, font_face_rule
from lightsim.report.theme.legible import make_legible
from lightsim.report.theme.paper_size import A4, LETTER, PAPERS, PaperSize
from lightsim.report.theme.petal_hue import petal_colour
from lightsim.report.theme.roles import DARK, GROUNDS, LIGHT, Theme, hex_colour, theme_for
from lightsim.report.theme.typeface import POINT_MM, SIZES, Face, face_file

__all__ = [
    "A4",
    "DARK",
    "GROUNDS",
    "LETTER",
    "LIGHT",
    "PAPERS",
    "POINT_MM",
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
    "petal_colour",
    "theme_for",
]
