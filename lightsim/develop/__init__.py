"""Layers and an exposure -> the photograph."""

from lightsim.develop.mix import Source, sources_of
from lightsim.develop.photograph import develop

__all__ = ["Source", "develop", "sources_of"]
