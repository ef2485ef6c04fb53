"""The layers that a picture needs, each under a key of all that it depends on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from lightsim.picture import Layer
from lightsim.runs.digest import code_version, digest
from lightsim.runs.layer_encoding import Arrays, decode_layer
from lightsim.scene.build import build
from lightsim.scene.records import Scene
from lightsim.scene.stage import PetalMesh, Stage, StagedLight
from lightsim.tracer.layer_keys import AMBIENT, light_key, view_key

TRACED_ROOMS = ("tracer", "optics", "scene")
KEY_LENGTH = 24  # of a digest in hexadecimal: 96 bits
UNITS = {"flash": "cd s", "continuous": "cd"}


@dataclass(frozen=True)
class WantedLayers:
    """What a picture needs: the keys of its maps and, by the light's name, of its layers.

    scene : name of its file.  width_px, samples : of the picture.  mm_per_px : size of a pixel.
    """

    scene: str
    stage: Stage
    width_px: int
    samples: int
    maps: str
    layers: dict[str, str]

    @property
    def mm_per_px(self) -> float:
        """Size of one pixel at the plane of sharp focus."""
        return self.stage.camera.field_width_mm / self.width_px

    def light(self, name: str) -> StagedLight | None:
        """The light of a layer; None for the dome."""
        return next((light for light in self.stage.lights if light.name == name), None)

    def layer(self, name: str, arrays: Arrays) -> Layer:
        """A layer of these arrays, under the light's name of now."""
        light = self.light(name)
        return decode_layer(name, "lx" if light is None else UNITS[light.kind], arrays)

    def about(self, what: str, height_px: int) -> dict[str, Any]:
        """What a file of the store says of itself."""
        pixels = [self.width_px, height_px]
        return {"scene": self.scene, "samples": self.samples, "pixels": pixels, "what": what}


def wanted_layers(scene: Scene, width_px: int | None, samples: int) -> WantedLayers:
    """What a picture of the scene needs. width_px : None takes the scene's."""
    stage = build(scene)
    width = scene.camera.width_px if width_px is None else width_px
    seen = digest(_petal_digest(stage.petal), view_key(stage, width, samples), code_version(TRACED_ROOMS))
    start = seen[:KEY_LENGTH]
    lights: list[tuple[str, StagedLight | None]] = [(light.name, light) for light in stage.lights]
    layers = {
        name: f"{start}-{digest(light_key(stage, light))[:KEY_LENGTH]}"
        for name, light in [*lights, (AMBIENT, None)]
    }
    name = "scene" if scene.path is None else scene.path.stem
    return WantedLayers(name, stage, width, samples, f"{start}-maps", layers)


# The last petal and its digest: `build` gives the same arrays as long as the petal is the same.
_known: list[tuple[PetalMesh, str]] = []


def _petal_digest(petal: PetalMesh) -> str:
    if not _known or _known[0][0] is not petal:
        _known[:] = [(petal, digest(petal))]
    return _known[0][1]
