"""A photograph, simulated or real -> numbers with units, and a reason for each that cannot be had."""

from lightsim.measure.compare import differences
from lightsim.measure.describe import MEASURES, SCHEMA_VERSION, as_rows, drop_rows, frame_row
from lightsim.measure.drops import choose_reference
from lightsim.measure.find import find_drops
from lightsim.measure.frame import measure
from lightsim.measure.read import read_photograph
from lightsim.measure.real import measure_photograph
from lightsim.measure.records import DropMeasures, FrameMeasures, stops

__all__ = [
    "MEASURES",
    "SCHEMA_VERSION",
    "DropMeasures",
    "FrameMeasures",
    "as_rows",
    "choose_reference",
    "differences",
    "drop_rows",
    "find_drops",
    "frame_row",
    "measure",
    "measure_photograph",
    "read_photograph",
    "stops",
]
