"""The tracer's one door: a view keeps the camera's paths, and traces lights along them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from lightsim import memory
from lightsim.errors import SceneError
from lightsim.picture import Layer, Layers, Maps
from lightsim.scene.build import build
from lightsim.scene.records import Exposure, Scene
from lightsim.scene.stage import Stage, StagedLight
from lightsim.tracer.area_light import empty_parts
from lightsim.tracer.fill_cards import CardLight
from lightsim.tracer.kernels.jit import compiled, mark_compiled
from lightsim.tracer.kernels.path_store import Parts
from lightsim.tracer.layer_keys import AMBIENT, light_key
from lightsim.tracer.light_layer import LightWork
from lightsim.tracer.main_card import MainCard
from lightsim.tracer.path_blocks import Block, Progress, maps_of
from lightsim.tracer.prepared_scene import QUALITY, Ground


def silent(_: float) -> None:
    """Progress that nobody follows."""


class View(Ground):
    """What the camera sees of a scene, ready for any light.

    Finding the camera's paths through petal and drops is done once, here; `trace` then does each light's own
    work. A light that did not move since the last call is not traced again.

    Parameters
    ----------
    scene : the set-up.
    width_px : width of the picture; None takes the scene's.
    samples : paths per pixel, best a power of two; see QUALITY.
    seed : of all sample points.
    progress : called with the share done, 0..1; may raise KeyboardInterrupt to stop.

    Raises
    ------
    SceneError : the scene cannot be built.  PictureError : the picture does not fit into memory.
    """

    def __init__(
        self,
        scene: Scene,
        *,
        width_px: int | None = None,
        samples: int = QUALITY["normal"],
        seed: int = 0,
        progress: Progress | None = None,
    ):
        report = progress or silent
        super().__init__(scene, width_px, samples, seed, lambda: report(0.0))
        self._blocks, self.maps = self._find(report)
        self._known: dict[str, tuple[tuple[object, object], Layer]] = {}
        self._cards = [CardLight(self, number) for number in range(len(self.boards.cards))]
        self._sent: dict[CardLight | MainCard, list[Any]] = {}

    def bytes_needed(self) -> int:
        """What keeping all paths and layers takes."""
        pixels = self.lens.width * self.lens.height
        layers = memory.layers_bytes(pixels, len(self.stage.lights) + 1)
        return memory.paths_bytes(pixels, self.samples, len(self.stage.cards)) + layers

    def _find(self, progress: Progress) -> tuple[list[Block], Maps]:
        blocks, counts = [], []
        for first, rows in self.block_rows:
            block, count = self.find(first, rows)
            blocks.append(block)
            counts.append(count)
            progress((first + rows) / self.lens.height)
        return blocks, maps_of(counts, self.drops_seen())

    def trace(
        self, scene: Scene | None = None, *, progress: Progress | None = None, sketch: bool = False
    ) -> Layers:
        """The layers of the view's scene, or of one with the same petal, drops and camera and other lights.

        sketch : lights that stand where they stood, and the room, stay as they were traced last, though a
            lamp's head has been moved that hides some of them: for a light under the hand, in half the time.

        Raises
        ------
        SceneError : the scene differs in more than its lights.
        """
        stage = self.stage if scene is None else self._stage_of(scene)
        report = progress or silent
        names = [light.name for light in stage.lights] + [AMBIENT]
        layers: dict[str, Layer] = {}
        for i, name in enumerate(names):

            def share(x: float, i: int = i) -> None:
                report((i + x) / len(names))

            light = stage.lights[i] if i < len(stage.lights) else None
            layers[name] = self._layer(stage, name, light, share, sketch)
        mark_compiled()
        return Layers(layers, self.maps, self.lens.pitch)

    def _stage_of(self, scene: Scene) -> Stage:
        if without_outputs(scene) != without_outputs(self.scene):
            raise SceneError("the scene differs from the view's in more than its lights: make a new view")
        return build(scene)

    def know(self, stage: Stage, light: StagedLight | None, layer: Layer) -> None:
        """Take a layer that was traced before, of that light (None: the dome) on that stage, for known."""
        self._known[layer.light] = (light_key(stage, light), layer)

    def _layer(
        self, stage: Stage, name: str, light: StagedLight | None, share: Progress, sketch: bool
    ) -> Layer:
        key = light_key(stage, light)
        known = self._known.get(name)
        if known is not None and (known[0] == key or (sketch and known[0][0] == key[0])):
            return known[1]
        layer = layer_of(name, light, self._parts(light, stage, share), self.shape)
        self._known[name] = (key, layer)
        return layer

    def _parts(self, light: StagedLight | None, stage: Stage, share: Progress) -> Parts:
        work = LightWork(self, light, self._cards, stage.bodies)
        share(0.0)
        sent = [self._sent_by(card) for card in work.cards]
        share(0.0)
        for block in self._blocks:
            work.classify_coarse(block)
        for block in self._blocks:
            work.classify_fine(block)
        share(0.0)
        parts = empty_parts(self.lens.width * self.lens.height)
        for i, block in enumerate(self._blocks):
            work.add(block, [one[i] for one in sent], Parts(*(array[block.pixels] for array in parts)))
            share((i + 1) / len(self._blocks))
        work.splat_highlights(parts.glint)
        return parts

    def _sent_by(self, card: CardLight | MainCard) -> list[Any]:
        """What a card sends to the paths of each block: found once for all lights."""
        if card not in self._sent:
            for block in self._blocks:
                card.classify_coarse(block)
            for block in self._blocks:
                card.classify_fine(block)
            self._sent[card] = [card.send(block) for block in self._blocks]
        return self._sent[card]


def without_outputs(scene: Scene) -> Scene:
    """All of a scene that a view depends on: neither its lights nor what is settled when it is exposed."""
    room = replace(scene.ambient, illuminance_lx=None, ev100=None, colour_temperature_k=0.0)
    return replace(
        scene, lights=(), exposure=Exposure(), ambient=room, motion=None, noise=None, title="", about="",
        path=None,
    )  # fmt: skip


def trace_layers(
    scene: Scene,
    *,
    width_px: int | None = None,
    samples: int = QUALITY["normal"],
    seed: int = 0,
    progress: Progress | None = None,
) -> Layers:
    """The layers of a scene, one per light and one for the ambient dome. Parameters, errors: see `View`."""
    report = progress or silent
    view = View(scene, width_px=width_px, samples=samples, seed=seed, progress=lambda x: report(0.5 * x))
    return view.trace(progress=lambda x: report(0.5 + 0.5 * x))


def layer_of(name: str, light: StagedLight | None, parts: Parts, shape: tuple[int, int]) -> Layer:
    """The parts as a layer of this height and width."""
    unit = "lx" if light is None else ("cd s" if light.kind == "flash" else "cd")
    return Layer(
        name,
        unit,
        parts.glint.reshape(shape),
        parts.surface.reshape(*shape, 3),
        parts.water.reshape(*shape, 3),
        parts.petal.reshape(*shape, 3),
        None if light is None else parts.lit.reshape(shape),
    )


__all__ = ["AMBIENT", "QUALITY", "View", "compiled", "trace_layers"]
