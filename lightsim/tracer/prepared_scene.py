"""What all tracing of a scene rests on: packed arrays, camera, indirect light's transfer; no pixel yet."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from lightsim import memory
from lightsim.picture import DropsSeen
from lightsim.scene.build import build
from lightsim.scene.records import Scene
from lightsim.scene.solid_bodies import CAMERA
from lightsim.scene.stage import Body, Stage
from lightsim.tracer import indirect_light
from lightsim.tracer.cards_and_backdrop import StageBoards
from lightsim.tracer.compilation import compile_kernels
from lightsim.tracer.indirect_light import IndirectTransfer
from lightsim.tracer.kernels import connection
from lightsim.tracer.kernels.camera_paths import Counts
from lightsim.tracer.pack import Packed, pack
from lightsim.tracer.path_blocks import Block, drops_seen, find_block, lens_of, rows_at_once

QUALITY = {"draft": 4, "normal": 16, "final": 64}


def uninterrupted() -> None:
    """A pause that ends nothing."""


class Ground:
    """A scene made ready for tracing: its own memory does not grow with the picture.

    width_px : width of the picture; None takes the scene's.
    samples : paths per pixel, best a power of two; see QUALITY.
    seed : of all sample points.
    pause : called between the steps of the preparation; what it raises ends that.

    SceneError when the scene cannot be built, PictureError when the picture does not fit into memory.
    """

    def __init__(
        self,
        scene: Scene,
        width_px: int | None,
        samples: int,
        seed: int,
        pause: Callable[[], None] = uninterrupted,
    ):
        self.scene = scene
        self.samples = int(samples)
        self.seed = int(seed)
        self.stage: Stage = build(scene)
        self.lens = lens_of(self.stage.camera, int(width_px or scene.camera.width_px))
        memory.require_bytes(self.bytes_needed(), self.lens.width, self.lens.height)
        compile_kernels()
        pause()
        self.packed: Packed = pack(self.stage)
        self.facing = self.packed.petal.normal.mean(axis=0)  # about where the petal faces
        pause()
        self.reach = connection.reach_table()
        self.dome = np.array([1.0 / np.pi, self.stage.ambient_gradient, *self.stage.up])
        self.boards = StageBoards(self.stage)
        self.indirect = indirect_light.prepare(
            self.stage, self.packed, self.boards.standing(), self.dome, self.samples, pause
        )
        pause()
        self.boards.see_dome(self.packed, self.indirect.points, self.dome)

    def indirect_under(self, bodies: Sequence[Body]) -> IndirectTransfer:
        """What indirect light needs where lamps hide the dome too. bodies : of the whole set."""
        lamps = [body for body in bodies if body.thing != CAMERA]
        return indirect_light.under_bodies(self.indirect, lamps) if lamps else self.indirect

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width in pixels."""
        return self.lens.height, self.lens.width

    @property
    def block_rows(self) -> list[tuple[int, int]]:
        """First row and number of rows of each block that paths are found in."""
        height, step = self.lens.height, rows_at_once(self.lens, self.samples)
        return [(first, min(step, height - first)) for first in range(0, height, step)]

    def find(self, first_row: int, rows: int) -> tuple[Block, Counts]:
        """The camera's paths of some rows, and the counts for their maps."""
        return find_block(
            self.packed, self.lens, first_row, rows, self.samples, self.seed, self.indirect.detail
        )

    def drops_seen(self) -> DropsSeen:
        """Where the drops stand in the picture."""
        return drops_seen(self.stage.drops, self.stage.camera, self.lens)

    def bytes_needed(self) -> int:
        """What tracing strip by strip takes."""
        faces = len(self.stage.lights) + len(self.stage.cards)
        return memory.strips_bytes(self.lens.width, self.lens.height, self.samples, faces)
