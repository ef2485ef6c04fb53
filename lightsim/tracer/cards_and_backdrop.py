"""Cards, backdrop and solid bodies of a stage, and what they send in a layer."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lightsim.scene.solid_bodies import CAMERA
from lightsim.scene.stage import Body, Face, Stage
from lightsim.tracer.indirect_light import exitance_of, nothing_seen
from lightsim.tracer.kernels import petal_radiosity
from lightsim.tracer.kernels.emitters import Boards, Lamp
from lightsim.tracer.kernels.petal_radiosity import PetalPoints
from lightsim.tracer.pack import PATCHES, Packed, irradiance_on, pack_boards, patch_places

DOME_PATCHES = 8  # along each side of a board, from which the dome is looked at


class StageBoards:
    """Cards and backdrop of a stage, and what they send in a layer; the dome's only after `see_dome`."""

    def __init__(self, stage: Stage):
        self.stage = stage
        self.cards = [card.face for card in stage.cards]
        self.backdrop = [] if stage.backdrop is None else [stage.backdrop]
        self._by_dome = np.zeros((len(self.cards + self.backdrop), PATCHES, PATCHES))
        self.camera = [body for body in stage.bodies if body.thing == CAMERA]
        self._set_corners = _corners_of_set(stage)

    def standing(self) -> Boards:
        """Cards, then the backdrop, sending nothing, and the camera."""
        return _dark(self.cards + self.backdrop, self.camera)

    def may_hide(self, face: Face, bodies: Sequence[Body] = (), but: int = -1) -> Boards:
        """The cards and bodies that may stand between a face and some part of the set; but: the number of the
        face's own card."""
        reached = np.concatenate([self._set_corners, _corners(face)])
        cards = [
            card for i, card in enumerate(self.cards) if i != but and not _lie_apart(_corners(card), reached)
        ]
        near = [body for body in bodies if not _lie_apart(_box_of(body), reached, face.out)]
        return _dark(cards, near)

    def see_dome(self, packed: Packed, points: PetalPoints, dome: NDArray) -> None:
        """Find what the dome sends to the boards past the petal and one another, and what comes by way of
        these. points : the petal's, with what they get of the dome.
        """
        faces = self.cards + self.backdrop
        if not faces:
            return
        places = np.stack([patch_places(face, DOME_PATCHES).reshape(-1, 3) for face in faces])
        many, each = places.shape[:2]
        outs = np.repeat([face.out for face in faces], each, axis=0)
        seen = PetalPoints(places.reshape(-1, 3), outs, *points[2:5], *nothing_seen(many * each, many))
        petal_radiosity.look_around(many * each, packed.petal, seen, self.standing(), dome)
        exitance = exitance_of(points, points.dome[..., None]).mean(axis=-1).ravel()
        met = seen.column[:, 0]
        straight = seen.dome[:, 0] + np.where(met >= 0, exitance[met], 0.0).mean(axis=-1)
        reflectance = np.array(
            [card.reflectance for card in self.stage.cards]
            + [np.mean(self.stage.backdrop_reflectance) for _ in self.backdrop]
        )
        total = straight
        for _ in range(2):  # from board to board
            total = straight + seen.board[:, 0] @ (reflectance * total.reshape(many, each).mean(axis=-1))
        size = PATCHES // DOME_PATCHES
        self._by_dome = total.reshape(many, DOME_PATCHES, DOME_PATCHES).repeat(size, 1).repeat(size, 2)

    def card_glow(self, lit_by: list[Lamp], under_dome: bool, bodies: Sequence[Body] = ()) -> list[NDArray]:
        """Radiance of each card's patches, (PATCHES, PATCHES). bodies : that may hide lamps from them."""
        glow = []
        for card, by_dome in zip(self.stage.cards, self._by_dome[: len(self.cards)], strict=True):
            light = irradiance_on(card.face, lit_by, bodies) + (by_dome if under_dome else 0.0)
            glow.append(card.reflectance / np.pi * light)
        return glow

    def backdrop_glow(
        self, lit_by: list[Lamp], under_dome: bool, bodies: Sequence[Body] = ()
    ) -> list[NDArray]:
        """Radiance of the backdrop's patches, (PATCHES, PATCHES, 3), in a list of none or one.

        lit_by : lamps and the cards they light; under the dome none: what cards send is in what `see_dome`
        found.
        """
        glow = []
        for face in self.backdrop:
            e = irradiance_on(face, lit_by, bodies) + (self._by_dome[-1] if under_dome else 0.0)
            glow.append(e[..., None] * self.stage.backdrop_reflectance / np.pi)
        return glow


def _dark(faces: list[Face], bodies: Sequence[Body]) -> Boards:
    """Faces and bodies that send nothing."""
    return pack_boards(faces, [np.zeros((PATCHES, PATCHES, 3)) for _ in faces], bodies)


def _box_of(body: Body) -> NDArray[np.float64]:
    """Eight corners of a body, or of the box about a rod, (8, 3)."""
    half = np.array([body.half_width_mm, body.half_height_mm, body.half_depth_mm])
    signs = np.array([[i, j, k] for i in (-1, 1) for j in (-1, 1) for k in (-1, 1)])
    return body.centre + signs * half @ np.array([body.right, body.up, body.out])


def _corners_of_set(stage: Stage) -> NDArray[np.float64]:
    """Eight corners of a box about petal and drops, (8, 3)."""
    drops = stage.drops
    reach = drops.radius[:, None]
    points = np.concatenate([stage.petal.vertices, drops.centre - reach, drops.centre + reach])
    ends = np.stack([points.min(axis=0), points.max(axis=0)])
    return np.array([[ends[i, 0], ends[j, 1], ends[k, 2]] for i in (0, 1) for j in (0, 1) for k in (0, 1)])


def _corners(face: Face) -> NDArray[np.float64]:
    """Of a face, or of the square about a round one, (4, 3)."""
    across, upward = face.half_width_mm * face.right, face.half_height_mm * face.up
    return np.array([face.centre + i * across + j * upward for i in (-1, 1) for j in (-1, 1)])


def _lie_apart(some: NDArray[np.float64], others: NDArray[np.float64], *normals: NDArray[np.float64]) -> bool:
    """Whether a plane is found with some points (n, 3) on one side and the others (m, 3) on the other: so
    that nothing between the former meets what lies between the latter. normals : (3,) of planes tried too."""
    many = 500
    i = np.arange(many) + 0.5
    low, turn = i / many, np.pi * (np.sqrt(5.0) - 1.0) * i  # over half a sphere, a golden angle apart
    flat = np.sqrt(1.0 - low * low)
    directions = np.stack([flat * np.cos(turn), flat * np.sin(turn), low], axis=-1)
    own = np.cross(some[1] - some[0], some[2] - some[0])
    directions = np.concatenate([directions, own[None], *(normal[None] for normal in normals)])
    near, far = some @ directions.T, others @ directions.T
    gap = np.maximum(near.min(axis=0) - far.max(axis=0), far.min(axis=0) - near.max(axis=0))
    return bool(np.any(gap > 0.0))
