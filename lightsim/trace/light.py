"""One light's own work over the kept paths: its shadows by blocks, then what it gives to each path."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.stage import StagedLight
from lightsim.trace import soften
from lightsim.trace.boards import StageBoards
from lightsim.trace.falling import stand_to
from lightsim.trace.first import TO_LOOK_AT, First, State, first_light
from lightsim.trace.ground import Ground
from lightsim.trace.kernels import away, blocks, cells, direct, hinder, nearby, spread
from lightsim.trace.kernels import glint as kglint
from lightsim.trace.kernels.blocks import Looks
from lightsim.trace.kernels.faces import Boards, Lamp
from lightsim.trace.kernels.kept import Parts
from lightsim.trace.kernels.through import crest_of, most_of
from lightsim.trace.kernels.ways import FINE_SAMPLES
from lightsim.trace.pack import FINEST, PATCHES, pack_boards, pack_face
from lightsim.trace.paths import Block

LEAST_GATHERED = 0.02  # share of the light's own irradiance below which light gathered by a drop is left out
LEAST_OF_MANY = 0.04  # the same where very many drops are in view, each of them small
LEAST_QUICK = 0.06  # and for a quick look; what is left out is followed from the light, on coarser places
SOFT_FINEST = 3  # quadrature points along a face whose soft light is asked for
MOST_THROWN = 60_000  # points thrown for one highlight
THROWN_AT_ONCE = 4_000_000  # points kept at a time
SQUARE_MM_PER_M2 = 1e6
NO_DOME = np.array([0.0, 0.0, 0.0, 0.0, 1.0])


@dataclass(frozen=True)
class Shadows:
    """What stands in a face's way, over the whole picture, and the weaker light by way of drops."""

    looks: Looks
    weak: NDArray[np.float64]


@dataclass(frozen=True)
class Emitter:
    """A face that sends light: the lamp's own, or a card's.

    state : of the drops in its light.  least : share of the beam from which light by way of drops is looked
    for path by path, 0 for a card.  is_new : its shadows are this work's to find, not another's.
    """

    face: Lamp
    state: State
    least: float
    shadows: Shadows
    is_new: bool


