"""Layers as the lens and the movement draw them: what a browser exposes, and no longer needs to blur."""

from __future__ import annotations

import numpy as np

from lightsim.photograph.diffraction import diffracted
from lightsim.photograph.mix import sources_of
from lightsim.photograph.movement import smeared
from lightsim.picture import Floats, Layers
from lightsim.runs.photographing import diffraction_of, movement_of
from lightsim.scene.records import Scene
from lightsim.scene.stage import Stage


def drawn_layers(layers: Layers, scene: Scene, stage: Stage) -> dict[str, Floats]:
    """Each light's layer (h, w, 3), all its parts added, with diffraction and movement in it."""
    spread, movement = diffraction_of(scene, stage, layers.mm_per_px), movement_of(scene)
    sources, found = sources_of(stage), {}
    for name, layer in layers.by_light.items():
        light = layer.total()
        if spread is not None:
            light = diffracted(light, spread)
        if movement is not None:
            light = smeared(
                light, movement, sources[name].shines_s(scene.exposure.shutter_s), layers.mm_per_px
            )
        found[name] = np.ascontiguousarray(light)
    return found
