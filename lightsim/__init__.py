"""See and measure the light on a wet flower before the photograph is taken.

    import lightsim

    scene = lightsim.load("scenes/dewy-petal.toml")
    layers = lightsim.trace(scene)  # one linear layer of light for each lamp
    photo = lightsim.expose(layers, scene)  # the settings of the camera: nothing is traced again
    print(lightsim.measure(photo).petal_contrast_stops)
    lightsim.sweep(scene, angles="0:180:15").sheet().save("sheet.png")

    lightsim.lens(scene).figures.effective_f_number  # the lens train; lens(scene, extension=36) tries another
    lightsim.exposure(scene, f_number=22, solve="power").trade  # one thing held by another
    lightsim.setup_plan(scene).save("plan.pdf")  # a page from which someone else can build the set

Scenes are files or records; sweeps, pictures, tables and plans show themselves in a notebook.

Everything is imported on first use.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from lightsim.picture import Layers, Photograph
    from lightsim.planning.exposure.exposure import Exposure, exposure
    from lightsim.planning.lens_report import LensReport, lens
    from lightsim.runs.comparison.compare import Comparison, compare
    from lightsim.runs.preview import Preview, preview
    from lightsim.runs.setup_plan import Setup, setup_plan
    from lightsim.runs.steps import expose, measure, trace
    from lightsim.runs.sweep.result import Sweep
    from lightsim.runs.sweep.sweep import sweep
    from lightsim.scene.build import build
    from lightsim.scene.file.read import load_scene as load
    from lightsim.scene.records import Scene
    from lightsim.tracer import View

_NAMES = {
    "Comparison": "lightsim.runs.comparison.compare:Comparison",
    "Exposure": "lightsim.planning.exposure.exposure:Exposure",
    "Layers": "lightsim.picture:Layers",
    "LensReport": "lightsim.planning.lens_report:LensReport",
    "Photograph": "lightsim.picture:Photograph",
    "Preview": "lightsim.runs.preview:Preview",
    "Scene": "lightsim.scene.records:Scene",
    "Setup": "lightsim.runs.setup_plan:Setup",
    "Sweep": "lightsim.runs.sweep.result:Sweep",
    "View": "lightsim.tracer:View",
    "build": "lightsim.scene.build:build",
    "compare": "lightsim.runs.comparison.compare:compare",
    "expose": "lightsim.runs.steps:expose",
    "exposure": "lightsim.planning.exposure.exposure:exposure",
    "lens": "lightsim.planning.lens_report:lens",
    "load": "lightsim.scene.file.read:load_scene",
    "measure": "lightsim.runs.steps:measure",
    "preview": "lightsim.runs.preview:preview",
    "setup_plan": "lightsim.runs.setup_plan:setup_plan",
    "sweep": "lightsim.runs.sweep.sweep:sweep",
    "trace": "lightsim.runs.steps:trace",
}

__all__ = [
    "Comparison",
    "Exposure",
    "Layers",
    "LensReport",
    "Photograph",
    "Preview",
    "Scene",
    "Setup",
    "Sweep",
    "View",
    "build",
    "compare",
    "expose",
    "exposure",
    "lens",
    "load",
    "measure",
    "preview",
    "setup_plan",
    "sweep",
    "trace",
]


def __getattr__(name: str) -> Any:
    if name not in _NAMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, _, attribute = _NAMES[name].partition(":")
    value = getattr(import_module(module), attribute)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
