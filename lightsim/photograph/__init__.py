"""Layers and an exposure -> the photograph."""

from lightsim.photograph.camera_meter import MeterReading, meter
from lightsim.photograph.diffraction import Diffraction, diffract_layers
from lightsim.photograph.exposing import expose_layers
from lightsim.photograph.mix import Source, sources_of
from lightsim.photograph.movement import Movement
from lightsim.photograph.sensor import Sensor

__all__ = [
    "Diffraction",
    "MeterReading",
    "Movement",
    "Sensor",
    "Source",
    "diffract_layers",
    "expose_layers",
    "meter",
    "sources_of",
]
