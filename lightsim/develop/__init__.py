"""Layers and an exposure -> the photograph."""

from lightsim.develop.diffraction import Diffraction, diffract_layers
from lightsim.develop.meter import MeterReading, meter
from lightsim.develop.mix import Source, sources_of
from lightsim.develop.movement import Movement
from lightsim.develop.photograph import develop
from lightsim.develop.sensor import Sensor

__all__ = [
    "Diffraction",
    "MeterReading",
    "Movement",
    "Sensor",
    "Source",
    "develop",
    "diffract_layers",
    "meter",
    "sources_of",
]
