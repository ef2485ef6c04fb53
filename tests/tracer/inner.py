"""Inner kernels, which only kernels may call, made ready for Python."""

from __future__ import annotations

from types import ModuleType
from typing import Any

from lightsim.tracer.kernels.jit import Kernel, from_python


class Room:
    """A module of kernels, each of which Python may call."""

    def __init__(self, module: ModuleType):
        self._module = module

    def __getattr__(self, name: str) -> Any:
        found = getattr(self._module, name)
        if isinstance(found, Kernel) and found.dispatcher.targetoptions.get("no_cpython_wrapper"):
            found = from_python(found)
        setattr(self, name, found)
        return found
