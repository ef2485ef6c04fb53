"""One light's layer: its own face's light, what cards send that it shines on, indirect light, highlights."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.stage import Body, StagedLight
from lightsim.tracer import indirect_light
from lightsim.tracer.area_light import LampWork
from lightsim.tracer.fill_cards import CardLight, shares_of
from lightsim.tracer.first_irradiance import FirstIrradiance, no_light, weighed
from lightsim.tracer.kernels import environment, highlight_splat, indirect_at_paths
from lightsim.tracer.kernels.emitters import Boards, Lamp
from lightsim.tracer.kernels.jit import compiles_only
from lightsim.tracer.kernels.path_store import Parts
from lightsim.tracer.pack import PATCHES, pack_boards, pack_face
from lightsim.tracer.path_blocks import Block
from lightsim.tracer.prepared_scene import Ground

MOST_SPLATS = 60_000  # for one highlight
SPLATS_AT_ONCE = 4_000_000
NO_DOME = np.array([0.0, 0.0, 0.0, 0.0, 1.0])


class LightWork:
    """One light's (or the dome's) work over the picture, block of rows by block of rows.

    Visibility is first classified from coarse blocks of pixels, then from fine ones, then light is added: see
    `bands` for how many rows below a block each step depends on.

    light : None for the dome.
    cards : the set's cards, which light shines on too; as an attribute, what sends their light.
    bodies : solid things as they stand now; those of a view's lights may have moved.
    """

    def __init__(
        self,
        ground: Ground,
        light: StagedLight | None,
        cards: Sequence[CardLight],
        bodies: Sequence[Body],
    ):
        self.ground, self.light, self._bodies = ground, light, bodies
        self._dome = ground.dome if light is None else None
        self.lamp = None if light is None else LampWork(ground, light, bodies)
        lit_by = [] if self.lamp is None else [self.lamp.face]
        glows = ground.boards.card_glow(lit_by, light is None, bodies)
        face = None if self.lamp is None else self.lamp.face
        self.cards = [card.lit_by(face, glow) for card, glow in zip(cards, glows, strict=True)]
        self._shares = [shares_of(glow) for glow in glows]
        self._away_boards = self._boards_away(lit_by, glows)
        firsts = [card.first(shares) for card, shares in zip(self.cards, self._shares, strict=True)]
        if self.lamp is not None:
            firsts.append(self.lamp.first())
        self._indirect = ground.indirect if light is not None else ground.indirect_under(bodies)
        first = weighed(firsts, [1.0] * len(firsts)) if firsts else no_light(ground.indirect)
        self._indirect_light = self._interreflected(first)
        self._splat_start = np.zeros(len(ground.packed.rims) + 1, dtype=np.int64)
        self._environment = environment.Environment(
            self._away_boards,
            0 if light is not None else -1,
            NO_DOME if self._dome is None else self._dome,
            self._splat_start,
        )
        if self.lamp is not None:
            highlight_splat.count_splats(
                ground.packed.drops, self.lamp.face, ground.lens, ground.samples, MOST_SPLATS,
                self._splat_start,
            )  # fmt: skip

    def classify_coarse(self, block: Block) -> None:
        """Classify the light's visibility past the petal, from coarse blocks of pixels."""
        if self.lamp is not None:
            self.lamp.classify_coarse(block)

    def classify_fine(self, block: Block) -> None:
        """Cache what petal and drops hide of it, by fine blocks of pixels."""
        if self.lamp is not None:
            self.lamp.classify_fine(block)

    def add(self, block: Block, sent: Sequence[Any], into: Parts) -> None:
        """All that the block's paths get of the light, but for the splatted highlights. sent: what each of
        `cards` sends to them."""
        paths = block.paths
        if self.lamp is not None:
            self.lamp.add(block, into)
        for card, one, shares in zip(self.cards, sent, self._shares, strict=True):
            card.add_sent(block, one, shares, into)
        indirect_at_paths.add_indirect(paths.rows, block.view, self._indirect_light, block.rings, into)
        environment.add_environment(paths.rows, paths, self._environment, into)

    def splat_highlights(self, glint: NDArray[np.float32]) -> None:
        """Add the light's highlights that camera rays find by chance only to the picture's pixels (n,)."""
        if self.lamp is None:
            return
        start, packed = self._splat_start, self.ground.packed
        drop = 0
        while drop + 1 < len(start):
            after = int(np.searchsorted(start, start[drop] + SPLATS_AT_ONCE, side="right")) - 1
            after = max(after, drop + 1)
            some = np.clip(start - start[drop], 0, start[after] - start[drop])
            drop = after
            many = int(some[-1])
            if many == 0 and not compiles_only():
                continue
            splats = highlight_splat.Splats(
                some, np.full(many, -1, dtype=np.int64), np.zeros(many, dtype=np.float32)
            )
            lamp, ground = self.lamp, self.ground
            given = highlight_splat.HighlightScene(lamp.scene, lamp.visibility, ground.lens, ground.seed)
            highlight_splat.splat_highlights(len(packed.rims), given, lamp.face, splats)
            highlight_splat.add_splats(splats, glint)

    def _boards_away(self, lit_by: list[Lamp], card_glows: list[NDArray[np.float64]]) -> Boards:
        """All that rays may meet that leave the set, with what it sends."""
        boards = self.ground.boards
        faces = [] if self.light is None else [self.light.face]
        glows = [np.full((PATCHES, PATCHES), lamp.radiance[0, 0]) for lamp in lit_by] + card_glows
        coloured = [np.repeat(glow[..., None], 3, axis=2) for glow in glows]
        cards = zip(boards.cards, card_glows, strict=True)
        shining = lit_by + [pack_face(card, glow) for card, glow in cards]
        coloured += boards.backdrop_glow(
            shining if self._dome is None else [], self._dome is not None, self._bodies
        )
        return pack_boards(faces + boards.cards + boards.backdrop, coloured, self._bodies)

    def _interreflected(self, first: FirstIrradiance) -> indirect_at_paths.IndirectLight:
        standing = self._away_boards.glow[0 if self.light is None else 1 :]
        exitance = np.pi * standing.mean(axis=(1, 2)).reshape(-1, 3)
        exitance[: len(self.ground.boards.cards)] = 0.0  # cards are sampled as lights
        sky = 0.0 if self._dome is None else 1.0
        return indirect_light.interreflect(self._indirect, self.ground.packed, first, exitance, sky)
