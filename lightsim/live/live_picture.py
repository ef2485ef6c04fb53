"""Traced layers as the page takes them: each light's layer as the lens draws it, packed once."""

from __future__ import annotations

import json
import struct
from collections.abc import Collection
from dataclasses import dataclass
from itertools import count
from typing import Any

import numpy as np

from lightsim.photograph.diffraction import diffract_layers, pixel_at_sensor_um
from lightsim.photograph.mix import petal_colours, sources_of
from lightsim.photograph.movement import smeared
from lightsim.picture import Floats, Layer, Layers
from lightsim.report.viewer.packed_layer import LayerBytes, half_floats
from lightsim.runs.photographing import diffraction_of, drawn_layers, movement_of, sensor_of
from lightsim.scene.records import Scene
from lightsim.scene.stage import Stage

_numbers = count(1)


@dataclass(frozen=True)
class PackedLayer:
    """One light's layer for the page. number : no other has it, so that a layer is sent once.

    petal : the bare petal's mean colour per unit of the light's output.
    """

    number: int
    name: str
    bytes: LayerBytes
    petal: tuple[float, ...]


@dataclass(frozen=True)
class LivePicture:
    """A picture to show: of which revision of the scene, in which quality, and its packed layers.

    traced : the layers as traced, None for a place of the sky that was kept.
    """

    revision: int
    quality: str
    width: int
    height: int
    mm_per_px: float
    layers: tuple[PackedLayer, ...]
    scene: Scene
    stage: Stage
    traced: Layers | None
    traced_s: float = 0.0
    samples: int = 0

    def message(self, known: Collection[int], serial: int) -> bytes:
        """A binary message: length of the head (4 bytes), the head as JSON, then the layers that are not
        known to the page.

        The layers begin at even places, as half floats must.
        """
        sent = [layer for layer in self.layers if layer.number not in known]
        head = json.dumps(
            {**self.head(), "serial": serial, "sent": [layer.number for layer in sent]}
        ).encode()
        head += b" " * (len(head) % 2)
        return b"".join([struct.pack("<I", len(head)), head, *(layer.bytes.data for layer in sent)])

    def head(self) -> dict[str, Any]:
        """All but the layers' own bytes."""
        return {
            "revision": self.revision,
            "quality": self.quality,
            "samples": self.samples,
            "width": self.width,
            "height": self.height,
            "mm_per_px": self.mm_per_px,
            "noise": noise_of(self.scene, self.stage, self.mm_per_px),
            "traced_ms": round(1000.0 * self.traced_s, 1),
            "layers": [
                {"number": one.number, "name": one.name, "scale": one.bytes.scale, "petal": one.petal}
                for one in self.layers
            ],
        }


def noise_of(scene: Scene, stage: Stage, mm_per_px: float) -> dict[str, float] | None:
    """The sensor's noise for pixels of this size: electrons of a linear value of 1 at ISO 1, and the standard
    deviation of a reading; None for a clean picture."""
    sensor = sensor_of(scene)
    if sensor is None:
        return None
    pixel_um = pixel_at_sensor_um(mm_per_px, stage.camera.magnification)
    read_e = sensor.read_noise_e * sensor.gathered(pixel_um) ** 0.5
    return {"electrons": sensor.electrons_per_linear(1.0, pixel_um), "read": read_e}


class Packing:
    """Packs layers, and keeps what it made of a layer for as long as the same one comes again.

    quick : spread each layer's whole light at once, a third of the work; where a layer is a little negative,
    as traced light may be, this differs by a step or two of eight bits from the photograph's own way.
    """

    def __init__(self, quick: bool = False) -> None:
        self._quick = quick
        self._kept: dict[str, tuple[Layer, object, PackedLayer]] = {}

    def pack(self, layers: Layers, scene: Scene, stage: Stage) -> tuple[PackedLayer, ...]:
        """Each layer with the lens's diffraction and the subject's movement in it."""
        spread, movement = diffraction_of(scene, stage, layers.mm_per_px), movement_of(scene)
        sources = sources_of(stage)
        packed = []
        for name, layer in layers.by_light.items():
            time_s = sources[name].shines_s(scene.exposure.shutter_s) if movement is not None else 0.0
            drawn_by = (spread, movement, time_s)
            kept = self._kept.get(name)
            if kept is None or kept[0] is not layer or kept[1] != drawn_by:
                one = Layers({name: layer}, layers.maps, layers.mm_per_px)
                if self._quick or spread is None:
                    light = drawn_layers(one, scene, stage)[name]
                else:
                    light = diffract_layers(one, spread).by_light[name].total()
                    light = light if movement is None else smeared(light, movement, time_s, one.mm_per_px)
                kept = self._kept[name] = (layer, drawn_by, _packed(one, light))
            packed.append(kept[2])
        return tuple(packed)


def _packed(layers: Layers, light: Floats) -> PackedLayer:
    name, petal = next(iter(petal_colours(layers).items()))
    return PackedLayer(
        next(_numbers), name, half_floats(np.ascontiguousarray(light)), tuple(float(x) for x in petal)
    )
