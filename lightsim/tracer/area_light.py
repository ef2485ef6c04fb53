"""A glowing face's work over the kept paths: its shadows by blocks, then what it gives to each path."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lightsim.scene.stage import Body, Face, StagedLight
from lightsim.tracer.beam_tables import stand_to
from lightsim.tracer.first_irradiance import TO_LOOK_AT, FirstIrradiance, first_irradiances
from lightsim.tracer.kernels import direct_light, near_drops, pixel_cells, visibility_cache
from lightsim.tracer.kernels.caustic_sampling import FINE_SAMPLES
from lightsim.tracer.kernels.caustics import crest_of, most_of
from lightsim.tracer.kernels.emitters import Boards, Lamp
from lightsim.tracer.kernels.path_store import Parts
from lightsim.tracer.light_tables import INDIRECT_FINEST, cells_of, drop_state, no_looks, reach_for
from lightsim.tracer.pack import FINEST, pack_face
from lightsim.tracer.path_blocks import Block, seen_from
from lightsim.tracer.prepared_scene import Ground

LEAST_GATHERED = 0.02  # share of the light's own irradiance below which light gathered by a drop is left out
LEAST_OF_MANY = 0.04  # the same where very many drops are in view, each of them small
LEAST_QUICK = 0.06  # and for a quick look; what is left out is followed from the light, on coarser places
SQUARE_MM_PER_M2 = 1e6


class FaceWork:
    """What an evenly glowing face sends, block of rows by block of rows: see `LightWork`.

    face : with its radiance.  state : of the drops in its light, see `drop_visibility.look_at_drops`.
    least : share of the beam from which light by way of drops is looked for path by path.
    looks : its shadows by blocks, over the whole picture.  weak : the weaker light by way of drops by cells.
    """

    def __init__(self, ground: Ground, face: Face, radiance: float, boards: Boards):
        """radiance : cd/m2.  boards : that may stand in the face's light."""
        self.ground = ground
        self.face = pack_face(face, np.full((1, 1), radiance))
        self.state = drop_state(ground, self.face, True)
        self.least = least_gathered(ground)
        self.looks = no_looks(*ground.shape, self.face, ground.packed.petal.normal.mean(axis=0))
        self.weak = np.full(cells_of(*ground.shape, pixel_cells.CELL), -1.0)
        self.boards = boards
        self._reach = reach_for(ground, self.face)
        self._crest = crest_of(self._reach)
        self._most = most_of(self._crest)
        self._stand = stand_to(ground.falls, ground.packed.drops, self.face)

    def first_of(self, lamps: Sequence[Lamp]) -> list[FirstIrradiance]:
        """Light of this face, of any radiances, on the places of indirect light."""
        ground = self.ground
        return first_irradiances(
            ground.indirect, ground.packed, lamps, self.boards, self.state, self._reach, self.least
        )

    def look_widely(self, block: Block) -> None:
        """What the petal leaves of the light, from wide blocks of pixels."""
        wide_rows = -(-block.paths.rows // visibility_cache.WIDE)
        visibility_cache.look_widely(wide_rows, block.paths, self.ground.packed.petal, self.face, self.looks)

    def look_closely(self, block: Block) -> None:
        """What petal and drops leave of it, from blocks of pixels; the weaker light by way of drops."""
        paths, packed, pitch = block.paths, self.ground.packed, float(self.ground.lens.pitch)
        close_rows, top = -(-paths.rows // visibility_cache.BLOCK), paths.first // paths.width
        visibility_cache.look_closely(
            close_rows, paths, packed.petal, packed.drops, pitch, self.face, self.looks
        )
        weak = self.weak[top // pixel_cells.CELL : -(-(top + paths.rows) // pixel_cells.CELL)]
        pixel_cells.weak_light(
            len(weak), paths, packed.petal, packed.drops, self.face, self.near(block), self.least, pitch, weak
        )

    def add(self, block: Block, into: Parts) -> None:
        """What the block's paths get of the face's light straight, past, through and off the drops."""
        ground, packed, paths = self.ground, self.ground.packed, block.paths
        pitch, near = float(ground.lens.pitch), self.near(block)
        near_drops.list_uneven(len(near.bounds), paths, packed.drops, self.face, near, self.least, pitch)
        lens_at = seen_from(ground.lens)
        terms = direct_light.Terms(ground.seed, lens_at, pitch, self.least, self.weak, ground.lens.height)
        direct_light.add_direct(
            paths.rows, paths, packed.petal, packed.drops, self.boards, self.face, near, self.looks, terms,
            into,
        )  # fmt: skip

    def near(self, block: Block) -> pixel_cells.Near:
        """The drops about a block's cells of pixels, and what is known of their light."""
        near, start = block.near, block.near_start
        many = np.zeros(start.shape[:2], dtype=np.int64)
        return pixel_cells.Near(
            near,
            start,
            block.balls,
            np.zeros_like(near),
            many,
            self._reach,
            self.ground.reach,
            self._crest,
            self._most,
            *self.state,
            *self._stand,
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


def least_gathered(ground: Ground) -> float:
    """The share of a light from which light by way of drops is looked for pixel by pixel."""
    if ground.samples < FINE_SAMPLES:
        return LEAST_QUICK
    return LEAST_GATHERED if ground.indirect.in_view.sum() <= TO_LOOK_AT else LEAST_OF_MANY
