"""The tracer: a scene's light as one linear layer per light. The door is `trace`, or a kept `View`."""

from __future__ import annotations

from lightsim.tracer.bands import trace_strips
from lightsim.tracer.view import AMBIENT, QUALITY, View, compiled, trace

__all__ = ["AMBIENT", "QUALITY", "View", "compiled", "trace", "trace_strips"]
