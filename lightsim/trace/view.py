"""The tracer's one door: a view keeps the camera's paths, and traces lights along them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import PictureError, SceneError
from lightsim.picture import Layer, Layers, Maps
from lightsim.scene.build import build
from lightsim.scene.records import Scene
from lightsim.scene.stage import Stage, StagedLight
from lightsim.trace import soften
from lightsim.trace.compile import compile_kernels
from lightsim.trace.first import First, first_light
from lightsim.trace.kernels import away, blocks, cells, connect, direct, hinder, nearby, spread
from lightsim.trace.kernels import glint as kglint
from lightsim.trace.kernels.blocks import Looks
from lightsim.trace.kernels.faces import Boards, Lamp
from lightsim.trace.kernels.jit import compiled, mark_compiled
from lightsim.trace.kernels.kept import Parts
from lightsim.trace.kernels.through import crest_of
from lightsim.trace.pack import FINEST, PATCHES, Packed, irradiance_on, pack, pack_boards, pack_face
from lightsim.trace.paths import (
    Block,
    Progress,
    drops_seen,
    find_block,
    lens_of,
    maps_of,
    rows_at_once,
)

QUALITY = {"draft": 4, "normal": 16, "final": 64}
AMBIENT = "ambient"
LEAST_GATHERED = 0.02  # share of the light's own irradiance below which light gathered by a drop is left out
SOFT_FINEST = 3  # quadrature points along a face whose soft light is asked for
MOST_THROWN = 60_000  # points thrown for one highlight
SQUARE_MM_PER_M2 = 1e6
NO_DOME = np.array([0.0, 0.0, 0.0, 0.0, 1.0])


def _silent(_: float) -> None:
    pass


class View:
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
        compile_kernels()
        self.scene = scene
        self.stage: Stage = build(scene)
        self.samples = int(samples)
        self.seed = int(seed)
        self.lens = lens_of(self.stage.camera, int(width_px or scene.camera.width_px))
        _check_memory(self.lens.width, self.lens.height, self.samples)
        self._packed: Packed = pack(self.stage)
        self._reach = connect.reach_table()
        self._dome = np.array([1.0 / np.pi, self.stage.ambient_gradient, *self.stage.up])
        self._boards = _Boards(self.stage)
        self._soft = soften.prepare(self.stage, self._packed, self._boards.standing(), self._dome)
        self._blocks, self.maps = self._find(progress or _silent)
        self._known: dict[str, tuple[object, Layer]] = {}

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width in pixels."""
        return self.lens.height, self.lens.width

    def _find(self, progress: Progress) -> tuple[list[Block], Maps]:
        blocks, counts = [], []
        step = rows_at_once(self.lens, self.samples)
        for first in range(0, self.lens.height, step):
            rows = min(step, self.lens.height - first)
            block, count = find_block(self._packed, self.lens, first, rows, self.samples, self.seed)
            blocks.append(block)
            counts.append(count)
            progress((first + rows) / self.lens.height)
        seen = drops_seen(self.stage.drops, self.stage.camera, self.lens)
        return blocks, maps_of(counts, seen)

    def trace(self, scene: Scene | None = None, *, progress: Progress | None = None) -> Layers:
        """The layers of the view's scene, or of one with the same petal, drops and camera and other lights.

        Raises
        ------
        SceneError : the scene differs in more than its lights.
        """
        stage = self.stage if scene is None else self._stage_of(scene)
        report = progress or _silent
        boards = _Boards(stage)
        names = [light.name for light in stage.lights] + [AMBIENT]
        layers: dict[str, Layer] = {}
        for i, name in enumerate(names):

            def share(x: float, i: int = i) -> None:
                report((i + x) / len(names))

            light = stage.lights[i] if i < len(stage.lights) else None
            layers[name] = self._layer(name, light, boards, share)
        mark_compiled()
        return Layers(layers, self.maps, self.lens.pitch)

    def _stage_of(self, scene: Scene) -> Stage:
        same = replace(
            scene, lights=self.scene.lights, exposure=self.scene.exposure, about=self.scene.about, path=None
        )
        if same != replace(self.scene, path=None):
            raise SceneError("the scene differs from the view's in more than its lights: make a new view")
        return build(scene)

    def _layer(self, name: str, light: StagedLight | None, boards: _Boards, share: Progress) -> Layer:
        key = _key(light)
        known = self._known.get(name)
        if known is not None and known[0] == key:
            return known[1]
        work = _LayerWork(self, light, boards)
        parts = work.run(share)
        unit = "lx" if light is None else ("cd s" if light.kind == "flash" else "cd")
        h, w = self.shape
        layer = Layer(
            name,
            unit,
            parts.glint.reshape(h, w),
            parts.surface.reshape(h, w, 3),
            parts.water.reshape(h, w, 3),
            parts.petal.reshape(h, w, 3),
            None if light is None else parts.lit.reshape(h, w),
        )
        self._known[name] = (key, layer)
        return layer


