"""See and measure the light on a wet flower before the photograph is taken.

    import lightsim

    scene = lightsim.load("scenes/dewy-petal.toml")
    layers = lightsim.trace(scene)  # one linear layer of light for each lamp
    photo = lightsim.develop(layers, scene)  # the settings of the camera: nothing is traced again
    print(lightsim.measure(photo).contrast_stops)
    lightsim.sweep(scene, angles="0:180:15").sheet().save("sheet.png")

    lightsim.rig(scene).figures.effective_f_number  # the lens train; rig(scene, extension=36) tries another
    lightsim.exposure(scene, f_number=22, solve="power").trade  # one thing held by another
    lightsim.setup_plan(scene).save("plan.pdf")  # a page from which someone else can build the set

Scenes are files or records; sweeps, pictures, tables and plans show themselves in a notebook.

Everything is imported on first use. The rooms `trace`, `develop` and `measure` can be called like the
function they are named after, and still hold the rest of their names (`lightsim.trace.View`).
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from lightsim.picture import Layers, Photograph
    from lightsim.scene.build import build
    from lightsim.scene.read import load_scene as load
    from lightsim.scene.records import Scene
    from lightsim.shoot.compare import Comparison, compare
    from lightsim.shoot.exposure import Exposure, exposure
    from lightsim.shoot.front import develop, measure, trace
    from lightsim.shoot.preview import Preview, preview
    from lightsim.shoot.result import Sweep
    from lightsim.shoot.rig import Rig, rig
    from lightsim.shoot.setup import Setup, setup_plan
    from lightsim.shoot.sweep import sweep
    from lightsim.trace import View

_NAMES = {
    "Comparison": "lightsim.shoot.compare:Comparison",
    "Exposure": "lightsim.shoot.exposure:Exposure",
    "Layers": "lightsim.picture:Layers",
    "Photograph": "lightsim.picture:Photograph",
    "Preview": "lightsim.shoot.preview:Preview",
    "Rig": "lightsim.shoot.rig:Rig",
    "Scene": "lightsim.scene.records:Scene",
    "Setup": "lightsim.shoot.setup:Setup",
    "Sweep": "lightsim.shoot.result:Sweep",
    "View": "lightsim.trace:View",
    "build": "lightsim.scene.build:build",
    "compare": "lightsim.shoot.compare:compare",
    "exposure": "lightsim.shoot.exposure:exposure",
    "load": "lightsim.scene.read:load_scene",
    "preview": "lightsim.shoot.preview:preview",
    "rig": "lightsim.shoot.rig:rig",
    "setup_plan": "lightsim.shoot.setup:setup_plan",
    "sweep": "lightsim.shoot.sweep:sweep",
}
_CALLABLE_ROOMS = ("develop", "measure", "trace")

__all__ = [
    "Comparison",
    "Exposure",
    "Layers",
    "Photograph",
    "Preview",
    "Rig",
    "Scene",
    "Setup",
    "Sweep",
    "View",
    "build",
    "compare",
    "develop",
    "exposure",
    "load",
    "measure",
    "preview",
    "rig",
    "setup_plan",
    "sweep",
    "trace",
]


class _Room(ModuleType):
    """A room that can be called like the function it is named after."""

    def __call__(self, *args: Any, **options: Any) -> Any:
        name = self.__name__.rpartition(".")[2]
        return getattr(import_module("lightsim.shoot.front"), name)(*args, **options)


class _Package(ModuleType):
    """The package itself, which lets some of its rooms be called as soon as they are imported."""

    def __setattr__(self, name: str, value: Any) -> None:
        if name in _CALLABLE_ROOMS and isinstance(value, ModuleType):
            value.__class__ = _Room
        super().__setattr__(name, value)


def __getattr__(name: str) -> Any:
    if name in _CALLABLE_ROOMS:
        return import_module(f"{__name__}.{name}")
    if name not in _NAMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, _, attribute = _NAMES[name].partition(":")
    value = getattr(import_module(module), attribute)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


sys.modules[__name__].__class__ = _Package
