"""Plain solids of all that stands on the set, in the scene's frame, for the plan's views."""

from lightsim.report.setup.solid.part import Part
from lightsim.report.setup.solid.whole import Solids, solids

__all__ = ["Part", "Solids", "solids"]
