"""A tracer that draws instead of tracing and counts what is asked of it, for tests of what rests on it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lightsim.picture import DropsSeen, Layer, Layers, Maps
from lightsim.scene.build import build
from lightsim.scene.faces import angle_and_clock
from lightsim.tracer.bands import Strip

STRIP = 32  # rows
QUALITY = {"draft": 4, "normal": 16, "final": 64}


class FakeTracer:
    """Stands in for the room `tracer`: `View`, `trace_layers`, `trace_strips`, `compiled`, `QUALITY`.

    views, traced : scenes that a view was made for, and that were traced, in order.
    known : names of the layers that a view was given.
    stop_at : the number of the trace, counted from 1, that is interrupted.
    """

    QUALITY = QUALITY

    def __init__(self):
        self.views, self.traced, self.known = [], [], []
        self.stop_at = None
        tracer = self

        class View:
            def __init__(self, scene, *, width_px=None, samples=16, progress=None):
                tracer.views.append(scene)
                self.width_px = scene.camera.width_px if width_px is None else width_px
                self.set = (scene.petal, scene.drops, scene.camera, scene.lens)
                if progress is not None:
                    progress(1.0)

            def know(self, stage, light, layer):
                tracer.known.append(layer.light)

            def trace(self, scene=None, *, progress=None):
                assert (scene.petal, scene.drops, scene.camera, scene.lens) == self.set
                tracer.traced.append(scene)
                if progress is not None:
                    progress(0.5)
                if len(tracer.traced) == tracer.stop_at:
                    raise KeyboardInterrupt
                return draw_layers(scene, self.width_px)

        self.View = View

    def trace_layers(self, scene, *, width_px=None, samples=16, progress=None):
        return self.View(scene, width_px=width_px, samples=samples).trace(scene, progress=progress)

    def trace_strips(self, scene, *, width_px=None, samples=16, progress=None):
        layers = self.trace_layers(scene, width_px=width_px, progress=progress)
        height = layers.shape[0]
        for first in range(0, height, STRIP):
            yield Strip(first, rows_of(layers, slice(first, min(first + STRIP, height))), layers.shape)

    def compiled(self):
        return True


def rows_of(layers, rows):
    """The layers and maps of some rows."""
    parts = ("glint", "surface", "water", "petal", "lit")
    by_light = {}
    for name, layer in layers.by_light.items():
        known = {part: getattr(layer, part) for part in parts}
        by_light[name] = replace(layer, **{p: None if a is None else a[rows] for p, a in known.items()})
    maps = ("petal_cover", "drop_cover", "backdrop_cover", "drop_index", "depth_mm")
    cut = {name: getattr(layers.maps, name)[rows] for name in maps}
    return replace(layers, by_light=by_light, maps=replace(layers.maps, **cut))


def draw_layers(scene, width_px):
    """A flat grey petal with the scene's drops as discs, a highlight in each, a shadow beside each."""
    stage = build(scene)
    width, height = width_px, round(width_px / stage.camera.aspect)
    mm_per_px = stage.camera.field_width_mm / width
    maps = draw_maps(stage, width, height, mm_per_px)
    by_light = {light.name: draw_light(light, maps) for light in stage.lights}
    by_light["ambient"] = flat_layer("ambient", "lx", maps, 0.15, lit=None)
    return Layers(by_light, maps, mm_per_px)


def draw_maps(stage, width, height, mm_per_px):
    centre = np.stack(
        [
            width / 2 + stage.drops.centre[:, 0] / mm_per_px,
            height / 2 - stage.drops.centre[:, 1] / mm_per_px,
        ],
        axis=1,
    ).reshape(-1, 2)
    radius = stage.drops.radius / mm_per_px
    rows, columns = np.mgrid[0:height, 0:width] + 0.5
    index = np.full((height, width), -1, np.int32)
    for drop, ((x, y), r) in enumerate(zip(centre, radius, strict=True)):
        index[np.hypot(columns - x, rows - y) < r] = drop
    seen = (index >= 0).astype(np.float32)
    drops = DropsSeen(centre, radius, np.zeros(len(radius)), stage.drops.radius)
    return Maps(1 - seen, seen, np.zeros_like(seen), index, np.zeros((height, width), np.float32), drops)


def draw_light(light, maps):
    """Cosine light on the petal; the highlight stands R sin(t/2) from each drop's centre toward the light."""
    angle, clock = angle_and_clock(light.face.centre)
    distance_m = np.linalg.norm(light.face.centre) / 1000
    height, width = maps.drop_index.shape
    rows, columns = np.mgrid[0:height, 0:width] + 0.5
    toward = np.array([np.sin(np.radians(30 * clock)), -np.cos(np.radians(30 * clock))])
    bare = maps.drop_cover == 0
    lit = np.where(bare, 1.0, np.nan).astype(np.float32)
    glint = np.zeros((height, width), np.float32)
    for (x, y), r in zip(maps.drops.centre_px, maps.drops.radius_px, strict=True):
        place = np.array([x, y]) + toward * r * np.sin(np.radians(angle / 2))
        glint[np.hypot(columns - place[0], rows - place[1]) < max(0.12 * r, 1.0)] = 50.0
        shade = np.array([x, y]) - toward * 1.3 * r
        lit[bare & (np.hypot(columns - shade[0], rows - shade[1]) < 0.6 * r)] = 0.0
    glint[bare] = 0.0
    cosine = max(np.cos(np.radians(angle)), 0.05) / np.pi / distance_m**2
    layer = flat_layer(light.name, "cd s" if light.kind == "flash" else "cd", maps, cosine, lit)
    layer.petal[...] *= np.nan_to_num(lit)[..., None]
    return Layer(layer.light, layer.unit, glint, layer.surface, layer.water, layer.petal, lit)


def flat_layer(name, unit, maps, level, lit):
    height, width = maps.drop_index.shape
    colour = np.array([0.5, 0.4, 0.45], np.float32) * np.float32(level)
    petal = maps.petal_cover[..., None] * colour
    water = maps.drop_cover[..., None] * colour * np.float32(0.8)
    surface = np.zeros((height, width, 3), np.float32)
    return Layer(name, unit, np.zeros((height, width), np.float32), surface, water, petal, lit)
