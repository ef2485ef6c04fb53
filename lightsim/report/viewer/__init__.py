"""Photographs exposed in a browser from their layers: what Python packs for the scripts of this room."""

from lightsim.report.viewer.packed_layer import LayerBytes, half_floats
from lightsim.report.viewer.viewer_numbers import collect_viewer_numbers

__all__ = ["LayerBytes", "collect_viewer_numbers", "half_floats"]
