"""The typeface and the colours."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from lightsim.report.drawing.font import font, font_path, shortened, text_width_px, wrapped
from lightsim.report.drawing.grey_card import (
    ACCENT,
    INK,
    LABEL,
    PAGE,
    PLATE,
    PLATE_LABEL,
    PLATE_TEXT,
    RGB8,
    points_to_px,
)
from lightsim.report.words import glued


def linear(code: RGB8) -> np.ndarray:
    """Linear sRGB of a colour, by the reference library colour-science (IEC 61966-2-1)."""
    return colour.cctf_decoding(np.array(code) / 255.0, function="sRGB")


def relative_luminance(code: RGB8) -> float:
    """Luminance by the weights of ITU-R BT.709."""
    return float(linear(code) @ [0.2126, 0.7152, 0.0722])


def contrast(one: RGB8, other: RGB8) -> float:
    """Contrast ratio of lettering, W3C Web Content Accessibility Guidelines 2.1, "contrast ratio"."""
    light, dark = sorted((relative_luminance(one), relative_luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_page_is_a_neutral_grey_that_reflects_18_per_cent() -> None:
    # grey of 18 %: common practice, no source; the coding is IEC 61966-2-1 through colour-science
    assert len(set(PAGE)) == 1
    assert round(float(colour.cctf_encoding(0.18, function="sRGB")) * 255) == PAGE[0]


@pytest.mark.parametrize(
    ("ink", "ground", "least"),
    [
        (INK, PAGE, 4.5),  # WCAG 2.1, success criterion 1.4.3: 4.5 for body text ...
        (LABEL, PAGE, 4.0),  # ... names may be a little quieter than numbers, above the 3 for large text
        (PLATE_TEXT, PLATE, 4.5),
        (PLATE_LABEL, PLATE, 4.5),
        (ACCENT, PLATE, 4.5),
    ],
)
def test_lettering_stands_out_from_its_ground(ink: RGB8, ground: RGB8, least: float) -> None:
    assert contrast(ink, ground) >= least


def test_points_on_a4_at_300_dots_per_inch() -> None:
    # A4 is 297 mm long (ISO 216): 3508 dots at 300 dpi; 8 pt = 8/72 inch = 33.3 dots
    assert points_to_px(8.0, 297 / 25.4 * 300) == 34
    assert points_to_px(72.0, 297 / 25.4 * 300) == 300


def test_the_typeface_is_scalable_and_kept() -> None:
    assert font_path().suffix == font_path(bold=True).suffix == ".ttf"
    assert font(40) is font(40)
    small, large = (text_width_px("1/128 s, f/11", size) for size in (40, 80))
    assert large == pytest.approx(2 * small, rel=0.03)


def test_the_typeface_has_every_sign_that_is_written() -> None:
    for sign in "°×–−±’¹²³⁴⁵⁶⁷⁸⁹⁰…%:/éß":
        mask = font(60).getmask(sign)
        missing = font(60).getmask("\U0010fffe")  # no character: the typeface's box for what it lacks
        assert bytes(mask) != bytes(missing), sign


def test_wrapped_lines_fit_and_lose_nothing() -> None:
    text = glued("Flat petal 30 × 40 mm, sixty drops of 1.0 mm; flash 60 × 40 mm at 250 mm, 5600 K. " * 3)
    lines = wrapped(text, 30, 700)
    assert len(lines) > 3
    assert " ".join(lines) == text.strip()
    assert max(text_width_px(line, 30) for line in lines) <= 700


def test_a_word_too_long_is_cut_with_an_ellipsis() -> None:
    cut = shortened("w" * 80, 30, 300)
    assert cut.endswith("…")
    assert text_width_px(cut, 30) <= 300
    assert wrapped("a " + "w" * 80, 30, 300) == ["a", cut]
