"""A photograph, simulated or real -> numbers with units, and a reason for each that cannot be had."""

from lightsim.measures.drop_choice import choose_reference
from lightsim.measures.frame_measures import measure_frame
from lightsim.measures.glossary import MEASURES, SCHEMA_VERSION, compare_measures, drop_rows, frame_row
from lightsim.measures.measure_records import DropMeasures, FrameMeasures
from lightsim.measures.real_photograph import find_drops, measure_file, measure_photograph, read_photograph

__all__ = [
    "MEASURES",
    "SCHEMA_VERSION",
    "DropMeasures",
    "FrameMeasures",
    "choose_reference",
    "compare_measures",
    "drop_rows",
    "find_drops",
    "frame_row",
    "measure_file",
    "measure_frame",
    "measure_photograph",
    "read_photograph",
]
