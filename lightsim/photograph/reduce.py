"""Layers averaged down, in linear light, to be measured where the whole picture would be too large."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.picture import DropsSeen, Floats, Layer, Layers, Maps

PARTS = ("glint", "surface", "water", "petal")
COVERS = ("petal_cover", "drop_cover", "backdrop_cover")


class Reduction:
    """Layers with one pixel for each square of `side` x `side`, put together from strips of rows.

    The light and the covers are means; `lit` and the depth are means where they are known; the drop is the
    one that a pixel in the square's middle sees.
    """

    def __init__(self, side: int):
        self.side = side
        self._strips: list[Layers] = []

    def add(self, layers: Layers) -> None:
        """The next rows, from the top down; their number a multiple of the side, but for the last."""
        by_light = {name: self._layer(layer) for name, layer in layers.by_light.items()}
        self._strips.append(Layers(by_light, self._maps(layers.maps), layers.mm_per_px * self.side))

    def layers(self) -> Layers:
        """All of them together."""
        first = self._strips[0]
        by_light = {}
        for name, layer in first.by_light.items():
            parts = {
                part: np.concatenate([getattr(s.by_light[name], part) for s in self._strips])
                for part in PARTS
            }
            lit = [s.by_light[name].lit for s in self._strips]
            known = [one for one in lit if one is not None]
            by_light[name] = Layer(name, layer.unit, **parts, lit=np.concatenate(known) if known else None)
        names = (*COVERS, "drop_index", "depth_mm")
        maps = {one: np.concatenate([getattr(s.maps, one) for s in self._strips]) for one in names}
        return Layers(by_light, Maps(**maps, drops=first.maps.drops), first.mm_per_px)

    def _layer(self, layer: Layer) -> Layer:
        parts = {part: self._mean(getattr(layer, part)) for part in PARTS}
        lit = None if layer.lit is None else self._known_mean(layer.lit)
        return Layer(layer.light, layer.unit, **parts, lit=lit)

    def _maps(self, maps: Maps) -> Maps:
        covers = {name: self._mean(getattr(maps, name)) for name in COVERS}
        rows, columns = (self._middles(size) for size in maps.drop_index.shape)
        index = maps.drop_index[np.ix_(rows, columns)]
        seen = maps.drops
        drops = DropsSeen(
            seen.centre_px / self.side, seen.radius_px / self.side, seen.blur_px / self.side, seen.radius_mm
        )
        return Maps(**covers, drop_index=index, depth_mm=self._known_mean(maps.depth_mm), drops=drops)

    def _middles(self, size: int) -> NDArray[np.int64]:
        return np.minimum(np.arange(0, size, self.side) + self.side // 2, size - 1)

    def _sum(self, values: NDArray) -> NDArray:
        rows, columns = (np.arange(0, size, self.side) for size in values.shape[:2])
        return np.add.reduceat(np.add.reduceat(values, rows, axis=0), columns, axis=1)

    def _mean(self, values: Floats) -> Floats:
        if self.side == 1:
            return values
        many = self._sum(np.ones(values.shape[:2], np.float32))
        return self._sum(values) / many.reshape(*many.shape, *(1,) * (values.ndim - 2))

    def _known_mean(self, values: Floats) -> Floats:
        if self.side == 1:
            return values
        known = np.isfinite(values)
        with np.errstate(invalid="ignore"):
            return self._sum(np.where(known, values, np.float32(0))) / self._sum(known.astype(np.float32))
