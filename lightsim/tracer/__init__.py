"""The tracer: a scene's light as one linear layer per light. The door is `trace_layers`, or a kept `View`."""

from __future__ import annotations

from lightsim.tracer.bands import trace_strips
from lightsim.tracer.view import AMBIENT, QUALITY, View, compiled, trace_layers

__all__ = ["AMBIENT", "QUALITY", "View", "compiled", "trace_layers", "trace_strips"]
