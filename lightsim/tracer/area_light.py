"""A glowing face's work over the kept paths: its shadows by blocks, then what it gives to each path."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lightsim.scene.stage import Body, Face, StagedLight
from lightsim.tracer.first_irradiance import FirstIrradiance, first_irradiances
from lightsim.tracer.kernels import (
    direct_light,
    near_drops,
    pixel_cells,
    visibility_cache,
    visibility_classification,
)
from lightsim.tracer.kernels.caustic_list import crest_of, most_of
from lightsim.tracer.kernels.emitters import Boards, Lamp
from lightsim.tracer.kernels.light_pass import (
    LightRows,
    LightSettings,
    SceneGeometry,
    no_stack,
)
from lightsim.tracer.kernels.path_store import Parts
from lightsim.tracer.light_tables import (
    INDIRECT_FINEST,
    drop_visibility_of,
    new_cache,
    reach_for,
)
from lightsim.tracer.pack import FINEST, pack_face
from lightsim.tracer.path_blocks import Block, seen_from
from lightsim.tracer.prepared_scene import Ground

LEAST_CAUSTIC = 0.03  # share of the light's own irradiance below which a caustic is left to light tracing
SQUARE_MM_PER_M2 = 1e6


class FaceWork:
    """What an evenly glowing face sends, block of rows by block of rows: see `LightWork`.

    face : with its radiance.  visibility : how the drops see it.  least : share of the beam from which
    caustics are sampled pixel by pixel.  cache : its visibility from blocks of the whole picture.
    """

    def __init__(self, ground: Ground, face: Face, radiance: float, boards: Boards):
        """radiance : cd/m2.  boards : that may stand in the face's light."""
        self.ground = ground
        self.face = pack_face(face, np.full((1, 1), radiance))
        self.visibility = drop_visibility_of(ground, self.face)
        self.least = LEAST_CAUSTIC
        self.cache = new_cache(*ground.shape, self.face, ground.facing)
        self.boards = boards
        self.scene = SceneGeometry(ground.packed.petal, ground.packed.drops, boards, no_stack())
        self.settings = LightSettings(
            ground.seed,
            seen_from(ground.lens),
            float(ground.lens.pitch),
            ground.lens.height,
            self.least,
        )
        self._reach = reach_for(ground, self.face)
        self._crest = crest_of(self._reach)
        self._most = most_of(self._crest)

    def first_of(self, lamps: Sequence[Lamp]) -> list[FirstIrradiance]:
        """Light of this face, of any radiances, on the places of indirect light."""
        ground = self.ground
        return first_irradiances(
            ground.indirect, ground.packed, lamps, self.boards, self.visibility, self._reach, self.least
        )

    def classify_coarse(self, block: Block) -> None:
        """Cache what the petal hides of the light, by coarse blocks of pixels."""
        rows = -(-block.paths.rows // visibility_cache.COARSE)
        visibility_classification.classify_coarse(rows, block.paths, self.scene, self.face, self.cache)

    def classify_fine(self, block: Block) -> None:
        """Cache what petal and drops hide of it, by fine blocks of pixels."""
        paths, pitch = block.paths, self.settings.pixel_mm
        rows = -(-paths.rows // visibility_cache.BLOCK)
        visibility_classification.classify_fine(rows, paths, self.scene, pitch, self.face, self.cache)

    def add(self, block: Block, into: Parts) -> None:
        """What the block's paths get of the face's light straight, past, through and off the drops."""
        paths, drop_light = block.paths, self.drop_light(block)
        near_drops.list_senders(
            len(drop_light.bounds), paths, self.scene.drops, self.face, drop_light, self.least,
            self.settings.pixel_mm,
        )  # fmt: skip
        direct_light.add_direct(
            paths.rows, LightRows(paths, self.scene, self.face, self.cache, drop_light, self.settings, into)
        )

    def drop_light(self, block: Block) -> pixel_cells.DropLight:
        """Which drops may send the face's light to a block's pixels."""
        near, start = block.near, block.near_start
        return pixel_cells.DropLight(
            near,
            start,
            block.balls,
            np.zeros_like(near),
            np.zeros(start.shape[:2], dtype=np.int64),
            self._reach,
            self.ground.reach,
            self._crest,
            self._most,
            self.visibility,
        )


class LampWork(FaceWork):
    """The same of a light's face, of a candela."""

    def __init__(self, ground: Ground, light: StagedLight, bodies: Sequence[Body] = ()):
        """bodies : on the set, its own among them."""
        super().__init__(ground, light.face, _candela(light), ground.boards.may_hide(light.face, bodies))
        self.light = light

    def first(self) -> FirstIrradiance:
        """The lamp's light on the places of indirect light."""
        return self.first_of([lamp_of(self.light, INDIRECT_FINEST)])[0]


def lamp_of(light: StagedLight, finest: int = FINEST) -> Lamp:
    """A light's face, of a candela; finest: see `pack_face`."""
    return pack_face(light.face, np.full((1, 1), _candela(light)), finest)


def _candela(light: StagedLight) -> float:
    """The radiance by which a light's face sends one candela along its axis, cd/m2."""
    return SQUARE_MM_PER_M2 / light.face.area_mm2


def empty_parts(pixels: int) -> Parts:
    """A layer without light."""
    one = np.zeros(pixels, dtype=np.float32)
    surface, water, petal = (np.zeros((pixels, 3), dtype=np.float32) for _ in range(3))
    return Parts(one, surface, water, petal, np.full(pixels, np.nan, dtype=np.float32))
