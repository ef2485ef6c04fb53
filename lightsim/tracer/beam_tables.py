"""Where drops' light may fall: tables for the drops of a scene, and for one light's width and place."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lightsim.tracer.kernels import beam_footprint
from lightsim.tracer.kernels.beam_footprint import LIMITS
from lightsim.tracer.kernels.connection import PATH
from lightsim.tracer.kernels.drop_spheres import Drops
from lightsim.tracer.kernels.emitters import Lamp

MOST_SHAPES = 6  # of drops that have tables of their own
ALIKE = 4  # angles that drops share a table by
OF_LIGHT = np.linspace(-1.0, 1.0, 3)  # places along each side of a light's face


class Falls:
    """Tables of `kernels.falls` for the shapes of some drops, in a parallel beam, made when lights ask.

    ground (shapes,): height in radii of the petal's plane over a drop's centre.  shape (nd,): of each drop.
    Of many shapes some stand for all: a flatter drop lets out nothing that one of greater contact angle keeps
    in.  table (shapes, angles, courses, turns, steps, 2): each place has the slopes of those next to it too.
    """

    def __init__(self, drops: Drops):
        ground = np.round(np.sum((drops.foot - drops.centre) * drops.normal, axis=1) / drops.radius, 6)
        kinds = np.unique(ground)
        if len(kinds) > MOST_SHAPES:
            kinds = kinds[np.linspace(0, len(kinds) - 1, MOST_SHAPES).astype(int)]
        self.ground: NDArray[np.float64] = kinds
        self.shape: NDArray[np.int64] = np.searchsorted(kinds, ground, side="right") - 1
        size = (len(kinds), LIMITS.angles, PATH.inside, LIMITS.turns, LIMITS.steps, 2)
        self.table = np.zeros(size, dtype=np.float32)
        self._raw = np.zeros(size, dtype=np.float32)
        self._traced, self._known = (np.zeros(size[:2], dtype=bool) for _ in range(2))

    def know(self, shape: int, first: int, last: int) -> None:
        """See to it that the table is filled from one angle to another."""
        new = first + np.flatnonzero(~self._known[shape, first : last + 1])
        if len(new) == 0:
            return
        about = np.unique(np.clip(new[:, None] + [-1, 0, 1], 0, LIMITS.angles - 1))
        fresh = about[~self._traced[shape, about]]
        beam_footprint.trace_falls(len(fresh), float(self.ground[shape]), self._raw[shape], fresh)
        self._traced[shape, fresh] = True
        first, last = new[0], new[-1]
        from_, to = max(first - 1, 0), min(last + 1, LIMITS.angles - 1)
        wide = self._raw[shape, from_ : to + 1]
        for axis in (0, 2, 3):
            wide = _spread(wide, axis, 1)
        self.table[shape, first : last + 1] = wide[first - from_ : last + 1 - from_]
        self._known[shape, new] = True


class BeamFootprint(NamedTuple):
    """The tables for one light: falls, of a parallel beam; wide, as wide as the light; stand (nd, 9), how
    each drop stands to it; see `kernels.beam_footprint.may_fall`."""

    falls: NDArray[np.float32]
    wide: NDArray[np.float32]
    stand: NDArray[np.float64]


def footprint_of(falls: Falls, drops: Drops, lamp: Lamp) -> BeamFootprint:
    """How the drops stand to a light."""
    stand = np.zeros((len(drops.radius), 9))
    away, angles, turn = _seen_from(drops, lamp)
    stand[:, :3] = away
    stand[:, 3:6] = np.cross(drops.normal, away)
    stand[:, 6] = falls.ground[falls.shape]
    stand[:, 8] = falls.shape
    kinds, kind = np.unique(np.column_stack([falls.shape, angles]), axis=0, return_inverse=True)
    stand[:, 7] = kind
    wide = np.zeros((len(kinds) + 1, PATH.inside, LIMITS.turns, LIMITS.steps, 2), dtype=np.float32)
    for number, (shape, first, last) in enumerate(kinds):
        falls.know(shape, first, last)
        widest = float(np.max(turn[kind == number]))
        wide[number] = _spread(
            _most(falls.table[shape, first : last + 1]), 1, int(np.ceil(widest * LIMITS.turns / 2.0))
        )
    return BeamFootprint(falls.table, wide, stand)


def _seen_from(
    drops: Drops, lamp: Lamp
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.float64]]:
    """How the light's face stands to each drop: direction away from it along the petal's plane (nd, 3), first
    and last of angles (nd, 2), half the turn about the drop's normal (nd,)."""
    centre, right, up, _ = lamp.frame.reshape(4, 3)
    across, along = (one.ravel() for one in np.meshgrid(OF_LIGHT * lamp.size[0], OF_LIGHT * lamp.size[1]))
    to = centre + across[:, None] * right + along[:, None] * up - drops.centre[:, None]
    far = np.linalg.norm(to, axis=2, keepdims=True)
    to /= far
    normal = drops.normal[:, None]
    cosine = np.sum(to * normal, axis=2)
    lies = cosine[..., None] * normal - to
    lean = np.arccos(np.clip(cosine, -1.0, 1.0))
    more = drops.radius / far[..., 0].min(axis=1)  # what the drop's own width adds
    ends = np.cos(np.clip([lean.max(axis=1) + more, lean.min(axis=1) - more], 0.0, np.pi)).T
    angles = np.clip(((ends + 1.0) * (0.5 * LIMITS.angles)).astype(np.int64), 0, LIMITS.angles - 1)
    angles = angles // ALIKE * ALIKE + [0, ALIKE - 1]
    away = lies.mean(axis=1)
    length = np.linalg.norm(away, axis=1, keepdims=True)
    away /= np.maximum(length, 1e-12)
    ahead = np.sum(lies * away[:, None], axis=2)
    aside = np.linalg.norm(np.cross(lies, away[:, None]), axis=2)
    turn = np.arctan2(aside, ahead).max(axis=1) + np.arctan2(more, length[:, 0])
    turn[ahead.min(axis=1) <= 0.0] = np.pi  # the light stands over the drop
    return away, angles, turn


def _most(tables: NDArray[np.float32]) -> NDArray[np.float32]:
    """The widest range of slopes of some tables."""
    return np.stack([tables[..., 0].min(axis=0), tables[..., 1].max(axis=0)], axis=-1)


def _spread(table: NDArray[np.float32], axis: int, steps: int) -> NDArray[np.float32]:
    """Each place with the slopes of so many places on both sides along an axis."""
    spread = table.copy()
    old, new = np.moveaxis(table, axis, 0), np.moveaxis(spread, axis, 0)
    for step in range(1, min(steps, len(old) - 1) + 1):
        for to, of in ((new[step:], old[:-step]), (new[:-step], old[step:])):
            np.minimum(to[..., 0], of[..., 0], out=to[..., 0])
            np.maximum(to[..., 1], of[..., 1], out=to[..., 1])
    return spread
