"""The records that travel between the rooms: layers of light, maps, photographs.

Axes of every picture array: row 0 is the top, column 0 the left. Colours are linear with
sRGB primaries.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from lightsim.constants import LUMINANCE_WEIGHTS

Floats = NDArray[np.float32]

BARE_COVER = 0.98  # petal cover of a pixel that counts as bare petal


def luminance(rgb: NDArray) -> NDArray:
    """Luminance of linear sRGB, (..., 3) -> (...), same unit. Weights: ITU-R BT.709."""
    r, g, b = LUMINANCE_WEIGHTS
    return r * rgb[..., 0] + g * rgb[..., 1] + b * rgb[..., 2]


@dataclass(frozen=True)
class DropsSeen:
    """Where each drop of the set stands in the picture.

    Attributes
    ----------
    centre_px : (n, 2) float, column and row of the drop's centre; pixel centres are at .5.
    radius_px : (n,) float, radius of the drop's disc.
    blur_px : (n,) float, diameter of the defocus disc at the drop's front surface.
    radius_mm : (n,) float, radius of the drop's sphere.
    """

    centre_px: NDArray
    radius_px: NDArray
    blur_px: NDArray
    radius_mm: NDArray


@dataclass(frozen=True)
class Maps:
    """What each pixel sees, whatever the light.

    Attributes
    ----------
    petal_cover, drop_cover, backdrop_cover : (h, w) float32, shares of the pixel; they add up to 1.
    drop_index : (h, w) int32, the drop seen by most of the pixel's rays; -1 for none.
    depth_mm : (h, w) float32, mean height of what is seen, + toward the lens, 0 at sharp focus;
        NaN where only the backdrop is seen.
    drops : DropsSeen
    """

    petal_cover: Floats
    drop_cover: Floats
    backdrop_cover: Floats
    drop_index: NDArray[np.int32]
    depth_mm: Floats
    drops: DropsSeen


DROP_FIGURES = tuple(each.name for each in fields(DropsSeen))
MAP_NAMES = tuple(each.name for each in fields(Maps) if each.name != "drops")


def bare_petal(maps: Maps) -> NDArray[np.bool_]:
    """(h, w) bool, pixels that see the bare petal and next to nothing else."""
    return maps.petal_cover > np.float32(BARE_COVER)


@dataclass(frozen=True)
class Layer:
    """The picture that one light alone gives, per unit of its output.

    Attributes
    ----------
    light : the light's name; "ambient" for the dome.
    unit : "cd s" for a flash, "cd" for a continuous light, "lx" for the ambient dome.
    glint : (h, w) float32, cd/m2 per unit: the light's own face mirrored in the drops' outer surface.
    surface : (h, w, 3) float32, cd/m2 per unit: all else that the drops' surfaces mirror.
    water : (h, w, 3) float32, cd/m2 per unit: what comes through the water.
    petal : (h, w, 3) float32, cd/m2 per unit: the bare petal and the backdrop.
    lit : (h, w) float32, share of the light's face that the bare petal sees from the side that the
        camera sees; NaN where there is no bare petal. None for the dome.
    """

    light: str
    unit: str
    glint: Floats
    surface: Floats
    water: Floats
    petal: Floats
    lit: Floats | None = None

    def arrays(self) -> dict[str, Floats]:
        """The parts by name; `lit` only where there is one."""
        parts = {each.name: getattr(self, each.name) for each in fields(self)[2:]}
        return {name: values for name, values in parts.items() if values is not None}

    def total(self) -> Floats:
        """All parts added, (h, w, 3) float32, cd/m2 per unit; not to be written to, since it is kept."""
        return self._total

    @cached_property
    def _total(self) -> Floats:
        total = self.surface + self.water
        total += self.petal
        total += self.glint[..., None]
        total.flags.writeable = False
        return total


@dataclass(frozen=True)
class Layers:
    """One layer per light of a set, and the maps they share.

    Attributes
    ----------
    by_light : layers by the light's name, in the order of the scene; "ambient" last.
    maps : Maps
    mm_per_px : float, size of one pixel at the plane of sharp focus.
    """

    by_light: Mapping[str, Layer]
    maps: Maps
    mm_per_px: float

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width in pixels."""
        return self.maps.drop_index.shape[0], self.maps.drop_index.shape[1]


@dataclass(frozen=True)
class Photograph:
    """An exposed picture, linear, with what is known of it.

    Attributes
    ----------
    linear : (h, w, 3) float32; 1 is the level that a perfectly white petal gets in a correct exposure
        (the ISO 12232 mid-tone H = 10/S put at 0.18). What lies above `saturation` the sensor would clip; a
        simulated photograph keeps it, and the tone curve cuts it.
    mm_per_px : float, size of one pixel at the plane of sharp focus.
    saturation : float, linear value at which the sensor clips.
    glint : (h, w) float32 or None, luminance that the key's mirror image in the drops adds, same scale as
        `linear`.
    lit : (h, w) float32 or None, share of the key's face that the bare petal sees; NaN elsewhere.
    maps : Maps or None (a real photograph has none).
    notes : what was set and what was found, in words and numbers ("exposure", "clipped share", ...).
    """

    linear: Floats
    mm_per_px: float
    saturation: float = 1.0
    glint: Floats | None = None
    lit: Floats | None = None
    maps: Maps | None = None
    notes: Mapping[str, object] = field(default_factory=dict)

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width in pixels."""
        return self.linear.shape[0], self.linear.shape[1]

    def luminance(self) -> NDArray:
        """Luminance, (h, w), same scale as `linear`."""
        return luminance(self.linear)

    def with_notes(self, **notes: object) -> Photograph:
        """The same photograph with more notes."""
        return replace(self, notes={**self.notes, **notes})

    def _repr_png_(self) -> bytes:
        from lightsim.photograph.tone import png_bytes, to_srgb8

        return png_bytes(to_srgb8(self))
