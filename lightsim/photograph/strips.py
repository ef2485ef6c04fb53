"""A photograph exposed strip by strip: the same as `expose_layers` gives of the layers of the whole.

First the lights are mixed, strip by strip as the layers come, then the lens draws the mixture: spreading
light is linear, so mixing may come before, but for the white balance: it mixes the channels, which the lens
spreads differently. What is kept of the whole picture is the mixture alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from lightsim.optics.sensitivity import SATURATION
from lightsim.photograph.blur import blurred, reach_rows
from lightsim.photograph.diffraction import Diffraction, diffracted, pixel_at_sensor_um
from lightsim.photograph.exposing import noisy, used_sources
from lightsim.photograph.mix import AMBIENT, Matrix, Source, balance_matrix, balanced, mix_layers, unbalanced
from lightsim.photograph.movement import Movement, smear_of
from lightsim.photograph.sensor import ROWS, Sensor
from lightsim.picture import Floats, Layers, Photograph
from lightsim.scene.records import Exposure
from lightsim.scene.stage import Stage

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