def trace(
    scene: Scene,
    *,
    width_px: int | None = None,
    samples: int = QUALITY["normal"],
    seed: int = 0,
    progress: Progress | None = None,
) -> Layers:
    """The layers of a scene, one per light and one for the ambient dome. Parameters, errors: see `View`."""
    report = progress or _silent
    view = View(scene, width_px=width_px, samples=samples, seed=seed, progress=lambda x: report(0.5 * x))
    return view.trace(progress=lambda x: report(0.5 + 0.5 * x))


def _widened(reach: NDArray, half_angle: float) -> NDArray:
    """The reach table for a light this wide (rad): each entry the greatest within that angle of its own."""
    angle = np.arccos(np.linspace(-1.0, 1.0, reach.shape[1]))
    within = np.abs(angle[:, None] - angle[None, :]) <= half_angle
    return np.ascontiguousarray(np.stack([reach[:, near, :].max(axis=1) for near in within], axis=1))


def _key(light: StagedLight | None) -> object:
    """What a light's layer depends on: its place and shape, not its output or colour."""
    if light is None:
        return AMBIENT
    face = light.face
    arrays = np.concatenate([face.centre, face.right, face.up, face.out])
    return (
        light.kind,
        arrays.tobytes(),
        face.half_width_mm,
        face.half_height_mm,
        face.round,
    )


def _check_memory(width: int, height: int, samples: int) -> None:
    """Refuse a picture whose kept paths would not fit."""
    import os

    need = width * height * (samples * 40 + 200)
    have = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    if need > 0.7 * have:
        raise PictureError(
            f"a picture of {width} x {height} pixels at {samples} samples needs about {need / 2**30:.1f} GiB "
            f"of memory, this machine has {have / 2**30:.1f} GiB: choose a smaller width or a lower quality"
        )


class _Boards:
    """Cards and backdrop of a stage, and what they send in a layer."""

    def __init__(self, stage: Stage):
        self.stage = stage
        self.cards = [card.face for card in stage.cards]
        self.backdrop = [] if stage.backdrop is None else [stage.backdrop]

    def standing(self) -> Boards:
        """Cards, then the backdrop, sending nothing."""
        faces = self.cards + self.backdrop
        return pack_boards(faces, [np.zeros((PATCHES, PATCHES, 3)) for _ in faces])

    def hiding(self) -> Boards:
        """The cards alone: they stand in a light's way."""
        return pack_boards(self.cards, [np.zeros((PATCHES, PATCHES, 3)) for _ in self.cards])

    def card_glow(self, lit_by: list[Lamp], dome: NDArray | None) -> list[NDArray]:
        """Radiance of each card's patches, (PATCHES, PATCHES)."""
        return [
            card.reflectance / np.pi * (irradiance_on(card.face, lit_by) + _dome_on(card.face.out, dome))
            for card in self.stage.cards
        ]

    def backdrop_glow(self, lit_by: list[Lamp], dome: NDArray | None) -> list[NDArray]:
        """Radiance of the backdrop's patches, (PATCHES, PATCHES, 3), in a list of none or one."""
        glow = []
        for face in self.backdrop:
            e = irradiance_on(face, lit_by) + _dome_on(face.out, dome)
            glow.append(e[..., None] * self.stage.backdrop_reflectance / np.pi)
        return glow


def _dome_on(out: NDArray, dome: NDArray | None) -> float:
    """Irradiance of a face that sees half of the dome: pi L (1 + 2/3 gradient cos(tilt))."""
    if dome is None:
        return 0.0
    return np.pi * dome[0] * (1.0 + 2.0 / 3.0 * dome[1] * float(np.dot(out, dome[2:])))


