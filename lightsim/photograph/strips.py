"""A photograph exposed strip by strip, the same as `expose_layers` gives of the layers of the whole; layers
averaged down, in linear light, to be measured where the whole picture would be too large.

First the lights are mixed, strip by strip as the layers come, then the lens draws the mixture: spreading
light is linear, so mixing may come before, but for the white balance: it mixes the channels, which the lens
spreads differently. What is kept of the whole picture is the mixture alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.optics.exposure_values import SATURATION
from lightsim.photograph.blur import blurred, reach_rows
from lightsim.photograph.diffraction import Diffraction, diffracted, pixel_at_sensor_um
from lightsim.photograph.exposing import noisy, used_sources
from lightsim.photograph.mix import AMBIENT, Matrix, Source, balance_matrix, balanced, mix_layers, unbalanced
from lightsim.photograph.movement import Movement, smear_of
from lightsim.photograph.sensor import ROWS, Sensor
from lightsim.picture import DropsSeen, Floats, Layer, Layers, Maps, Photograph
from lightsim.scene.records import Exposure
from lightsim.scene.stage import Stage

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


STRIP_PIXELS = 1_000_000  # exposed at a time, about


@dataclass(frozen=True)
class ExposureSettings:
    """How a photograph is taken: as the arguments of `expose_layers`."""

    stage: Stage
    exposure: Exposure
    diffraction: Diffraction | None = None
    movement: Movement | None = None
    sensor: Sensor | None = None


class Mixture:
    """What all lights give to each pixel at the settings, before lens, movement and white balance.

    shape : height and width of the whole picture.
    Lights that movement smears differently are kept apart, by how long they shine.
    """

    def __init__(self, settings: ExposureSettings, shape: tuple[int, int]):
        self.settings, self.shape = settings, shape
        self.mm_per_px = 1.0
        self._used: dict[str, Source] = {}
        self._by_time: dict[float, dict[str, Matrix]] = {}
        self._mixed: dict[float, Floats] = {}

    def add(self, first_row: int, layers: Layers) -> None:
        """The layers of some rows."""
        if not self._by_time:
            self._begin(layers)
        rows = slice(first_row, first_row + layers.shape[0])
        for time_s, by_light in self._by_time.items():
            self._mixed[time_s][rows] = mix_layers(layers, by_light)

    def _begin(self, layers: Layers) -> None:
        stage, exposure = self.settings.stage, self.settings.exposure
        self.mm_per_px = layers.mm_per_px
        self._used = used_sources(layers, stage)
        by_light = unbalanced(self._used, exposure, stage.camera.effective_f_number)
        for name, matrix in by_light.items():
            alike = self._by_time.setdefault(self._smeared_s(self._used[name]), {})
            alike[name] = matrix.astype(np.float32)
        self._mixed = {time_s: np.empty((*self.shape, 3), np.float32) for time_s in self._by_time}

    @property
    def _key(self) -> str:
        lights = self.settings.stage.lights
        return lights[0].name if lights else AMBIENT

    @property
    def _pixel_um(self) -> float:
        return pixel_at_sensor_um(self.mm_per_px, self.settings.stage.camera.magnification)

    def _smeared_s(self, source: Source) -> float:
        """How long a light shines, 0 where no smear shows."""
        movement, time_s = self.settings.movement, source.shines_s(self.settings.exposure.shutter_s)
        if movement is None or smear_of(movement, time_s, self.mm_per_px) is None:
            return 0.0
        return time_s

    def exposed(self, gain_stops: float) -> Iterator[tuple[int, Photograph]]:
        """Strips of the photograph from the top down, each with its first row.

        gain_stops : brightens the whole, automatic exposure's share counted.
        """
        height, width = self.shape
        margin = self._reach()
        balance = balance_matrix(self._used, self.settings.exposure, self._key)
        balance = (2.0**gain_stops * balance).T.astype(np.float32)
        step = ROWS * max(1, -(-max(STRIP_PIXELS // width, 2 * margin) // ROWS))
        for first in range(0, height, step):
            last = min(first + step, height)
            top = max(0, first - margin)
            drawn = self._drawn(slice(top, min(last + margin, height)))
            linear = balanced(drawn[first - top : last - top], balance)
            sensor, exposure = self.settings.sensor, self.settings.exposure
            if sensor is not None:
                linear = noisy(
                    linear, sensor, exposure, self._used, self._key, self._pixel_um, gain_stops, first
                )
            np.maximum(linear, 0.0, out=linear)
            yield first, Photograph(linear, self.mm_per_px, SATURATION)

    def _reach(self) -> int:
        """Rows about a strip from which light comes into it."""
        reach = 0 if self.settings.diffraction is None else reach_rows(self.settings.diffraction)
        if self.settings.movement is None:
            return reach
        smears = [smear_of(self.settings.movement, time_s, self.mm_per_px) for time_s in self._mixed]
        return reach + max((reach_rows(smear) for smear in smears if smear is not None), default=0)

    def _drawn(self, rows: slice) -> Floats:
        """Some rows of the mixture as the lens and the movement spread it."""
        drawn = []
        for time_s, mixed in self._mixed.items():
            part = mixed[rows]
            if self.settings.diffraction is not None:
                part = diffracted(part, self.settings.diffraction)
            movement = self.settings.movement
            smear = None if movement is None else smear_of(movement, time_s, self.mm_per_px)
            drawn.append(part if smear is None else blurred(part, smear))
        return sum(drawn[1:], start=drawn[0])
