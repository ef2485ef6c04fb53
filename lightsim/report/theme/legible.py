"""Colours that stand out from their ground: the contrast ratio, and an accent in a petal's own hue."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

RGB8 = tuple[int, int, int]

TEXT_RATIO = 7.0  # W3C Web Content Accessibility Guidelines 2.2, success criterion 1.4.6
_FLARE = 0.05  # light that the screen adds, as the guidelines have it
_LEAST_COLOUR = 0.12  # (largest - smallest) / largest of the linear values; with less there is no hue
_ON_PAPER, _ON_DARK = (
    0.12,
    0.28,
)  # smallest / largest of an accent: pale petals lend their hue as pure as this
_BT709 = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709, luminance of the primaries


def linear(colour: RGB8) -> NDArray[np.float64]:
    """Linear values (3,) of an sRGB colour (IEC 61966-2-1)."""
    coded = np.asarray(colour, float) / 255.0
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def coded(linear_values: NDArray) -> NDArray[np.float64]:
    """sRGB values 0..255 (3,) of linear ones, not yet rounded (IEC 61966-2-1)."""
    values = np.clip(np.asarray(linear_values, float), 0.0, 1.0)
    return 255.0 * np.where(values <= 0.0031308, 12.92 * values, 1.055 * values ** (1 / 2.4) - 0.055)


def relative_luminance(colour: RGB8) -> float:
    """Luminance of an sRGB colour, 0..1."""
    return float(linear(colour) @ _BT709)


def make_legible(colour: RGB8, ground: RGB8, least: float = TEXT_RATIO) -> RGB8:
    """The colour's hue at the luminance that stands out from the ground by `least` to 1.

    Its grey part is taken out first, as far as an accent should be pure. Where sRGB has no colour of that
    hue so bright, white is added. least : below what black or white reaches on that ground.
    """
    base = relative_luminance(ground) + _FLARE
    on_dark = base < 0.5
    target = base * least - _FLARE if on_dark else base / least - _FLARE
    values = _purified(linear(colour), _ON_DARK if on_dark else _ON_PAPER)
    values = values * (target / float(values @ _BT709))
    if values.max() > 1.0:
        values = _whitened(values / values.max(), target)
    rounded = np.ceil(coded(values)) if on_dark else np.floor(coded(values))
    return _rgb8(rounded)


def has_hue(colour: RGB8) -> bool:
    """Whether a colour is far enough from grey to lend its hue."""
    values = linear(colour)
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
