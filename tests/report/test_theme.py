"""The theme: contrast by the guidelines, for colour-blind readers, in greyscale; typeface; style sheets."""

from __future__ import annotations

import re
from base64 import b64decode
from io import BytesIO

import colour
import numpy as np
import pytest
from fontTools.ttLib import TTFont

from lightsim.errors import LightsimError
from lightsim.report.style_sheet import css_variables, font_face_css
from lightsim.report.theme import (
    DARK,
    GROUNDS,
    LIGHT,
    PAPERS,
    SIZES,
    Face,
    Theme,
    face_file,
    hex_colour,
    petal_colour,
    theme_for,
)
from lightsim.scene.build import build
from lightsim.scene.file.read import load_scene

RGB8 = tuple[int, int, int]

# Petals of many hues: rose, yellow, green, violet, red, orange, blue, and white, which has none.
PETALS: list[RGB8 | None] = [
    None, (199, 124, 155), (230, 180, 60), (90, 140, 80), (120, 110, 190),
    (220, 40, 30), (240, 130, 20), (60, 90, 200), (245, 244, 240), (128, 128, 128),
]  # fmt: skip
TEXT = ("ink", "quiet", "accent", "warning")
LINES = ("hairline", "mat")


def reference_contrast(one: np.ndarray, other: np.ndarray) -> float:
    """W3C Web Content Accessibility Guidelines 2.2, "contrast ratio", on linear sRGB by colour-science."""
    dim, bright = sorted(float(each @ [0.2126, 0.7152, 0.0722]) for each in (one, other))
    return (bright + 0.05) / (dim + 0.05)


def linear(code: RGB8) -> np.ndarray:
    return np.asarray(colour.cctf_decoding(np.array(code) / 255.0, function="sRGB"))


@pytest.fixture(params=[(ground, petal) for ground in GROUNDS for petal in PETALS], ids=str)
def theme(request: pytest.FixtureRequest) -> Theme:
    return theme_for(*request.param)


def test_text_stands_out_seven_to_one_and_lines_three_to_one(theme: Theme) -> None:
    # WCAG 2.2, success criteria 1.4.6 (7 : 1 for text) and 1.4.11 (3 : 1 for what is drawn)
    for role in TEXT:
        assert reference_contrast(linear(getattr(theme, role)), linear(theme.paper)) >= 7.0, role
    for role in LINES:
        assert reference_contrast(linear(getattr(theme, role)), linear(theme.paper)) >= 3.0, role


@pytest.mark.filterwarnings("ignore:.*tritanomaly")
@pytest.mark.parametrize("kind", ["Protanomaly", "Deuteranomaly", "Tritanomaly"])
def test_text_and_lines_stand_out_for_colour_blind_readers(theme: Theme, kind: str) -> None:
    # Machado, Oliveira and Fernandes 2009, severity 1 (dichromats), through colour-science
    matrix = np.asarray(colour.matrix_cvd_Machado2009(kind, 1.0))

    def seen(code: RGB8) -> np.ndarray:
        return np.clip(matrix @ linear(code), 0.0, 1.0)

    for role in (*TEXT, *LINES):
        least = 7.0 if role in TEXT else 3.0
        assert reference_contrast(seen(getattr(theme, role)), seen(theme.paper)) >= least, role


def test_the_accent_keeps_the_hue_of_the_petal() -> None:
    # hue in CIELAB, by colour-science; Abney's effect bends lines of one dominant wavelength a little
    for petal in PETALS[1:-2]:
        assert petal is not None
        for ground in GROUNDS:
            hues = []
            for code in (petal, theme_for(ground, petal).accent):
                lab = np.asarray(colour.XYZ_to_Lab(colour.sRGB_to_XYZ(np.array(code) / 255.0)))
                hues.append(np.degrees(np.arctan2(lab[2], lab[1])))
            assert abs((hues[1] - hues[0] + 180.0) % 360.0 - 180.0) < 20.0, (petal, ground)


def test_a_petal_without_a_hue_leaves_the_accent_as_it_is() -> None:
    assert theme_for(LIGHT, (245, 244, 240)) == theme_for(LIGHT)


def test_the_mat_is_the_mid_tone_of_a_grey_card() -> None:
    # grey of 18 %: common practice, no source; the coding is IEC 61966-2-1 through colour-science
    level = round(float(colour.cctf_encoding(0.18, function="sRGB")) * 255)
    assert {theme_for(ground).mat for ground in GROUNDS} == {(level, level, level)}


def test_another_ground_is_refused() -> None:
    with pytest.raises(LightsimError, match="found 'grey', allowed light or dark"):
        theme_for("grey")


def test_the_demo_petal_lends_a_rose_accent() -> None:
    red, green, blue = theme_for(LIGHT, petal_colour(build(load_scene("scenes/dewy-petal.toml")))).accent
    assert red > blue > green


@pytest.mark.parametrize("ground", GROUNDS)
def test_style_sheets_have_the_same_colours(ground: str) -> None:
    css = css_variables(ground, (90, 140, 80))
    found = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6});", css))
    assert found == {
        role: hex_colour(code) for role, code in theme_for(ground, (90, 140, 80)).colours().items()
    }
    assert f"color-scheme: {ground};" in css
    assert all(f"--{name}: {points:g}pt;" in css for name, points in SIZES.items())
    assert css_variables(DARK, selector="body.dark").startswith("body.dark {")


def test_the_typeface_travels_within_a_page() -> None:
    rule = font_face_css((Face.REGULAR,))
    found = re.search(r"base64,([^\"]+)", rule)
    assert found is not None
    assert len(rule) < 80_000
    signs = TTFont(BytesIO(b64decode(found[1]))).getBestCmap()
    assert all(ord(sign) in signs for sign in "°×–−±’“”¹²³µéßæ…%≤≥→½")


@pytest.mark.parametrize("face", Face)
def test_figures_are_lining_and_of_one_width(face: Face) -> None:
    font = TTFont(face_file(face))
    names = [font.getBestCmap()[ord(figure)] for figure in "0123456789"]
    assert len({font["hmtx"][name][0] for name in names}) == 1
    tops = [font["glyf"][name].yMax for name in names]
    bottoms = [font["glyf"][name].yMin for name in names]
    assert max(tops) - min(tops) < 30  # of 1000 to the em: round figures reach a little higher
    assert max(bottoms) - min(bottoms) < 30


def test_papers() -> None:
    # ISO 216: A4 is 210 x 297 mm; ANSI/ASME Y14.1, size A: 8.5 x 11 inches
    assert (PAPERS["a4"].short_mm, PAPERS["a4"].long_mm) == (210.0, 297.0)
    assert (PAPERS["letter"].short_mm / 25.4, PAPERS["letter"].long_mm / 25.4) == pytest.approx((8.5, 11.0))
