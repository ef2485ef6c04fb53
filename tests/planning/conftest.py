"""The same small scene and drawing tracer as the runs have."""

from __future__ import annotations

from tests.runs.conftest import scene, tracer, two_lights

__all__ = ["scene", "tracer", "two_lights"]
