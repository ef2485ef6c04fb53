"""Plain solids of all that stands on the set, in the scene's frame, for the plan's views."""

from lightsim.present.solid.part import Part
from lightsim.present.solid.whole import Solids, solids

__all__ = ["Part", "Solids", "solids"]