class LightWork:
    """One light's (or the dome's) work over the picture, block of rows by block of rows.

    Each block is first looked at widely, then closely, then its light is added. The close look needs the
    wide looks of the WIDE_AHEAD rows below the block, adding needs the close looks of as many rows as
    `rows_ahead` says.

    light : None for the dome.
    cards : shadows of the cards' light, found by another light's work: they depend on no lamp.
    """

    def __init__(
        self,
        ground: Ground,
        light: StagedLight | None,
        cards: Sequence[Shadows] = (),
    ):
        self.ground, self.light = ground, light
        self.boards = boards = ground.boards
        self._dome = ground.dome if light is None else None
        faces = faces_of(light, boards, light is None)
        own = 0 if light is None else 1
        states = [drop_state(ground, face, i < own) for i, face in enumerate(faces)]
        leasts = [least_gathered(ground)] * own + [0.0] * (len(faces) - own)
        self._hiding = boards.hiding()
        self._reach = reach_for(ground, faces)
        self._crest = crest_of(self._reach)
        self._most = most_of(self._crest)
        self._stand = stand_to(ground.falls, ground.packed.drops, faces[0]) if faces else None
        self._away_boards = self._boards_away(faces)
        soft_faces = faces_of(light, boards, light is None, SOFT_FINEST)
        first = first_light(ground.soft, ground.packed, soft_faces, self._hiding, states, self._reach, leasts)
        self._soft = self._soft_light(first)
        known: list[Shadows | None] = [None] * len(faces)
        if cards:
            known[own:] = cards
        self.emitters = [
            Emitter(face, state, least, shadows or no_shadows(*ground.shape), shadows is None)
            for face, state, least, shadows in zip(faces, states, leasts, known, strict=True)
        ]
        self._thrown_start = np.zeros(len(ground.packed.rims) + 1, dtype=np.int64)
        if light is not None:
            kglint.share_out(
                ground.packed.drops, faces[0], ground.lens, ground.samples, MOST_THROWN, self._thrown_start
            )

    @property
    def card_shadows(self) -> list[Shadows]:
        """Shadows of the cards' light, for another light's work."""
        own = 0 if self.light is None else 1
        return [emitter.shadows for emitter in self.emitters[own:]]

    def look_widely(self, block: Block) -> None:
        """What the petal leaves of the light, from wide blocks of pixels."""
        wide_rows = -(-block.paths.rows // blocks.WIDE)
        for emitter in self.emitters:
            if emitter.is_new:
                looks = emitter.shadows.looks
                blocks.look_widely(wide_rows, block.paths, self.ground.packed.petal, emitter.face, looks)

    def look_closely(self, block: Block) -> None:
        """What petal and drops leave of it, from blocks of pixels; the weaker light by way of drops."""
        paths, packed, pitch = block.paths, self.ground.packed, float(self.ground.lens.pitch)
        close_rows, top = -(-paths.rows // blocks.BLOCK), paths.first // paths.width
        rows = slice(top // cells.CELL, -(-(top + paths.rows) // cells.CELL))
        for one in self.emitters:
            if not one.is_new:
                continue
            soft, looks = one.least == 0.0, one.shadows.looks
            blocks.look_closely(close_rows, paths, packed.petal, packed.drops, soft, pitch, one.face, looks)
            if not soft:
                near, mine = self._near(block, one.state), one.shadows.weak[rows]
                cells.weak_light(
                    len(mine), paths, packed.petal, packed.drops, one.face, near, one.least, pitch, mine
                )

    def add(self, block: Block, into: Parts) -> None:
        """All that the block's paths get of the light, but for the thrown highlights."""
        ground, packed, paths = self.ground, self.ground.packed, block.paths
        lens_at = np.array([0.0, 0.0, ground.lens.pupil_distance])
        for number, one in enumerate(self.emitters):
            # what share of a card's light gets through is not asked for
            part = into if number == 0 else into._replace(lit=np.empty_like(into.lit))
            near, shadows = self._near(block, one.state), one.shadows
            if one.least > 0.0:
                nearby.list_uneven(
                    len(near.bounds), paths, packed.drops, one.face, near, one.least, float(ground.lens.pitch)
                )
            terms = direct.Terms(ground.seed, lens_at, float(ground.lens.pitch), one.least, shadows.weak)
            direct.add_direct(
                paths.rows, paths, packed.petal, packed.drops, self._hiding, one.face, near, shadows.looks,
                terms, part,
            )  # fmt: skip
        spread.add_soft(
            paths.rows, paths, packed.petal, packed.drops, packed.rims, self._soft, block.near,
            block.near_start, block.round_drops, lens_at, into,
        )  # fmt: skip
        glint = 0 if self.light is not None else -1
        sky = NO_DOME if self._dome is None else self._dome
        away.add_away(paths.rows, paths, self._away_boards, glint, sky, self._thrown_start, into)

    def throw_highlights(self, glint: NDArray[np.float32]) -> None:
        """Add the light's highlights that camera rays find by chance only to the picture's pixels (n,)."""
        start, packed = self._thrown_start, self.ground.packed
        drop = 0
        while drop + 1 < len(start):
            after = int(np.searchsorted(start, start[drop] + THROWN_AT_ONCE, side="right")) - 1
            after = max(after, drop + 1)
            some = np.clip(start - start[drop], 0, start[after] - start[drop])
            drop = after
            many = int(some[-1])
            if many == 0:
                continue
            thrown = kglint.Thrown(some, np.full(many, -1, dtype=np.int64), np.zeros(many, dtype=np.float32))
            lamp = self.emitters[0]
            kglint.throw(
                len(packed.rims),
                packed.petal,
                packed.drops,
                self._hiding,
                lamp.face,
                *lamp.state[:3],
                self.ground.lens,
                self.ground.seed,
                thrown,
            )
            kglint.collect(thrown, glint)

    def _near(self, block: Block, state: State) -> cells.Near:
        near, start = block.near, block.near_start
        assert self._stand is not None  # where a face sends light
        many = np.zeros(start.shape[:2], dtype=np.int64)
        return cells.Near(
            near,
            start,
            block.balls,
            np.zeros_like(near),
            many,
            self._reach,
            self.ground.reach,
            self._crest,
            self._most,
            *state,
            *self._stand,
        )

    def _boards_away(self, faces: list[Lamp]) -> Boards:
        """All that rays may meet that leave the set, with what it sends."""
        lit = [] if self.light is None else [self.light.face]
        glows = []
        for face in faces:
            p = len(face.radiance)
            full = np.repeat(np.repeat(face.radiance, PATCHES // p, axis=0), PATCHES // p, axis=1)
            glows.append(np.repeat(full[..., None], 3, axis=2))
        glows += self.boards.backdrop_glow(faces if self._dome is None else [], self._dome is not None)
        return pack_boards(lit + self.boards.cards + self.boards.backdrop, glows)

    def _soft_light(self, first: First) -> spread.SoftLight:
        standing = self._away_boards.glow[0 if self.light is None else 1 :]
        exitance = np.pi * standing.mean(axis=(1, 2)).reshape(-1, 3)
        exitance[: len(self.boards.cards)] = 0.0  # cards are sampled as lights
        sky = 0.0 if self._dome is None else 1.0
        return soften.spread(self.ground.soft, self.ground.packed, first, exitance, sky)


def faces_of(
    light: StagedLight | None, boards: StageBoards, under_dome: bool, finest: int = FINEST
) -> list[Lamp]:
    """The light's face, and the cards that it lights; finest: see `pack_face`."""
    lamps = []
    if light is not None:
        face = light.face
        radiance = np.full((1, 1), SQUARE_MM_PER_M2 / face.area_mm2)
        lamps = [pack_face(face, radiance, float(np.linalg.norm(face.centre)), finest)]
    cards = [
        pack_face(card, glow, float(np.linalg.norm(card.centre)), finest)
        for card, glow in zip(boards.cards, boards.card_glow(lamps, under_dome), strict=True)
    ]
    return lamps + cards


def least_gathered(ground: Ground) -> float:
    """The share of a light from which light by way of drops is looked for pixel by pixel."""
    if ground.samples < FINE_SAMPLES:
        return LEAST_QUICK
    return LEAST_GATHERED if ground.soft.in_view.sum() <= TO_LOOK_AT else LEAST_OF_MANY


def drop_state(ground: Ground, face: Lamp, own: bool) -> State:
    """The drops in a face's light, a lamp's own or a card's: see `hinder.look_at_drops`."""
    packed = ground.packed
    many = len(packed.rims)
    state = np.zeros((many, 2), dtype=np.uint8)
    shades = np.zeros((many, hinder.CANDIDATES), dtype=np.int32)
    count = np.zeros(many, dtype=np.int64)
    sees = np.zeros((many, hinder.PATCHES**2 + 1 if own else 1), dtype=np.uint8)
    found = state, shades, count, sees
    hinder.look_at_drops(many, packed.petal, packed.drops, packed.foot_face, face, *found)
    return found


def reach_for(ground: Ground, faces: list[Lamp]) -> NDArray[np.float64]:
    """How far light by way of a drop is looked for, for a face as wide as the first."""
    if not faces:
        return ground.reach
    face = faces[0]
    return _widened(ground.reach, float(np.arctan(face.size[4] / np.linalg.norm(face.frame[:3]))))


def _widened(reach: NDArray, half_angle: float) -> NDArray:
    """The reach table for a light this wide (rad): each entry the greatest within that angle of its own."""
    angle = np.arccos(np.linspace(-1.0, 1.0, reach.shape[1]))
    within = np.abs(angle[:, None] - angle[None, :]) <= half_angle
    return np.ascontiguousarray(np.stack([reach[:, near, :].max(axis=1) for near in within], axis=1))


def no_shadows(height: int, width: int) -> Shadows:
    """Of a picture of this size, before any block is looked at: every path has to find out for itself."""
    wide, close = _cells(height, width, blocks.WIDE), _cells(height, width, blocks.BLOCK)
    looks = Looks(
        np.full(wide, blocks.MIXED, dtype=np.uint8),
        np.zeros((*wide, 2), dtype=np.float32),
        np.zeros(wide, dtype=np.uint64),
        np.zeros((*wide, 2), dtype=np.uint32),
        np.full(close, blocks.MIXED, dtype=np.uint8),
        np.zeros((*close, 2), dtype=np.float32),
        np.zeros((*close, 2), dtype=np.uint32),
        np.full(close, blocks.MIXED, dtype=np.uint8),
        np.zeros((*close, 1), dtype=np.float32),
    )
    return Shadows(looks, np.full(_cells(height, width, cells.CELL), -1.0))


def _cells(height: int, width: int, size: int) -> tuple[int, int]:
    """Rows and columns of cells of so many pixels."""
    return -(-height // size), -(-width // size)


def empty_parts(pixels: int) -> Parts:
    """A layer without light."""
    one = np.zeros(pixels, dtype=np.float32)
    surface, water, petal = (np.zeros((pixels, 3), dtype=np.float32) for _ in range(3))
    return Parts(one, surface, water, petal, np.full(pixels, np.nan, dtype=np.float32))