@dataclass
class _LayerWork:
    """One light's (or the dome's) work over a view."""

    view: View
    light: StagedLight | None
    boards: _Boards

    def run(self, share: Progress) -> Parts:
        view, packed = self.view, self.view._packed
        dome = view._dome if self.light is None else None
        emitters = self._emitters(dome)
        parts = _empty_parts(view.lens.width * view.lens.height)
        away_boards = self._away_boards(emitters, dome)
        hiding = self.boards.hiding()
        lens_at = np.array([0.0, 0.0, view.lens.pupil_distance])
        states = [self._drop_state(face) for face in emitters]
        reach, leasts = self._reach(emitters), self._leasts(emitters)
        soft_faces = self._emitters(dome, SOFT_FINEST)
        first = first_light(view._soft, packed, soft_faces, hiding, states, reach, leasts)
        soft = self._soft_light(first, away_boards, dome)
        looks = [
            self._look(face, state, least, reach)
            for face, state, least in zip(emitters, states, leasts, strict=True)
        ]
        thrown = self._thrown(emitters, hiding, states)
        for i, block in enumerate(view._blocks):
            rows = block.paths.rows
            mine = Parts(*(array[block.pixels] for array in parts))
            for number, face in enumerate(emitters):
                # what share of a card's light gets through is not asked for
                into = mine if number == 0 else mine._replace(lit=np.empty_like(mine.lit))
                looked, weak, nears = looks[number]
                terms = direct.Terms(view.seed, lens_at, float(view.lens.pitch), leasts[number], weak)
                direct.add_direct(
                    rows, block.paths, packed.petal, packed.drops, hiding, face, nears[i], looked, terms, into
                )
            spread.add_soft(
                rows, block.paths, packed.petal, packed.drops, packed.rims, view._soft.grid, soft.vertex,
                soft.base, soft.glow, block.near, block.near_start, lens_at, mine,
            )  # fmt: skip
            glint = 0 if self.light is not None else -1
            sky = NO_DOME if dome is None else dome
            away.add_away(rows, block.paths, away_boards, glint, sky, thrown.start, mine)
            share((i + 1) / len(view._blocks))
        kglint.collect(thrown, parts.glint)
        return parts

    def _thrown(self, emitters: list[Lamp], hiding: Boards, states: list[tuple]) -> kglint.Thrown:
        """The light's highlights that camera rays find by chance only."""
        view, packed = self.view, self.view._packed
        start = np.zeros(len(packed.rims) + 1, dtype=np.int64)
        if self.light is not None:
            kglint.share_out(packed.drops, emitters[0], view.lens, view.samples, MOST_THROWN, start)
        many = int(start[-1])
        thrown = kglint.Thrown(start, np.full(many, -1, dtype=np.int64), np.zeros(many, dtype=np.float32))
        if many > 0:
            kglint.throw(
                len(packed.rims),
                packed.petal,
                packed.drops,
                hiding,
                emitters[0],
                *states[0],
                view.lens,
                view.seed,
                thrown,
            )
        return thrown

    def _emitters(self, dome: NDArray | None, finest: int = FINEST) -> list[Lamp]:
        """The light's face, and the cards that it lights; finest: see `pack_face`."""
        lamps = []
        if self.light is not None:
            face = self.light.face
            radiance = np.full((1, 1), SQUARE_MM_PER_M2 / face.area_mm2)
            lamps = [pack_face(face, radiance, float(np.linalg.norm(face.centre)), finest)]
        cards = [
            pack_face(card, glow, float(np.linalg.norm(card.centre)), finest)
            for card, glow in zip(self.boards.cards, self.boards.card_glow(lamps, dome), strict=True)
        ]
        return lamps + cards

    def _away_boards(self, emitters: list[Lamp], dome: NDArray | None) -> Boards:
        faces = [] if self.light is None else [self.light.face]
        faces = faces + self.boards.cards + self.boards.backdrop
        glows = []
        for emitter in emitters:
            p = len(emitter.radiance)
            full = np.repeat(np.repeat(emitter.radiance, PATCHES // p, axis=0), PATCHES // p, axis=1)
            glows.append(np.repeat(full[..., None], 3, axis=2))
        return pack_boards(faces, glows + self.boards.backdrop_glow(emitters, dome))

    def _leasts(self, emitters: list[Lamp]) -> list[float]:
        """Share of the beam from which light by way of drops is looked for path by path, 0 for cards."""
        return [
            LEAST_GATHERED if number == 0 and self.light is not None else 0.0
            for number in range(len(emitters))
        ]

    def _reach(self, emitters: list[Lamp]) -> NDArray:
        """How far light by way of a drop is looked for, for a face as wide as the first."""
        if not emitters:
            return self.view._reach
        face = emitters[0]
        return _widened(self.view._reach, float(np.arctan(face.size[4] / np.linalg.norm(face.frame[:3]))))

    def _drop_state(self, face: Lamp) -> tuple[NDArray, NDArray, NDArray]:
        packed = self.view._packed
        many = len(packed.rims)
        state = np.zeros((many, 2), dtype=np.uint8)
        shades = np.zeros((many, hinder.CANDIDATES), dtype=np.int32)
        count = np.zeros(many, dtype=np.int64)
        hinder.look_at_drops(many, packed.petal, packed.drops, packed.foot_face, face, state, shades, count)
        return state, shades, count

    def _look(
        self, face: Lamp, state: tuple, least: float, reach: NDArray
    ) -> tuple[Looks, NDArray, list[cells.Near]]:
        """What stands in the face's way, over the whole picture, the weaker light by way of drops, and what
        may touch the light's way in each block."""
        view, packed = self.view, self.view._packed
        (height, width), pitch = view.shape, float(view.lens.pitch)
        looks = _empty_looks(height, width)
        for block in view._blocks:
            wide_rows = -(-block.paths.rows // blocks.WIDE)
            blocks.look_widely(wide_rows, block.paths, packed.petal, face, looks)
        weak = np.full(_cells(height, width, cells.CELL), -1.0)
        crest = crest_of(reach)
        nears = [self._near(block, state, reach, crest) for block in view._blocks]
        for block, near in zip(view._blocks, nears, strict=True):
            paths = block.paths
            soft, close_rows = least == 0.0, -(-paths.rows // blocks.BLOCK)
            blocks.look_closely(close_rows, paths, packed.petal, packed.drops, soft, pitch, face, looks)
            if least > 0.0:
                top = paths.first // width
                rows = slice(top // cells.CELL, -(-(top + paths.rows) // cells.CELL))
                mine = weak[rows]
                nearby.list_uneven(len(mine), paths, packed.drops, face, near, least, pitch)
                cells.weak_light(len(mine), paths, packed.petal, packed.drops, face, near, least, pitch, mine)
        return looks, weak, nears

    def _near(self, block: Block, state: tuple, reach: NDArray, crest: NDArray) -> cells.Near:
        many = np.zeros(block.near_start.shape[:2], dtype=np.int64)
        return cells.Near(
            block.near,
            block.near_start,
            np.zeros_like(block.near),
            many,
            reach,
            self.view._reach,
            crest,
            *state,
        )

    def _soft_light(self, first: First, away_boards: Boards, dome: NDArray | None) -> soften.Soft:
        view, packed = self.view, self.view._packed
        standing = away_boards.glow[0 if self.light is None else 1 :]
        exitance = np.pi * standing.mean(axis=(1, 2)).reshape(-1, 3)
        exitance[: len(self.boards.cards)] = 0.0  # cards are sampled as lights
        return soften.spread(view._soft, packed, first, exitance, 0.0 if dome is None else 1.0)


def _cells(height: int, width: int, size: int) -> tuple[int, int]:
    """Rows and columns of cells of so many pixels."""
    return -(-height // size), -(-width // size)


def _empty_looks(height: int, width: int) -> Looks:
    wide, close = _cells(height, width, blocks.WIDE), _cells(height, width, blocks.BLOCK)
    return Looks(
        np.zeros(wide, dtype=np.uint8),
        np.zeros((*wide, 2), dtype=np.float32),
        np.zeros(wide, dtype=np.uint64),
        np.zeros(close, dtype=np.uint8),
        np.zeros((*close, 2), dtype=np.float32),
        np.zeros(close, dtype=np.uint8),
        np.zeros((*close, 1), dtype=np.float32),
    )


def _empty_parts(pixels: int) -> Parts:
    one = np.zeros(pixels, dtype=np.float32)
    colour = [np.zeros((pixels, 3), dtype=np.float32) for _ in range(3)]
    return Parts(one, *colour, np.full(pixels, np.nan, dtype=np.float32))


__all__ = ["AMBIENT", "QUALITY", "View", "compiled", "trace"]
