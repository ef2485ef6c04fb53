"""The sensor's noise: photons counted (shot noise), and what reading them adds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lightsim.optics.exposure_values import SATURATION
from lightsim.picture import Floats

ROWS = 64  # rows whose noise is drawn together


@dataclass(frozen=True)
class Sensor:
    """Figures of a sensor, from its maker's sheet or a measurement.

    full_well_e : electrons at saturation at the base speed.  base_iso : that speed.
    read_noise_e : standard deviation of a reading.
    pixel_um : pitch; None takes the picture's own pixels for the sensor's. A picture of fewer pixels
    gathers several into one, and is cleaner for it.
    seed : the same seed gives the same noise.
    The defaults are those of a middling large sensor (from memory, no source).
    """

    full_well_e: float = 50_000.0
    base_iso: float = 100.0
    read_noise_e: float = 3.0
    pixel_um: float | None = None
    seed: int = 1

    def electrons_per_linear(self, iso: float, picture_pixel_um: float) -> float:
        """Electrons in one pixel of the picture for a linear value of 1."""
        return self.gathered(picture_pixel_um) * self.full_well_e * self.base_iso / iso / SATURATION

    def gathered(self, picture_pixel_um: float) -> float:
        """Pixels of the sensor in one of the picture."""
        return 1.0 if self.pixel_um is None else (picture_pixel_um / self.pixel_um) ** 2


def with_noise(
    picture: Floats,
    sensor: Sensor,
    iso: float,
    picture_pixel_um: float,
    white: ArrayLike = (1.0, 1.0, 1.0),
    first_row: int = 0,
) -> Floats:
    """The linear picture, (h, w, 3) float32, as the sensor counts it; reading noise may take it below zero.

    white : (3,) linear colour of the light that the white balance made neutral. The sensor saw its channels
    in that proportion, so a weak one, multiplied up afterwards, is the noisier.
    first_row : of these rows in the whole picture, a multiple of ROWS: its noise does not depend on how it is
    cut.
    """
    electrons = np.float32(sensor.electrons_per_linear(iso, picture_pixel_um)) * np.maximum(
        np.asarray(white, dtype=np.float32), np.float32(1e-3)
    )
    read = np.float32(sensor.read_noise_e * np.sqrt(sensor.gathered(picture_pixel_um)))
    result = np.empty_like(picture)
    for part, top in enumerate(range(0, picture.shape[0], ROWS), start=first_row // ROWS):
        random = np.random.Generator(np.random.Philox(key=[sensor.seed, part]))
        mean = np.maximum(picture[top : top + ROWS], 0.0) * electrons
        counted = random.poisson(mean).astype(np.float32)
        counted += read * random.standard_normal(mean.shape, dtype=np.float32)
        result[top : top + ROWS] = counted / electrons
    return result
