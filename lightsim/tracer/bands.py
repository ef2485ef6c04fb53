"""A scene traced strip by strip, so that memory hardly grows with the picture: as `trace_layers` gives.

Blocks of rows go through the steps of a light's work one behind the other. A block's paths are found, and
the light's visibility from them is classified coarsely at once, finely when the rows below are classified
coarsely; light is added when enough rows below are classified finely, and the block is dropped. The cache of
visibility is kept for the whole picture; it takes less than two bytes for each pixel and face.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim import memory
from lightsim.picture import Layers
from lightsim.scene.records import Scene
from lightsim.tracer.area_light import empty_parts
from lightsim.tracer.fill_cards import CardLight
from lightsim.tracer.kernels.camera_paths import Counts
from lightsim.tracer.kernels.jit import mark_compiled
from lightsim.tracer.kernels.pixel_cells import CELL
from lightsim.tracer.kernels.visibility_cache import BLOCK, COARSE
from lightsim.tracer.light_layer import LightWork
from lightsim.tracer.main_card import MainCard
from lightsim.tracer.path_blocks import Block, Progress, maps_of
from lightsim.tracer.prepared_scene import QUALITY, Ground
from lightsim.tracer.view import AMBIENT, layer_of, silent

COARSE_AHEAD = 2 * COARSE  # rows below a block that its fine visibility is found from
LEAST_AHEAD = max(2 * BLOCK, CELL)  # rows below a block that its light is added from


@dataclass(frozen=True)
class Strip:
    """The layers and maps of some rows of a picture of height x width pixels.

    Its drops stand where they stand in the whole picture.
    """

    first_row: int
    layers: Layers
    shape: tuple[int, int]


@dataclass(frozen=True)
class Waiting:
    """A block whose light has not been added yet."""

    block: Block
    counts: Counts
    end_row: int
    rows_ahead: int
    size: int


@dataclass(frozen=True)
class Points:
    """Splatted highlights: numbers of pixels, rising, and what they get."""

    pixel: NDArray[np.integer]
    light: NDArray[np.float32]

    def add(self, pixels: slice, glint: NDArray[np.float32]) -> None:
        """Add those of some pixels to these pixels' glint."""
        first, last = np.searchsorted(self.pixel, (pixels.start, pixels.stop))
        glint[self.pixel[first:last] - pixels.start] += self.light[first:last]


def trace_strips(
    scene: Scene,
    *,
    width_px: int | None = None,
    samples: int = QUALITY["normal"],
    seed: int = 0,
    progress: Progress | None = None,
) -> Iterator[Strip]:
    """The layers of a scene from the top down; parameters and errors as for `View`.

    Where focus blur reaches farther down than there is memory for blocks that wait (memory.PENDING_BYTES),
    the shadow at such a pixel is found path by path.
    """
    report = progress or silent
    return _Stream(Ground(scene, width_px, samples, seed, lambda: report(0.0)), report).strips()


class _Stream:
    """Blocks under way: visibility is classified finely down to the row `fine`, coarsely down to `coarse`."""

    def __init__(self, ground: Ground, progress: Progress):
        self.ground, self.progress = ground, progress
        cards = [CardLight(ground, number) for number in range(len(ground.boards.cards))]
        self.works = [
            LightWork(ground, light, cards, ground.stage.bodies) for light in [*ground.stage.lights, None]
        ]
        self.cards = list(dict.fromkeys(card for work in self.works for card in work.cards))
        self.faces: list[CardLight | MainCard | LightWork] = [*self.cards, *self.works]
        self.highlights = [_splatted(work, ground.lens.width * ground.lens.height) for work in self.works]
        self.seen = ground.drops_seen()
        self.to_classify: deque[Waiting] = deque()
        self.to_add: deque[Waiting] = deque()
        self.coarse = self.fine = 0

    def strips(self) -> Iterator[Strip]:
        """All strips in order."""
        for first, rows in self.ground.block_rows:
            self._find(first, rows)
            while self.to_classify and self._is_coarse_for(self.to_classify[0]):
                self._classify_fine()
            while self.to_add and (self._is_fine_for(self.to_add[0]) or self._is_too_much()):
                yield self._add()
        mark_compiled()

    def _find(self, first: int, rows: int) -> None:
        block, counts = self.ground.find(first, rows)
        for work in self.faces:
            work.classify_coarse(block)
        self.coarse = first + rows
        size = sum(array.nbytes for array in (*block.paths, *block.rings) if isinstance(array, np.ndarray))
        self.to_classify.append(Waiting(block, counts, self.coarse, self._rows_ahead(block), size))

    def _rows_ahead(self, block: Block) -> int:
        """How many rows below a block its pixels' light depends on: see `visibility_cache.petal_share`."""
        blur_px = float(block.paths.mean_reach.max()) / float(self.ground.lens.pitch)
        return max(LEAST_AHEAD, BLOCK * (2 + int(blur_px / BLOCK)))

    def _is_coarse_for(self, waiting: Waiting) -> bool:
        return self.coarse >= min(waiting.end_row + COARSE_AHEAD, self.ground.lens.height)

    def _is_fine_for(self, waiting: Waiting) -> bool:
        return self.fine >= min(waiting.end_row + waiting.rows_ahead, self.ground.lens.height)

    def _is_too_much(self) -> bool:
        """Whether the paths that are kept take too much memory, and the first may do without more rows."""
        size = sum(waiting.size for waiting in (*self.to_classify, *self.to_add))
        enough = self.fine >= min(self.to_add[0].end_row + LEAST_AHEAD, self.ground.lens.height)
        return enough and size > memory.PENDING_BYTES

    def _classify_fine(self) -> None:
        waiting = self.to_classify.popleft()
        for work in self.faces:
            work.classify_fine(waiting.block)
        self.fine = waiting.end_row
        self.to_add.append(waiting)

    def _add(self) -> Strip:
        waiting = self.to_add.popleft()
        block, lens = waiting.block, self.ground.lens
        rows, first_row = block.paths.rows, block.paths.first // lens.width
        layers, sent = {}, {card: card.send(block) for card in self.cards}
        for work, highlights in zip(self.works, self.highlights, strict=True):
            parts = empty_parts(rows * lens.width)
            work.add(block, [sent[card] for card in work.cards], parts)
            highlights.add(block.pixels, parts.glint)
            name = AMBIENT if work.light is None else work.light.name
            layers[name] = layer_of(name, work.light, parts, (rows, lens.width))
        self.progress(waiting.end_row / lens.height)
        maps = maps_of([waiting.counts], self.seen)
        return Strip(first_row, Layers(layers, maps, lens.pitch), self.ground.shape)


def _splatted(work: LightWork, pixels: int) -> Points:
    glint = np.zeros(pixels if work.light is not None else 0, dtype=np.float32)
    work.splat_highlights(glint)
    pixel: NDArray[np.integer] = np.flatnonzero(glint)
    if pixels < 2**31:
        pixel = pixel.astype(np.int32)
    return Points(pixel, glint[pixel])
